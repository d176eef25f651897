"""A set of files changes hands in one go: all new, or all as before.

Files are staged in a hidden folder beside their place. Then, in this order: the old files are kept there too (as links,
which cost nothing), a journal of what is to move is written, and only with the journal on the disk do files move. A run
that fails puts the old ones back. A run that is killed leaves the journal, and the next run into that folder finishes
it; without a journal nothing has moved yet, and the stage is cleared.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import shutil
import stat
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from layout.errors import OutputError
from layout.writers.manifest import NAME, digest

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

STAGE = ".gaugerod-"
"""Staging folders begin so."""
JOURNAL = "journal"
"""Of a stage: what is to move. No staged file can be called so, since those stand one folder deeper."""
UNDOING = "undoing"
"""Of a stage: the old files are being put back, so the journal is to be undone, not finished."""
NEW, OLD = "new", "old"
UNFINISHED = "GAUGEROD-UNFINISHED.txt"
"""Stands in a folder for as long as its files are between old and new: for the person who finds it so."""
_UNFINISHED_TEXT = (
    "gaugerod was stopped while it changed the files here: old and new may lie side by side.\nRun it again: it ends what was begun.\n"
)


@dataclass(slots=True)
class Handover:
    """What moves: (staged name, its target, the target's hash before or empty) for each, files to take away, the new manifest."""

    stage: Path
    folder: Path
    moves: list[tuple[str, Path, str]]
    drop: list[Path] = field(default_factory=list)
    manifest: str = ""

    def carry_out(self) -> None:
        """Move all, or leave all as it was.

        Raises
        ------
        OSError
            With the old files back in their places.
        """
        (self.stage / OLD).mkdir()
        for k, target in enumerate(self._targets()):
            if target.exists():
                _keep(target, self.stage / OLD / str(k))
        for name, target, _ in self.moves:
            if target.exists():
                (self.stage / NEW / name).chmod(stat.S_IMODE(target.stat().st_mode))
            _sync(self.stage / NEW / name)
        if self.manifest:
            _written(self.stage / NAME, self.manifest)
        self._write_journal()
        try:
            _written(self.folder / UNFINISHED, _UNFINISHED_TEXT)
            if changed := self.finish():
                raise OSError(errno.EBUSY, f"{changed[0]} was changed while it was to be replaced")  # noqa: TRY301
        except BaseException:
            self.undo()
            raise

    def finish(self) -> list[str]:
        """Do what the journal says and is not done yet; names of files that a person changed in the meantime and that stay.

        Raises
        ------
        OSError
            If something cannot be moved.
        """
        kept = []
        for name, target, before in self.moves:
            if not (self.stage / NEW / name).exists():
                continue
            if target.exists() and digest(target) != before:
                kept.append(target.name)
                continue
            _replace(self.stage / NEW / name, target)
        for target in self.drop:
            target.unlink(missing_ok=True)
        if (self.stage / NAME).exists():
            _replace(self.stage / NAME, self.folder / NAME)
        _sync(self.folder)
        self._end()
        return kept

    def undo(self) -> None:
        """Put the old files back; what was not there before is taken away. The journal goes only if all of it is done.

        Raises
        ------
        OSError
            If even that cannot be done: the journal stays for the next run.
        """
        with contextlib.suppress(OSError):
            _written(self.stage / UNDOING, "")
        back = self.stage / "back"
        for k, target in enumerate(self._targets()):
            old = self.stage / OLD / str(k)
            if old.exists():
                if not target.exists() or not old.samefile(target):
                    back.unlink(missing_ok=True)
                    _keep(old, back)
                    _replace(back, target)
            elif self._came(k):
                target.unlink(missing_ok=True)
        self._end()

    def _came(self, k: int) -> bool:
        """Whether the k-th target was not there before and is now."""
        if k < len(self.moves):
            name, _, before = self.moves[k]
            return not before and not (self.stage / NEW / name).exists()
        return k == len(self.moves) + len(self.drop) and not (self.stage / NAME).exists()

    def _targets(self) -> list[Path]:
        return [*(target for _, target, _ in self.moves), *self.drop, self.folder / NAME]

    def _end(self) -> None:
        (self.stage / JOURNAL).unlink(missing_ok=True)
        (self.folder / UNFINISHED).unlink(missing_ok=True)

    def _write_journal(self) -> None:
        record = {"moves": [[name, str(target), before] for name, target, before in self.moves], "drop": [str(each) for each in self.drop]}
        _written(self.stage / f"{JOURNAL}.part", json.dumps(record))
        _replace(self.stage / f"{JOURNAL}.part", self.stage / JOURNAL)
        _sync(self.stage)


def recover(folder: Path) -> list[str]:
    """End what killed runs began in a folder and clear their stages; what was done, in words.

    Raises
    ------
    OutputError
        If it can be neither finished nor undone.
    """
    said = []
    for stage in sorted(folder.glob(f"{STAGE}*")):
        if not stage.is_dir() or stage.is_symlink():
            continue
        if (stage / JOURNAL).exists():
            said.append(_ended(stage, folder))
        clear(stage)
    if not any((stage / JOURNAL).exists() for stage in folder.glob(f"{STAGE}*")):
        with contextlib.suppress(OSError):
            (folder / UNFINISHED).unlink(missing_ok=True)
    return said


def _ended(stage: Path, folder: Path) -> str:
    try:
        record = json.loads((stage / JOURNAL).read_text(encoding="utf-8"))
        moves = [(str(name), _inside(folder, target), str(before)) for name, target, before in record["moves"]]
        left = Handover(stage, folder, moves, [_inside(folder, target) for target in record["drop"]])
    except (ValueError, KeyError, TypeError) as error:
        raise OutputError(str(stage), f"its journal cannot be read ({error})", "look at the files beside it, then delete it") from None
    try:
        if (stage / UNDOING).exists():
            left.undo()
            return f"put back in {folder} what an earlier run, stopped in the middle, had begun to replace"
        kept = left.finish()
    except OSError as error:
        found = f"an earlier run was stopped in it, and its files cannot be moved ({error.strerror or error})"
        raise OutputError(str(folder), found, "close the programs that hold its files open, and run again") from None
    changed = f", but left {', '.join(kept)}, changed since" if kept else ""
    return f"ended in {folder} what an earlier run, stopped in the middle, had begun{changed}"


def _inside(folder: Path, target: str) -> Path:
    """A target as the journal names it, found again if the whole folder was moved since."""
    path = Path(target)
    return path if path.parent.is_dir() else folder / path.name


def clear(stage: Path) -> None:
    """Take a stage away, unless a journal still speaks of it."""
    if not (stage / JOURNAL).exists():
        shutil.rmtree(stage, ignore_errors=True)


def _keep(target: Path, place: Path) -> None:
    """The old file once more under another name, as a link where the file system has them."""
    try:
        os.link(target, place)
    except OSError:
        shutil.copy2(target, place)


def _replace(source: Path, target: Path) -> None:
    """Move one file over another in one step, also to another file system."""
    try:
        os.replace(source, target)  # noqa: PTH105  # the one call that tests make fail
    except OSError as error:
        if error.errno != errno.EXDEV:
            raise
        beside = target.with_name(f"{STAGE}{source.parent.parent.name}-{target.name}")
        try:
            shutil.copy2(source, beside)
            _sync(beside)
            os.replace(beside, target)  # noqa: PTH105
        finally:
            beside.unlink(missing_ok=True)
        source.unlink()


def _written(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8")
    _sync(path)


def _sync(path: Path) -> None:
    """Have a file or folder reach the disk, where the system can say so."""
    with contextlib.suppress(OSError):
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@contextlib.contextmanager
def alone(folder: Path, *, wait: float = 0.0) -> Iterator[None]:
    """Hold a folder so that a second run into it is told; the system lets go when the process ends, however it ends.

    Raises
    ------
    OutputError
        If another run still holds it after `wait` seconds.
    """
    handle = os.open(folder, os.O_RDONLY) if sys.platform != "win32" else -1
    try:
        if sys.platform != "win32":
            _locked(handle, folder, time.monotonic() + wait)
        yield
    finally:
        if handle >= 0:
            os.close(handle)


def _locked(handle: int, folder: Path, until: float, now: Callable[[], float] = time.monotonic) -> None:
    import fcntl  # noqa: PLC0415  # not on every system

    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            if error.errno not in (errno.EAGAIN, errno.EACCES):
                return  # a file system without locks
            if now() >= until:
                raise OutputError(str(folder), "another run is writing into it", "wait for its end, or name another folder") from None
            time.sleep(0.05)
        else:
            return
