"""A job in several files: rooms of the plan files that a plan includes, put to its own.

The job's plan decides: its tiles, rules, sealant and products hold for every room. What an included file says of these must
agree with it, so that nothing is passed over in silence, unless the include says that the job's hold; its title block, budgets and format are its own alone. A tile that
only the included file names is taken in with its rooms.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from layout.errors import PlanError, PlanFaults
from layout.fields import Faults, shown
from layout.keys import Form
from layout.plan.ruling import Rules
from layout.plan.tile import Tile
from layout.plan.values import PLAN_FILE
from layout.readers.officefile import read_figures
from layout.readers.texts import parse_toml, read_text
from layout.standards.products import DEFAULTS
from layout.standards.sealants import Sealant

if TYPE_CHECKING:
    from collections.abc import Mapping

    from layout.errors import Rule
    from layout.plan.values import Include, PlanFile, Room

JOB_TABLES: tuple[tuple[str, type[Any]], ...] = (("rules", Rules), ("sealant", Sealant))
"""Tables that a job has one of, whichever file says it."""
MOST_FILES = 10_000


def figures_of(typed: PlanFile, folder: Path) -> Mapping[str, Rule]:
    """Figures of the products file that a plan names, none if it names none; errors are those of `read_figures`."""
    return read_figures(folder / typed.products_file, named=True) if typed.products_file else {}


def with_included(
    typed: PlanFile, figures: Mapping[str, Rule], faults: Faults, folder: Path, own: Path | None = None
) -> tuple[PlanFile, tuple[str, ...]]:
    """A plan as typed with the rooms and tiles of the files that it includes, and where each room is typed.

    `figures` are those of its products file, `own` is the plan's file if it has one. Faults of the files are noted in `faults`,
    whose `homes` then know the tables that were taken in.
    """
    if not typed.include:
        return typed, ()
    job = _Job(typed, {**figures, **(typed.products or {})}, faults)
    job.take_all(typed.include, faults.source, folder, (own,) if own else (), _Way())
    faults.homes = job.homes
    return replace(typed, rooms=tuple(job.rooms), tiles=job.tiles or None), tuple(job.places)


@dataclass(frozen=True, slots=True)
class _Way:
    """What the includes on the way to a file say for its rooms."""

    storey: str = ""
    prefix: str = ""
    at: tuple[float, float] = (0.0, 0.0)

    def on(self, include: Include) -> _Way:
        at = (self.at[0] + include.at[0], self.at[1] + include.at[1])
        return _Way(include.storey or self.storey, self.prefix + include.prefix, at)


@dataclass(slots=True)
class _Job:
    """Rooms and tiles of a job while its files are read."""

    typed: PlanFile
    figures: Mapping[str, Rule]
    faults: Faults
    rooms: list[Room] = field(default_factory=list)
    places: list[str] = field(default_factory=list)
    tiles: dict[str, Tile] = field(default_factory=dict)
    homes: dict[str, str] = field(default_factory=dict)
    files: int = 0

    def __post_init__(self) -> None:
        self.rooms = [replace(room, name=room.name or f"Room {k}") for k, room in enumerate(self.typed.rooms, 1)]
        self.places = [f"{self.faults.source}: rooms[{k}]" for k in range(len(self.rooms))]
        self.tiles = dict(self.typed.tiles or {})

    def take_all(self, includes: tuple[Include, ...], source: str, folder: Path, chain: tuple[Path, ...], way: _Way) -> None:
        """Take in the files that one file includes, and those that they include; `chain` are the files on the way to here."""
        for k, include in enumerate(includes):
            place, path = f"{source}: include[{k}]", folder / include.file
            self.files += 1
            if self.files > self.typed.budgets.rooms:
                mend = "part the job, or raise budgets.rooms"
                self.faults.found.append(PlanError(place, f"more than {self.typed.budgets.rooms:,} files are included", mend))
                return
            if path.resolve() in [each.resolve() for each in chain]:
                through = " includes ".join(each.name for each in (*chain, path))
                self.faults.found.append(PlanError(f"{place}.file", f"it goes round in a circle: {through}", "leave this include out"))
                continue
            shown_as = (Path(source).parent / include.file).as_posix()
            try:
                read, own, raw = self._read(path, shown_as)
            except PlanFaults as error:
                self.faults.found += error.faults
                continue
            except PlanError as error:
                self.faults.found.append(PlanError(f"{place}.file", f"{error.place}: {error.args[1]}", str(error.args[2])))
                continue
            agree = include.tables == "agree"
            if agree:
                self._check_tables(read, own, raw, shown_as)
            self._take_tiles(read, shown_as, agree=agree)
            self._take_rooms(read, include, place, shown_as, way.on(include))
            self.take_all(read.include, shown_as, path.parent, (*chain, path), way.on(include))

    def _read(self, path: Path, shown_as: str) -> tuple[PlanFile, Mapping[str, Rule], dict[str, Any]]:
        """A file as typed, the figures it gives, and its tables as TOML holds them."""
        raw = parse_toml(read_text(path, named=True), shown_as)
        faults = Faults(shown_as)
        read = PLAN_FILE.read(raw, "", faults)
        if read is None:
            raise PlanFaults(tuple(faults.found))
        try:
            figures = figures_of(read, path.parent)
        except PlanError as error:
            raise PlanFaults((PlanError(f"{shown_as}: products_file", f"{error.place}: {error.args[1]}", str(error.args[2])),)) from None
        return read, {**figures, **(read.products or {})}, raw

    def _check_tables(self, read: PlanFile, figures: Mapping[str, Rule], raw: Mapping[str, Any], source: str) -> None:
        """What a file says that a job has once must be what the job's plan says."""
        theirs, job = Faults(source), self.faults.source
        for table, cls in JOB_TABLES:
            for name, row in Form(cls).rows.items():
                if name not in raw.get(table, {}):
                    continue
                own, wanted = (getattr(getattr(plan, table), row.attribute) for plan in (read, self.typed))
                if own != wanted:
                    known = "none" if wanted is None else shown(row.key.check.write(wanted))
                    theirs.add(f"{table}.{name}", f"{shown(raw[table][name])} found, {job} has {known}", _once(job))
        for name, rule in figures.items():
            known_value = self.figures.get(name, DEFAULTS[name]).value
            if rule.value != known_value:
                theirs.add(f"products.{name}", f"{rule.value:g} found, {job} has {known_value:g}", _once(job))
        if read.deliveries:
            theirs.add("deliveries", "they are those of a whole job", f"write them in {job}")
        self.faults.found += theirs.found

    def _take_tiles(self, read: PlanFile, source: str, *, agree: bool) -> None:
        """Tiles of new names; one of a known name must be alike where the files agree."""
        for name, tile in (read.tiles or {}).items():
            known = self.tiles.setdefault(name, tile)
            if known is tile:
                self.homes[f"tiles.{name}"] = f"{source}: tiles.{name}"
            elif agree and known != tile:
                theirs, ours = (Form(Tile).write(each) for each in (tile, known))
                keys = [key for key in {**theirs, **ours} if theirs.get(key) != ours.get(key)]
                first = self.homes.get(f"tiles.{name}", f"{self.faults.source}: tiles.{name}")
                mend = "leave it out, or give it a name of its own and its rooms that floor_tile or wall_tile"
                self.faults.found.append(PlanError(f"{source}: tiles.{name}", f"its {', '.join(keys)} is not that of {first}", mend))

    def _take_rooms(self, read: PlanFile, include: Include, place: str, source: str, way: _Way) -> None:
        """The rooms that are wanted of a file, with what the way to it says."""
        own = [replace(room, name=room.name or f"Room {k}") for k, room in enumerate(read.rooms, 1)]
        names = {room.name for room in own}
        for name in include.rooms:
            if name not in names:
                mend = "its rooms are " + ", ".join(f'"{each}"' for each in sorted(names))
                self.faults.found.append(PlanError(f"{place}.rooms", f'{source} has no room "{name}"', mend))

        def renamed(name: str) -> str:
            return way.prefix + name if name in names else name

        for k, room in enumerate(own):
            if include.rooms and room.name not in include.rooms:
                continue
            self.homes[f"rooms[{len(self.rooms)}]"] = f"{source}: rooms[{k}]"
            self.places.append(f"{source}: rooms[{k}]")
            doors = [(door, door.same_as) for door in room.openings]
            self.rooms.append(
                replace(
                    room,
                    name=renamed(room.name),
                    storey=room.storey or way.storey,
                    at=(room.at[0] + way.at[0], room.at[1] + way.at[1]),
                    openings=tuple(replace(door, same_as=same and replace(same, room=renamed(same.room))) for door, same in doors),
                    pulls=tuple(replace(pull, room=renamed(pull.room)) for pull in room.pulls),
                )
            )


def _once(job: str) -> str:
    return f"a job has it once: leave it out here, or write it in {job}"


def files_with(path: str | Path) -> list[Path]:
    """Files that are read with a plan: its products file and the files that it includes, with theirs; none where they cannot be read."""
    found: list[Path] = []
    waiting = [Path(path)]
    while waiting:
        plan = waiting.pop()
        try:
            values = tomllib.loads(plan.read_text(encoding="utf-8-sig")) if plan.is_file() else {}
            named = [values["products_file"]] if "products_file" in values else []
            included = [include["file"] for include in values.get("include", [])]
            beside, more = [[plan.parent / name for name in dict.fromkeys(names)] for names in (named, included)]
        except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):  # told by the plan's own reader
            continue
        waiting += [each for each in more if each not in found and len(found) < MOST_FILES]
        found += [each for each in (*beside, *more) if each not in found]
    return found
