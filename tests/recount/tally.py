"""What agrees and what does not: each figure by its kind, with its place, as told and as counted."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Wrong:
    """A figure that is not what is counted, or a place that the recount cannot judge where `counted` is None."""

    kind: str
    where: str
    told: float | str | None
    counted: float | str | None


@dataclass(slots=True)
class Tally:
    """Figures counted again; `where` is the plan, room and surface that are looked at."""

    where: str = ""
    right: Counter[str] = field(default_factory=Counter)
    wrong: list[Wrong] = field(default_factory=list)
    unjudged: Counter[str] = field(default_factory=Counter)

    def same(self, kind: str, told: float | None, counted: float | None, play: float = 0.0, where: str = "") -> None:
        """Both are there and differ by no more than the play, or neither is there."""
        if (told is None and counted is None) or (told is not None and counted is not None and abs(told - counted) <= play):
            self.right[kind] += 1
        else:
            self.wrong.append(Wrong(kind, f"{self.where} {where}".strip(), told, counted))

    def no_more(self, kind: str, told: float, counted: float, play: float = 0.0, where: str = "") -> None:
        """What is told is no more than what is counted."""
        self.same(kind, max(told, counted), counted, play, where)
        if self.wrong and told > counted + play:
            self.wrong[-1] = Wrong(kind, f"{self.where} {where}".strip(), told, counted)

    def holds(self, kind: str, ok: bool, told: float | str | None = None, where: str = "") -> None:
        """What is told is so."""
        if ok:
            self.right[kind] += 1
        else:
            self.wrong.append(Wrong(kind, f"{self.where} {where}".strip(), told, None))

    def words(self) -> str:
        """Counts by kind, then what does not agree, one to a line."""
        kinds = sorted({*self.right, *(each.kind for each in self.wrong)})
        rows = [f"{self.right[kind]:8d} agree {sum(each.kind == kind for each in self.wrong):5d} do not  {kind}" for kind in kinds]
        rows += [f"{count:8d} not judged  {what}" for what, count in sorted(self.unjudged.items())]
        rows += [f"  {each.where}: {each.kind}: told {each.told}, counted {each.counted}" for each in self.wrong]
        return "\n".join([*rows, f"{sum(self.right.values())} figures agree, {len(self.wrong)} do not"])
