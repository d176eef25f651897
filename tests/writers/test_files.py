"""Writing: nothing a person made is lost, a set changes hands in one go, and a run that is killed leaves no mixture."""

from __future__ import annotations

import errno
import io
import json
import os
import shutil
import stat
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from layout.errors import OutputError
from layout.writers import handover
from layout.writers.files import _is_stream, whole_or_nothing, write_whole
from layout.writers.manifest import NAME

OLD = {"a.txt": b"old a", "b.txt": b"old b", "gone.txt": b"old gone", "d.txt": b"old d"}
NEW = {"a.txt": b"new a", "b.txt": b"new b", "c.txt": b"new c", "d.txt": b"new d"}


def put(folder, files, plan=None, **options):
    with whole_or_nothing(folder, plan=plan, **options) as batch:
        for name, data in files.items():
            batch.path(name).write_bytes(data)
    return batch.said


def seen(folder):
    """What lies in a folder, without the manifest."""
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.name != NAME}


@pytest.fixture
def plan(tmp_path):
    path = tmp_path / "k.toml"
    path.write_text("first")
    return path


def test_our_own_files_are_replaced_and_what_is_no_more_is_removed(tmp_path, plan):
    out = tmp_path / "out"
    assert put(out, OLD, plan) == []
    plan.write_text("second")
    said = put(out, NEW, plan)
    assert seen(out) == NEW
    assert said == ["removed, since k.toml gives them no more: gone.txt"]
    record = json.loads((out / NAME).read_text())
    assert set(record["files"]) == set(NEW)
    assert record["files"]["a.txt"]["plan"] == "../k.toml"


def test_what_a_person_changed_is_kept_and_told(tmp_path, plan):
    out = tmp_path / "out"
    put(out, OLD, plan)
    (out / "gone.txt").write_bytes(b"signed")
    assert put(out, NEW, plan) == ["look: of an earlier run, but changed since, so left: gone.txt"]
    assert seen(out)["gone.txt"] == b"signed"
    (out / "a.txt").write_bytes(b"marked up")
    with pytest.raises(OutputError, match=r"a\.txt was changed since"):
        put(out, OLD, plan)
    assert seen(out) == {**NEW, "gone.txt": b"signed", "a.txt": b"marked up"}
    put(out, OLD, plan, force=True)
    assert seen(out) == OLD


def test_a_file_of_another_is_not_replaced(tmp_path, plan):
    out = tmp_path / "out"
    out.mkdir()
    (out / "b.txt").write_bytes(b"the architect's")
    with pytest.raises(OutputError, match=r"b\.txt is there already and was not written by gaugerod; .*--force"):
        put(out, NEW, plan)
    assert seen(out) == {"b.txt": b"the architect's"}
    (out / "b.txt").write_bytes(NEW["b.txt"])  # the same bytes: nothing would be lost
    put(out, NEW, plan)
    assert seen(out) == NEW


def test_two_plans_of_one_name_do_not_share_a_folder(tmp_path, plan):
    out, other = tmp_path / "out", tmp_path / "other" / "k.toml"
    other.parent.mkdir()
    other.write_text("third")
    put(out, OLD, plan)
    with pytest.raises(OutputError, match="belongs to another plan"):
        put(out, NEW, other)
    plan.unlink()  # it was moved: the same files are its own again
    put(out, NEW, other)
    assert seen(out) == {**NEW, "gone.txt": OLD["gone.txt"]}


def test_parts_of_an_earlier_state_are_told(tmp_path, plan):
    out = tmp_path / "out"
    put(out, {"k.pdf": b"1", "k.png": b"1"}, plan)
    plan.write_text("second")
    assert put(out, {"k.png": b"2"}, plan) == ["look: these are of an earlier state of k.toml: k.pdf"]


def test_an_input_is_never_replaced_even_by_force(tmp_path, plan):
    link = tmp_path / "link.json"
    link.symlink_to(plan)
    for target in (plan, link):
        with pytest.raises(OutputError, match="is what this command reads"):
            write_whole(target, b"x", plan=plan, force=True)
        with pytest.raises(OutputError) as told:
            write_whole(target, b"x", plan=plan)
        assert "--force" not in str(told.value)  # it would not help
    (tmp_path / "mine.json").write_text("mine")
    with pytest.raises(OutputError, match="--force"):
        write_whole(tmp_path / "mine.json", b"x", plan=plan)
    assert plan.read_text() == "first"


