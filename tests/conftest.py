"""One set-up for all tests: repeatable examples, one numeric thread, caches of the run."""

from __future__ import annotations

import os
import tempfile

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("MPLCONFIGDIR", tempfile.mkdtemp(prefix="mpl-"))

from hypothesis import HealthCheck, settings

settings.register_profile("fixed", derandomize=True, deadline=None, database=None, max_examples=25, suppress_health_check=list(HealthCheck))
settings.load_profile("fixed")
