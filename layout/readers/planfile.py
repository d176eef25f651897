"""Reads a plan file (TOML) and prints its JSON Schema.

Three passes: each key by itself (`layout.plan.values`), keys that must agree (`layout.plan.agree`), then references and
geometry (`layout.lining.references`). All faults of a pass are told at once.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from layout.budgets import in_force, within
from layout.errors import PlanFaults
from layout.fields import Faults
from layout.lining.references import check_plan
from layout.plan.agree import settled
from layout.plan.values import PLAN_FILE
from layout.readers.texts import parse_toml, read_text, source_name

if TYPE_CHECKING:
    from collections.abc import Mapping

    from layout.errors import Rule
    from layout.plan.values import Plan

SCHEMA_NAME = "gaugerod/plan/1"


def plan_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a plan file: it has rooms, or includes files that have."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": SCHEMA_NAME,
        "title": "gaugerod plan file",
        **PLAN_FILE.schema(),
        "anyOf": [{"required": ["rooms"]}, {"required": ["include"]}],
    }


def read_plan(path: str | Path) -> Plan:
    """Read a plan file.

    Raises
    ------
    PlanError, PlanFaults
        With file, table, key, value found and what would be right; all faults at once.
    """
    path = Path(path)
    return parse_plan(read_text(path), source_name(path), folder=path.parent, own=None if str(path) == "-" else path)


def parse_plan(text: str, source: str = "plan", *, folder: str | Path | None = None, own: str | Path | None = None) -> Plan:
    """Read a plan from TOML text; `source` names it in messages, `folder` is where files that it names stand, `own` its file if it has one."""
    raw = parse_toml(text, source)
    faults = Faults(source)
    typed = PLAN_FILE.read(raw, "", faults)
    if typed is None:
        raise PlanFaults(tuple(faults.found))
    typed = replace(typed, budgets=in_force(typed.budgets))
    figures: Mapping[str, Rule] = {}
    places: tuple[str, ...] = ()
    if typed.products_file or typed.include:
        from layout.readers.jobfile import figures_of, with_included  # noqa: PLC0415  # few plans name files

        beside = Path(folder or "")
        figures = figures_of(typed, beside)
        typed, places = with_included(typed, figures, faults, beside, Path(own) if own else None)
    if not typed.rooms and not faults.found:
        faults.add("rooms", "it is missing", f"give {PLAN_FILE.rows['rooms'].key.check.says}")
    with within(source, typed.budgets):
        plan = settled(typed, figures, source, faults, places) if not faults.found else None
        if plan is not None:
            faults.found += check_plan(plan)
    if plan is None or faults.found:
        raise PlanFaults(tuple({each.args: each for each in faults.found}.values()))  # a file included twice tells its faults once
    return plan
