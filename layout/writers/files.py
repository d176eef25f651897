"""Whole or nothing: files are written beside their place, and change hands in one go when all are done.

Nothing that a person made is lost. A file is replaced only where the folder's manifest knows it as ours and unchanged, or
where `force` is given, and an input never. Links are followed, modes kept, pipes and devices written through.
"""

from __future__ import annotations

import contextlib
import hashlib
import re
import shutil
import tempfile
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING

from layout.errors import OutputError
from layout.writers.handover import NEW, STAGE, Handover, alone, clear, recover
from layout.writers.manifest import Entry, digest, digest_of, manifest_text, read_manifest, seen_from

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

PATIENCE = 10.0
"""How long a single file waits for another run to let go of its folder, s: that run's handover takes a moment."""


_READ, _FOLDER, _STREAM = _NEVER = ("is what this command reads", "is a folder", "is a pipe or a device")
"""What is never replaced, not by force either."""


def _refused(path: Path, error: OSError) -> OutputError:
    return OutputError(str(path), f"it cannot be written ({error.strerror or error})", "name a folder that you may write to")


def tool_version() -> str:
    """The version that is installed; empty where it runs uninstalled."""
    try:
        return version("gaugerod")
    except PackageNotFoundError:
        return ""


class Batch:
    """Files of one command, staged in a hidden folder beside their place until `finish`.

    `plan` is what they are made from; `inputs` what must not be written over even by `force`. A `whole_set` is all that
    there is of a plan, of its kinds: what an earlier run made of them and this one does not is taken away, and `said`
    tells of it. Files that are not a `part_of_set` were named by a person and are nobody's left-overs.
    """

    def __init__(
        self,
        folder: Path,
        *,
        plan: str | Path | None = None,
        inputs: Sequence[str | Path] = (),
        force: bool = False,
        part_of_set: bool = True,
        whole_set: bool = True,
    ) -> None:
        self.folder, self.force = folder, force
        self.plan = None if plan is None else Path(plan)
        self.part_of_set, self.whole_set = part_of_set, part_of_set and whole_set
        self.inputs = [Path(each) for each in (*inputs, *([] if plan is None else [plan]))]
        self.said: list[str] = []
        self._made: list[Path] = []
        self._names: dict[str, str] = {}
        self._merged: dict[str, str] = {}
        self._own: dict[str, str] = {}
        self._plan_digest = digest_of(self.plan)
        self.said += recover(folder)
        self._stage = Path(tempfile.mkdtemp(prefix=STAGE, dir=folder))
        (self._stage / NEW).mkdir()

    def path(self, name: str) -> Path:
        """Where to write a file now; it moves to `name` at the end."""
        place = self._stage / NEW / name
        self._made.append(place)
        return place

    def merged(self, name: str, read: bytes, own: bytes) -> Path:
        """Where to write a file into which what a person made of it is taken up: it may be replaced while it is still as it was `read`.

        `own` is what this tool alone would have written: a file that holds more is a person's, and is never a left-over to take away.
        """
        self._merged[name] = hashlib.sha256(read).hexdigest()
        self._own[name] = hashlib.sha256(own).hexdigest()
        return self.path(name)

    @property
    def names(self) -> list[str]:
        """Names of the files so far, as they will stand."""
        return [self._names.get(place.name, place.name) for place in self._made]

    def rename(self, name: str, wanted: str) -> None:
        """Let a staged file end under another name."""
        self._names[name] = wanted

    def finish(self) -> list[Path]:
        """Let every file change hands, and take away what is left over of an earlier run.

        Raises
        ------
        OutputError
            If a file that is not ours, or was changed, or is an input stands in the way; then nothing has moved.
        """
        known = read_manifest(self.folder)
        targets = [(self.folder / name).resolve() for name in self.names]
        hashes = [digest(place) for place in self._made]
        self._check(targets, hashes, known)
        stale = self._stale(known) if self.whole_set else []
        drop = [name for name in stale if self._is_ours(self.folder / name, known[name])]
        entries = {name: entry for name, entry in known.items() if name not in stale and (self.folder / name).exists()}
        seen, tool = seen_from(self.folder, self.plan), tool_version()
        for name, sha256 in zip(self.names, hashes, strict=True):
            kind = Path(name).suffix if self.part_of_set else ""
            entries[name] = Entry(sha256=self._own.get(name, sha256), plan=seen, plan_sha256=self._plan_digest, kind=kind, version=tool)
        moves = [(place.name, target, digest(target) if target.exists() else "") for place, target in zip(self._made, targets, strict=True)]
        Handover(self._stage, self.folder, moves, [self.folder / name for name in drop], manifest_text(entries)).carry_out()
        self._tell(drop, [name for name in stale if name not in drop and (self.folder / name).exists()], entries)
        return [self.folder / name for name in self.names]

    def _tell(self, dropped: list[str], left: list[str], entries: dict[str, Entry]) -> None:
        """What was taken away, what was left, and what of an earlier state of the plan stands beside the new."""
        if dropped:
            self.said.append(f"removed, since {self._of()} gives them no more: {', '.join(dropped)}")
        if left:
            self.said.append(f"look: of an earlier run, but changed since, so left: {', '.join(left)}")
        if self.part_of_set and self._plan_digest:
            seen = seen_from(self.folder, self.plan)
            old = [name for name, e in entries.items() if e.kind and e.plan == seen and e.plan_sha256 != self._plan_digest]
            if old:
                self.said.append(f"look: these are of an earlier state of {self._of()}: {', '.join(old)}")

    def _of(self) -> str:
        return self.plan.name if self.plan is not None else "this run"

    def _stale(self, known: dict[str, Entry]) -> list[str]:
        """Names of files that an earlier run made of the same plan, of a kind that this run makes too, and that it did not make."""
        if self.plan is None:
            return []
        seen, kinds = seen_from(self.folder, self.plan), {Path(name).suffix for name in self.names}
        return [name for name, entry in known.items() if entry.kind in kinds and entry.plan == seen and name not in self.names]

    @staticmethod
    def _is_ours(path: Path, entry: Entry) -> bool:
        return path.is_file() and not path.is_symlink() and digest(path) == entry.sha256

    def _check(self, targets: list[Path], hashes: list[str], known: dict[str, Entry]) -> None:
        """Refuse what must not be replaced, all of it in one message."""
        seen = seen_from(self.folder, self.plan)
        faults: dict[str, list[str]] = {}
        for name, target, sha256 in zip(self.names, targets, hashes, strict=True):
            why = self._fault(target, sha256, known.get(name), seen)
            if why and not (target.is_file() and self._merged.get(name) == digest(target)):
                faults.setdefault(why, []).append(name)
        if not faults:
            return
        found = "; ".join(f"{', '.join(names)} {why}" for why, names in faults.items())
        forced = not self.force and any(why not in _NEVER for why in faults)
        mend = "name another place" + (", or let --force replace what is in the way" if forced else "")
        raise OutputError(str(self.folder), found, mend)

    def _fault(self, target: Path, sha256: str, entry: Entry | None, seen: str) -> str:
        """Why a target must not be replaced; empty if it may."""
        if not target.exists():
            return ""
        if any(each.exists() and each.samefile(target) for each in self.inputs):
            return _READ
        if target.is_dir():
            return _FOLDER
        if not target.is_file():
            return _STREAM
        if self.force or target.stat().st_size == 0:
            return ""
        now = digest(target)
        if now == sha256:
            return ""
        if entry is None:
            return "is there already and was not written by gaugerod"
        if entry.sha256 != now:
            return "was changed since gaugerod wrote it"
        if self.part_of_set and entry.plan and seen and entry.plan != seen and (self.folder / entry.plan).exists():
            return f"belongs to another plan, {entry.plan}"
        return ""

    def drop(self) -> None:
        """Take the staging folder away."""
        clear(self._stage)


