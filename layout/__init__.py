r"""Setting-out of tiled, tanked wet rooms, from a plan to start lines, quantities and drawings.

Names are loaded when first asked for, so that `import layout` stays light:

>>> import layout
>>> plan = layout.parse_plan('[[rooms]]\nname = "Wash-up"\noutline = [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]')
>>> setout = layout.set_out(plan)
>>> len(setout.rooms[0].floor.field.whole)
104
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from layout.errors import Finding, LayoutError, OutputError, PlanError, PlanFaults, Rule, SetOutError
    from layout.programme.stages import plan_works
    from layout.quantities.bill import price
    from layout.quantities.orders import place_orders
    from layout.quantities.takeoff import take_off
    from layout.readers.drawingfile import read_dxf
    from layout.readers.foundplans import plans_of
    from layout.readers.geofile import read_geojson
    from layout.readers.modelfile import read_ifc
    from layout.readers.officefile import read_products, read_rates
    from layout.readers.planfile import parse_plan, plan_schema, read_plan
    from layout.setout.conduct import set_out
    from layout.sheets.draw import draw_sheets
    from layout.writers.notebook import view
    from layout.writers.planfile import plan_toml, with_values
    from layout.writers.quantity_records import takeoff_record
    from layout.writers.records import setout_record
    from layout.writers.save import write_dxf, write_pdf, write_png, write_svg

_HOMES = {
    "Finding": "errors",
    "LayoutError": "errors",
    "OutputError": "errors",
    "PlanError": "errors",
    "PlanFaults": "errors",
    "Rule": "errors",
    "SetOutError": "errors",
    "draw_sheets": "sheets.draw",
    "parse_plan": "readers.planfile",
    "place_orders": "quantities.orders",
    "plan_schema": "readers.planfile",
    "plan_works": "programme.stages",
    "price": "quantities.bill",
    "read_plan": "readers.planfile",
    "read_products": "readers.officefile",
    "read_rates": "readers.officefile",
    "set_out": "setout.conduct",
    "setout_record": "writers.records",
    "take_off": "quantities.takeoff",
    "takeoff_record": "writers.quantity_records",
    "write_dxf": "writers.save",
    "write_pdf": "writers.save",
    "write_png": "writers.save",
    "write_svg": "writers.save",
    "plan_toml": "writers.planfile",
    "plans_of": "readers.foundplans",
    "read_dxf": "readers.drawingfile",
    "read_geojson": "readers.geofile",
    "read_ifc": "readers.modelfile",
    "view": "writers.notebook",
    "with_values": "writers.planfile",
}

__all__ = [
    "Finding",
    "LayoutError",
    "OutputError",
    "PlanError",
    "PlanFaults",
    "Rule",
    "SetOutError",
    "draw_sheets",
    "parse_plan",
    "place_orders",
    "plan_schema",
    "plan_toml",
    "plan_works",
    "plans_of",
    "price",
    "read_dxf",
    "read_geojson",
    "read_ifc",
    "read_plan",
    "read_products",
    "read_rates",
    "set_out",
    "setout_record",
    "take_off",
    "takeoff_record",
    "view",
    "with_values",
    "write_dxf",
    "write_pdf",
    "write_png",
    "write_svg",
]


def __getattr__(name: str) -> Any:  # noqa: ANN401
    if name not in _HOMES:
        msg = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(msg)
    return getattr(import_module(f"layout.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
