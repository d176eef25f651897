"""What a batch tells of one plan."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What one plan came to; `fault` is its message if it could not be set out, `own_fault` whether that is the tool's."""

    plan: str
    rooms: int = 0
    floor_m2: float = 0.0
    whole: int = 0
    cut: int = 0
    narrowest_mm: float = 0.0
    sealant_m: float = 0.0
    tape_m: float = 0.0
    findings: int = 0
    binding: int = 0
    fault: str = ""
    own_fault: bool = False