@contextlib.contextmanager
def whole_or_nothing(
    folder: str | Path,
    *,
    plan: str | Path | None = None,
    inputs: Sequence[str | Path] = (),
    force: bool = False,
    part_of_set: bool = True,
    whole_set: bool = True,
    wait: float = 0.0,
) -> Iterator[Batch]:
    """Stage files for a folder; they appear only if the block ends well.

    Raises
    ------
    OutputError
        If the folder cannot be made or written, another run is writing into it, or a file stands there that is not ours.
    """
    folder = Path(folder)
    new = not folder.exists()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with alone(folder, wait=wait):
            batch = Batch(folder, plan=plan, inputs=inputs, force=force, part_of_set=part_of_set, whole_set=whole_set)
            try:
                yield batch
                batch.finish()
            finally:
                batch.drop()
    except OSError as error:
        raise _refused(folder, error) from None
    finally:
        if new:
            with contextlib.suppress(OSError):
                folder.rmdir()  # only if nothing came to stand in it


@contextlib.contextmanager
def one_file(path: str | Path, *, plan: str | Path | None = None, inputs: Sequence[str | Path] = (), force: bool = False) -> Iterator[Path]:
    """Where to write one file now; it moves to `path` if the block ends well. A pipe or device is written through.

    Raises
    ------
    OutputError
        As `whole_or_nothing`.
    """
    path = Path(path)
    if _is_stream(path):
        with tempfile.TemporaryDirectory() as folder:
            place = Path(folder) / path.name
            yield place
            try:
                with place.open("rb") as source, path.open("ab", buffering=0) as stream:
                    shutil.copyfileobj(source, stream)
            except OSError as error:
                raise _refused(path, error) from None
        return
    real = path.resolve()
    with whole_or_nothing(real.parent, plan=plan, inputs=inputs, force=force, part_of_set=False, wait=PATIENCE) as batch:
        yield batch.path(real.name)


def _is_stream(path: Path) -> bool:
    """Whether a path is a pipe or device, or one of the names that stand for a stream of this process."""
    if re.fullmatch(r"/dev/(stdout|stderr|fd/\d+)|/proc/\w+/fd/\d+", str(path)):
        return True
    return path.exists() and not path.is_file() and not path.is_dir()


def write_whole(
    path: str | Path, data: bytes, *, plan: str | Path | None = None, inputs: Sequence[str | Path] = (), force: bool = False
) -> None:
    """Write one file whole or not at all."""
    with one_file(path, plan=plan, inputs=inputs, force=force) as place:
        place.write_bytes(data)
