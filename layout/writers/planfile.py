"""Writes plans: a whole plan as TOML, and the table of its keys."""

from __future__ import annotations

import datetime as dt
from dataclasses import MISSING
from typing import TYPE_CHECKING, Any

from layout.fields import Many
from layout.keys import Form, Named, key_rows, plain_default
from layout.plan.values import PLAN_FILE, PlanFile
from layout.standards.products import DEFAULTS, FIGURES

if TYPE_CHECKING:
    from collections.abc import Mapping

    from layout.fields import Field
    from layout.plan.values import Plan


def plan_toml(plan: Plan) -> str:
    """A plan as TOML that reads back to the same plan; values that are the default are left out.

    Figures of a products file are written out with their sources, so that the text stands alone.
    """
    import tomlkit  # noqa: PLC0415  # only where a plan is written

    figures = {name: getattr(plan.products, name) for name in DEFAULTS}
    typed = PlanFile(
        project=plan.project,
        tiles=plan.tiles,
        rules=plan.rules,
        sealant=plan.rules.sealant,
        products={name: rule for name, rule in figures.items() if rule != DEFAULTS[name]} or None,
        works=plan.works,
        budgets=plan.budgets,
        deliveries=plan.deliveries,
        kept_marks=plan.kept_marks or None,
        rooms=plan.rooms,
    )
    return tomlkit.dumps(container_of(tomlkit.document(), PLAN_FILE, PLAN_FILE.write(typed))).lstrip("\n")


def plan_keys() -> str:
    """The keys of a plan file as a table in Markdown, made from their declarations."""
    lines = [
        "# The keys of a plan file",
        "",
        "Made by `gaugerod schema --table` from the declarations that read, check and write the file. A key in **bold** must stand.",
        "",
        "| key | what it says | value | unit | if not given | example | since |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for path, row in key_rows(PLAN_FILE):
        said, default = row.key, plain_default(row)
        must = row.default is MISSING
        left = "" if must else said.left_out or ("" if default is None else f"`{_text(default)}`") or "nothing"
        example = said.example if said.example is not None else default
        check = f"a figure for each of {', '.join(DEFAULTS)}" if said.check is FIGURES else said.check.says
        cells = [f"**`{path}`**" if must else f"`{path}`", said.words, check, said.unit, left, f"`{_text(example)}`", said.since]
        lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    lines += ["", "## Figures of products", "", "| key | unit | default | source of the default |", "| --- | --- | --- | --- |"]
    lines += [f"| `{name}` | {rule.unit} | {rule.value:g} | {rule.source} |" for name, rule in DEFAULTS.items()]
    return "\n".join(lines)


def container_of(table: Any, form: Form[Any], values: Mapping[str, Any]) -> Any:  # noqa: ANN401
    """Fill a TOML table: plain values first, then tables and lists of tables, each with an empty line before it."""
    import tomlkit  # noqa: PLC0415

    later = []
    for name, value in values.items():
        check: Field[Any] = form.rows[name].key.check
        nested = isinstance(check, (Form, Named)) or (isinstance(check, Many) and isinstance(check.part, Form))
        if nested and not getattr(check, "inline", False):
            later.append((name, check, value))
        else:
            table.add(name, item_of(value))
    for name, check, value in later:
        if isinstance(check, Many):
            rows = tomlkit.aot()
            for each in value:
                rows.append(container_of(tomlkit.table(), check.part, each))  # type: ignore[arg-type]  # a form: asked above
            table.add(name, rows)
        elif isinstance(check, Named):
            tables = tomlkit.table(is_super_table=True)
            for own, each in value.items():
                tables.add(own, container_of(tomlkit.table(), check.part, each))  # type: ignore[arg-type]  # tables of forms only
            table.add(name, tables)
        else:
            table.add(name, container_of(tomlkit.table(), check, value))  # type: ignore[arg-type]  # a form: asked above
    return table


def _text(value: object) -> str:
    return str(item_of(value).as_string())


def item_of(value: Any) -> Any:  # noqa: ANN401
    """A value as TOML: tables and lists on one line, dates as they are."""
    import tomlkit  # noqa: PLC0415

    if isinstance(value, dict):
        table = tomlkit.inline_table()
        for name, each in value.items():
            table.add(name, item_of(each))
        return table
    if isinstance(value, (list, tuple)):
        array = tomlkit.array()
        for each in value:
            array.append(item_of(each))
        return array
    return tomlkit.item(value.isoformat() if isinstance(value, dt.time) else value)
