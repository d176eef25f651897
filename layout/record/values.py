"""Ticks as values: events that are only ever added, and what they come to.

An event says of one thing that one field of it has a value. Its number is a Lamport counter: higher than every number its phone
had seen, so that no clock has to be right (Lamport, Time, Clocks, and the Ordering of Events, 1978). What several phones have is
the union of their events; the latest of a field is shown, all are kept. Order and repetition of merging change nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Iterable

Value: TypeAlias = bool | float | str
SCHEMA = "gaugerod/ticks/1"
"""First words of a file of ticks."""
MOST_EVENTS = 100_000
"""Events of one file: a room of 20,000 tiles with every cut sawn and laid has some 2,000."""
MOST_BYTES = 20_000_000
"""Size of a file of ticks."""
MOST_LETTERS = 200
"""Letters of what a person types: values, and the name of a phone."""
MOST_ID = 50_000
"""Letters of an id or a size: both hold names of the plan, a name may have 10,000 letters (`layout.fields.Text`), an id a few of them."""
MOST_NUMBER = 1e7
"""Numbers and counters are no larger."""


@dataclass(frozen=True, slots=True)
class Event:
    """One tick: of the thing `id` the field `field` is `value`; it then had the size `size`.

    `n` is the Lamport counter, `by` the phone, `at` what its clock said, in words: told, and never reckoned with.
    """

    id: str
    field: str
    value: Value
    size: str
    n: int
    by: str
    at: str = ""

    @property
    def order(self) -> tuple[int, str, str]:
        """By what the latest of a field is told: counter, then phone, then value, so that it is the same everywhere."""
        return self.n, self.by, f"{self.value!s}"


@dataclass(frozen=True, slots=True)
class Issue:
    """Which plan and issue ticks are of: words of its title block, and a digest of what its marks mean."""

    title: str
    number: str
    revision: str
    digest: str

    @property
    def words(self) -> str:
        """As a person says it."""
        return " ".join(each for each in (self.number, self.title, f"issue {self.revision}" if self.revision else "") if each)

    def same_plan(self, other: Issue) -> bool:
        """Whether both are issues of one plan."""
        return (self.title, self.number) == (other.title, other.number)


@dataclass(frozen=True, slots=True)
class Ticks:
    """All events of one file, and the issue that they are of."""

    issue: Issue
    events: tuple[Event, ...]


def merged(events: Iterable[Event]) -> tuple[Event, ...]:
    """The union of events, in the order of their counters.

    >>> one, two = Event("a", "laid", True, "", 1, "A"), Event("a", "laid", False, "", 2, "B")
    >>> merged([two, one, two]) == (one, two)
    True
    """
    return tuple(sorted(set(events), key=lambda event: (event.order, event.id, event.field, event.size, event.at)))


def latest(events: Iterable[Event]) -> dict[tuple[str, str], Event]:
    """The event that is shown for each field of each thing."""
    result: dict[tuple[str, str], Event] = {}
    for event in events:
        now = result.get((event.id, event.field))
        if now is None or event.order > now.order:
            result[event.id, event.field] = event
    return result


def counted(events: Iterable[Event]) -> dict[tuple[str, str], float]:
    """Fields that add up, as tiles broken: the sum of all that was ever counted."""
    result: dict[tuple[str, str], float] = {}
    for event in set(events):
        if isinstance(event.value, float) and not isinstance(event.value, bool):
            result[event.id, event.field] = result.get((event.id, event.field), 0.0) + event.value
    return result
