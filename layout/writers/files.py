"""Whole or nothing: files are written beside their place and renamed when all are done."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from layout.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Iterator


def _refused(path: Path, error: OSError) -> OutputError:
    return OutputError(str(path), f"it cannot be written ({error.strerror or error})", "name a folder that you may write to")


class Batch:
    """Files of one command, staged in a hidden folder beside their place until `finish`."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._new = not folder.exists()
        self._made: list[Path] = []
        self._names: dict[str, str] = {}
        try:
            folder.mkdir(parents=True, exist_ok=True)
            self._stage = Path(tempfile.mkdtemp(prefix=".gaugerod-", dir=folder))
        except OSError as error:
            raise _refused(folder, error) from None

    def path(self, name: str) -> Path:
        """Where to write a file now; it moves to `name` at the end."""
        place = self._stage / name
        self._made.append(place)
        return place

    @property
    def names(self) -> list[str]:
        """Names of the files so far, as they will stand."""
        return [self._names.get(place.name, place.name) for place in self._made]

    def rename(self, name: str, wanted: str) -> None:
        """Let a staged file end under another name."""
        self._names[name] = wanted

    def finish(self) -> list[Path]:
        """Move every file to its place, replacing older ones."""
        result = []
        try:
            for place in self._made:
                target = self.folder / self._names.get(place.name, place.name)
                os.replace(place, target)  # noqa: PTH105
                result.append(target)
        except OSError as error:
            raise _refused(self.folder, error) from None
        return result

    def drop(self) -> None:
        """Take the staging folder away."""
        for place in self._stage.glob("*"):
            with contextlib.suppress(OSError):
                place.unlink()
        with contextlib.suppress(OSError):
            self._stage.rmdir()
            if self._new:
                self.folder.rmdir()  # only if nothing came to stand in it


@contextlib.contextmanager
def whole_or_nothing(folder: str | Path) -> Iterator[Batch]:
    """Stage files for a folder; they appear only if the block ends well.

    Raises
    ------
    OutputError
        If the folder cannot be made or written.
    """
    batch = Batch(Path(folder))
    try:
        yield batch
        batch.finish()
    except OSError as error:
        raise _refused(Path(folder), error) from None
    finally:
        batch.drop()


def write_whole(path: str | Path, data: bytes) -> None:
    """Write one file whole or not at all."""
    path = Path(path)
    with whole_or_nothing(path.parent) as batch:
        batch.path(path.name).write_bytes(data)