def test_links_are_followed_and_modes_kept(tmp_path):
    real = tmp_path / "far" / "real.json"
    write_whole(real, b"1")
    real.chmod(0o600)
    link = tmp_path / "near.json"
    link.symlink_to(real)
    write_whole(link, b"2")
    assert link.is_symlink()
    assert real.read_bytes() == b"2"
    assert stat.S_IMODE(real.stat().st_mode) == 0o600
    real.write_bytes(b"mine")
    with pytest.raises(OutputError, match="was changed"):
        write_whole(link, b"3")
    put(tmp_path / "out", {"a.txt": b"1"})
    (tmp_path / "out" / "a.txt").rename(tmp_path / "far" / "a.txt")
    (tmp_path / "out" / "a.txt").symlink_to(tmp_path / "far" / "a.txt")
    put(tmp_path / "out", {"a.txt": b"2"})
    assert (tmp_path / "far" / "a.txt").read_bytes() == b"2"
    assert (tmp_path / "out" / "a.txt").is_symlink()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_a_pipe_is_written_through(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    got = []
    reader = threading.Thread(target=lambda: got.append(pipe.read_bytes()))
    reader.start()
    write_whole(pipe, b"through")
    reader.join(10)
    assert got == [b"through"]
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    assert [each.name for each in tmp_path.iterdir()] == ["pipe"]
    with pytest.raises(OutputError, match="is a pipe or a device"):
        put(tmp_path, {"pipe": b"x"}, force=True)


def test_a_folder_in_the_way_and_an_empty_file(tmp_path):
    (tmp_path / "a.txt").mkdir()
    with pytest.raises(OutputError, match="is a folder"):
        put(tmp_path, {"a.txt": b"x"}, force=True)
    (tmp_path / "b.txt").touch()
    put(tmp_path, {"b.txt": b"x"})
    assert (tmp_path / "b.txt").read_bytes() == b"x"


@pytest.mark.parametrize(
    "text", ["", "no json", '{"schema": "other"}', '{"schema": "gaugerod/manifest/1", "files": {"a.txt": 3}}', "[" * 9000]
)
def test_a_manifest_that_is_none_protects_everything(tmp_path, text):
    put(tmp_path, {"a.txt": b"1"})
    (tmp_path / NAME).write_text(text)
    with pytest.raises(OutputError, match="not written by gaugerod"):
        put(tmp_path, {"a.txt": b"2"})


def test_the_second_run_into_a_folder_is_told(tmp_path):
    with whole_or_nothing(tmp_path) as batch:
        batch.path("a.txt").write_bytes(b"first")
        with pytest.raises(OutputError, match="another run is writing into it"):
            put(tmp_path, {"a.txt": b"second"})
    assert seen(tmp_path) == {"a.txt": b"first"}


def test_a_stage_of_a_killed_run_is_cleared(tmp_path):
    left = tmp_path / f"{handover.STAGE}left"
    (left / "new").mkdir(parents=True)
    (left / "new" / "a.txt").write_text("half")
    put(tmp_path, {"b.txt": b"x"})
    assert seen(tmp_path) == {"b.txt": b"x"}


KILLED = """
import json, os, shutil, sys
from pathlib import Path
sys.path[:0] = [sys.argv[1]]
from tests.writers.test_files import NEW, OLD, put
top, plan = Path(sys.argv[2]), Path(sys.argv[2]) / "k.toml"
plan.write_text("first")
put(top / "base", OLD, plan)
plan.write_text("second")
CALLS = ("replace", "link", "unlink", "mkdir", "fsync", "open", "chmod", "rmdir")
real = {name: getattr(os, name) for name in CALLS}

def lives(folder, at):
    "Whether a run into a folder comes to its end, being killed before its call number `at`."
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
    left = [at]
    def counted(name):
        def call(*given, **named):
            left[0] -= 1
            if left[0] < 0:
                os._exit(9)
            return real[name](*given, **named)
        return call
    for name in CALLS:
        setattr(os, name, counted(name))
    put(folder, NEW, plan)
    os._exit(0)

rows = []
for at in range(400):
    folder = top / str(at)
    shutil.copytree(top / "base", folder)
    done = lives(folder, at)
    names = sorted(p.name for p in folder.iterdir() if not p.name.startswith(".gaugerod"))
    mixed = {(folder / n).read_bytes()[:3] for n in names if n.endswith(".txt") and n[0] != "G" and n != "gone.txt"} == {b"new", b"old"}
    again = lives(folder, 7 * at % 31) if at % 2 else True  # and the mending run killed too
    last = put(folder, {"other.txt": b"x"}, None)
    rows.append((at, done, mixed, any(n.startswith("GAUGEROD") for n in names), {p.name: p.read_text() for p in folder.iterdir()}, last, again))
    if done:
        break
print(json.dumps(rows))
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork here")
def test_killed_at_every_call_no_folder_stays_mixed(tmp_path):
    """A run is killed before each call that touches the disk, every second time the next run too; then another run comes by."""
    top = Path(__file__).parent.parent.parent
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(top), str(tmp_path)], capture_output=True, text=True, check=False, cwd=tmp_path
    )
    assert done.returncode == 0, done.stderr[-2000:]
    rows = json.loads(done.stdout)
    assert rows[-1][1], "the last run came to its end"
    assert len(rows) > 40
    old, new = ({name: data.decode() for name, data in files.items()} for files in (OLD, NEW))
    kinds = set()
    for at, _, mixed, marked, files, _, _ in rows:
        manifest = json.loads(files.pop(NAME))["files"]
        assert files.pop("other.txt") == "x"
        assert files in (old, new), at
        assert set(manifest) == {*files, "other.txt"}, at
        assert marked or not mixed, (at, "a mixture is not told")
        kinds.add((mixed, files == new))
    assert kinds >= {(False, False), (True, True), (False, True)}, "kills fell before, between and after the moves"
    assert any("ended in" in line for row in rows for line in row[5])


CALLS = ("replace", "link", "unlink", "mkdir", "fsync", "open", "chmod", "rmdir")


class Full:
    """A file that is open for writing on a disk that may be full."""

    def __init__(self, file, spend):
        self._file, self._spend = file, spend

    def write(self, data):
        self._spend()
        return self._file.write(data)

    def __getattr__(self, name):
        return getattr(self._file, name)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self._file.close()


class Disk:
    """Every call that touches the disk fails from a number on: one of them, or all that follow too."""

    def __init__(self, at, *, for_good):
        self.left, self.for_good, self.failed = at, for_good, False

    def spend(self):
        self.left -= 1
        if self.left == -1 or (self.left < -1 and self.for_good):
            self.failed = True
            raise OSError(errno.ENOSPC, "no space left on device")

    def counted(self, call):
        def made(*given, **named):
            self.spend()
            return call(*given, **named)

        return made

    def opened(self, call):
        def made(file, mode="r", *given, **named):
            if not set(mode) & set("wax+"):
                return call(file, mode, *given, **named)
            self.spend()
            return Full(call(file, mode, *given, **named), self.spend)

        return made

    def over(self, patch):
        for name in CALLS:
            patch.setattr(os, name, self.counted(getattr(os, name)))
        patch.setattr(io, "open", self.opened(io.open))


@pytest.mark.parametrize("for_good", [False, True], ids=["one call", "all that follow"])
def test_a_failure_of_any_call_leaves_the_old_files_or_the_new(tmp_path, plan, for_good):
    """Disk calls fail in turn, also writing itself; what is left is old or new, or marked and mended by the next run; nothing else is raised."""
    base = tmp_path / "base"
    put(base, OLD, plan)
    ends, at, failed = set(), 0, True
    while failed:
        plan.write_text("second")
        folder, disk, told = tmp_path / f"out-{at}", Disk(at, for_good=for_good), False
        shutil.copytree(base, folder)
        with pytest.MonkeyPatch.context() as patch:
            disk.over(patch)
            try:
                put(folder, NEW, plan)
            except OutputError as error:
                told = "no space left on device" in str(error)
                assert told, at
        files = {path.name: path for path in folder.iterdir() if not path.name.startswith(".gaugerod")}
        whole = {name: path.read_bytes() for name, path in files.items()}
        marked = whole.pop("GAUGEROD-UNFINISHED.txt", None) is not None
        assert whole in (OLD, NEW) or marked, (at, "a mixture that is not told")
        assert told or whole == NEW, (at, "a failure that is not told")
        said = put(folder, {"other.txt": b"x"}, None)
        after = seen(folder)
        assert after.pop("other.txt") == b"x"
        assert after in (OLD, NEW), at
        assert after == whole or any("ended in" in line for line in said), (at, "files change hands untold")
        assert not [path.name for path in folder.iterdir() if path.name.startswith(".gaugerod-")], at
        assert set(json.loads((folder / NAME).read_text())["files"]) == {*after, "other.txt"}
        ends.add((told, marked, after == NEW))
        at, failed = at + 1, disk.failed
    assert 40 < at < 400, "runs until one came to its end"
    assert {(True, False, False), (False, False, True)} <= ends


@pytest.mark.parametrize("fails", ["a.txt", "b.txt", "c.txt", "d.txt", NAME])
def test_one_target_that_cannot_be_replaced_leaves_all_as_it_was(tmp_path, plan, monkeypatch, fails):
    out = tmp_path / "out"
    put(out, OLD, plan)
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    real = os.replace

    def refuse(source, target):
        if Path(target) == out / fails and Path(source).parent.name != "back" and "back" not in Path(source).name:
            raise PermissionError(errno.EACCES, "held open by another program")
        real(source, target)

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OutputError, match="held open"):
        put(out, NEW, plan)
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before


def test_what_can_be_neither_finished_nor_undone_waits_for_the_next_run(tmp_path, plan, monkeypatch):
    out = tmp_path / "out"
    put(out, OLD, plan)
    real = os.replace
    moved: list[Path] = []

    def refuse(source, target):
        if Path(target).parent == out and moved:
            raise PermissionError(errno.EACCES, "held open by another program")
        if Path(target).parent == out:
            moved.append(Path(target))
        real(source, target)

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OutputError):
        put(out, NEW, plan)
    assert (out / handover.UNFINISHED).exists()
    with pytest.raises(OutputError, match="close the programs"):
        put(out, {"x.txt": b""}, plan)
    monkeypatch.setattr(os, "replace", real)
    said = put(out, {"x.md": b"x"}, plan)
    assert seen(out) == {**OLD, "x.md": b"x"}
    assert any("put back in" in line for line in said)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork here")
def test_a_file_changed_between_kill_and_next_run_is_kept(tmp_path, plan, monkeypatch):
    out = tmp_path / "out"
    put(out, OLD, plan)
    monkeypatch.setattr(handover.Handover, "finish", lambda _: os._exit(9))
    child = os.fork()
    if not child:
        put(out, NEW, plan)
    os.waitpid(child, 0)
    monkeypatch.undo()
    (out / "a.txt").write_bytes(b"edited meanwhile")
    said = put(out, {"x.md": b"x"})
    assert seen(out) == {**NEW, "a.txt": b"edited meanwhile", "x.md": b"x"}
    assert any("a.txt, changed since" in line for line in said)


def test_a_file_changed_while_it_is_replaced_stops_the_handover(tmp_path, plan, monkeypatch):
    out = tmp_path / "out"
    put(out, OLD, plan)
    real = handover.Handover._write_journal

    def meanwhile(self):
        (out / "d.txt").write_bytes(b"edited this moment")
        real(self)

    monkeypatch.setattr(handover.Handover, "_write_journal", meanwhile)
    with pytest.raises(OutputError, match=r"d\.txt was changed while"):
        put(out, NEW, plan)
    assert seen(out)["a.txt"] == OLD["a.txt"]
    assert "c.txt" not in seen(out)


def test_other_file_systems_and_systems_without_links(tmp_path, plan, monkeypatch):
    """Where a file cannot be renamed across, it is copied beside its place first; where it cannot be linked, it is copied."""
    out = tmp_path / "out"
    put(out, OLD, plan)
    real = os.replace

    def apart(source, target):
        if Path(source).parent != Path(target).parent:
            raise OSError(errno.EXDEV, "another device")
        real(source, target)

    monkeypatch.setattr(os, "replace", apart)
    monkeypatch.setattr(os, "link", lambda *_: (_ for _ in ()).throw(OSError(errno.EPERM, "no links here")))
    put(out, NEW, plan)
    assert seen(out) == NEW
    put(out, OLD, plan)
    assert seen(out) == OLD


def test_a_journal_that_cannot_be_read_is_told(tmp_path):
    stage = tmp_path / f"{handover.STAGE}x"
    stage.mkdir()
    for text in ("", "[]", '{"moves": [[1]], "drop": []}'):
        (stage / handover.JOURNAL).write_text(text)
        with pytest.raises(OutputError, match="its journal cannot be read"):
            put(tmp_path, {"a.txt": b"x"})
    assert not (tmp_path / "a.txt").exists()


def test_a_single_file_waits_for_its_folder(tmp_path, monkeypatch):
    monkeypatch.setattr("layout.writers.files.PATIENCE", 5.0)
    with whole_or_nothing(tmp_path) as batch:
        batch.path("a.txt").write_bytes(b"first")
        waiting = threading.Thread(target=lambda: write_whole(tmp_path / "b.txt", b"second"))
        waiting.start()
    waiting.join(10)
    assert seen(tmp_path) == {"a.txt": b"first", "b.txt": b"second"}


@pytest.mark.parametrize(
    ("path", "stream"),
    [("/dev/stdout", True), ("/dev/fd/5", True), ("/proc/self/fd/1", True), ("/dev/shm/k.json", False), ("dev/stdout", False)],
)
def test_names_that_stand_for_streams(path, stream):
    assert _is_stream(Path(path)) == stream
