"""The programme as a calendar (iCalendar, RFC 5545): an event for each stretch of a stage, and when rooms may be used.

Times are floating, as the site's clock shows them (RFC 5545 3.3.5, form 1), and in UTC where the plan says the site's zone (form 2); the stamp is the plan's date, or that of the start, so
that the same plan gives the same bytes.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from layout.plan.values import Project
    from layout.programme.values import Programme, Stage

LONGEST = 75
"""Octets of a line, its end apart (RFC 5545 3.1)."""
MINUTE = dt.timedelta(minutes=1)


def programme_ical(programme: Programme, project: Project) -> str:
    """The programme as one calendar; lines end with carriage return and line feed."""
    first = min((stage.start for stage in programme.stages), default=dt.datetime.combine(project.date or dt.date(1970, 1, 1), dt.time()))
    stamp = f"{_moment(dt.datetime.combine(project.date or first.date(), dt.time()))}Z"
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//gaugerod//works programme//EN", "CALSCALE:GREGORIAN", "METHOD:PUBLISH"]
    for name, begin, end, about, room in _events(programme):
        key = "\n".join((project.number, project.title, room, name))
        lines += ["BEGIN:VEVENT", f"UID:{hashlib.sha256(key.encode()).hexdigest()[:32]}@gaugerod", f"DTSTAMP:{stamp}"]
        lines.append(f"DTSTART:{_of_clock(begin, programme)}")
        if end is not None:
            lines.append(f"DTEND:{_of_clock(end, programme)}")
        lines += [f"SUMMARY:{text(f'{room}: {name}')}", f"LOCATION:{text(room)}"]
        if about:
            lines.append(f"DESCRIPTION:{text(about)}")
        lines.append("END:VEVENT")
    return "".join(f"{folded(line)}\r\n" for line in [*lines, "END:VCALENDAR"])


def _events(programme: Programme) -> Iterator[tuple[str, dt.datetime, dt.datetime | None, str, str]]:
    """Name, begin, end (None: a moment), what is to be known, room."""
    for stage in programme.stages:
        spans = stage.spans or ((stage.start, stage.end),)
        for k, (begin, end) in enumerate(spans, 1):
            name = stage.name if len(spans) == 1 else f"{stage.name} ({k} of {len(spans)})"
            begin = begin.replace(second=0, microsecond=0)
            yield name, begin, max(_whole(end), begin + MINUTE), _about(stage), programme.rooms[stage.room]
    for words, moments in (
        ("may be walked on", programme.foot_traffic),
        ("takes water", programme.water),
        ("takes chemicals and full load", programme.full_load),
    ):
        for room, at in moments.items():
            yield words, _whole(at), None, "", programme.rooms[room]


def _about(stage: Stage) -> str:
    """When a stage may be begun, and what is signed before it."""
    lines = [f"hands: {stage.hands}", f"begun no sooner than {stage.earliest:%d %b %H:%M}"]
    if stage.latest is not None:
        missed = ", which is missed" if stage.start > stage.latest else ""
        lines.append(f"begun no later than {stage.latest:%d %b %H:%M}{missed}")
    if stage.hold:
        lines.append(f"hold point: {stage.hold}")
    return "\n".join(lines)


def _whole(at: dt.datetime) -> dt.datetime:
    """A moment on the next whole minute."""
    low = at.replace(second=0, microsecond=0)
    return low if low == at else low + MINUTE


def _of_clock(at: dt.datetime, programme: Programme) -> str:
    """A moment of the site's clock: in UTC where its zone is known."""
    calendar = programme.calendar
    return f"{_moment(calendar.running(at))}Z" if calendar.zone else _moment(at)


def _moment(at: dt.datetime) -> str:
    return f"{at.year:04d}{at:%m%dT%H%M%S}"


def text(words: str) -> str:
    r"""Words as a value of type TEXT (RFC 5545 3.3.11); control characters that it does not allow are left out.

    >>> print(text("Wash-up; south, new"))
    Wash-up\; south\, new
    """
    words = re.sub(r"\r\n?", "\n", words)
    words = re.sub(r"[\x00-\x08\x0b-\x1f\x7f]", "", words)
    return re.sub(r"([\\;,])", r"\\\1", words).replace("\n", "\\n")


def folded(line: str) -> str:
    """A line no longer than `LONGEST` octets, the next begun with a blank; no character is parted."""
    parts, now, size = [], "", 0
    for char in line:
        octets = len(char.encode("utf-8", "replace"))
        if size + octets > LONGEST:
            parts.append(now)
            now, size = " ", 1
        now, size = now + char, size + octets
    return "\r\n".join([*parts, now])
