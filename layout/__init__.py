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
    from layout.budgets import Budgets, budgets_of
    from layout.changes.asked import figures_in_room, readings_of, shifted_by_lines
    from layout.changes.compare import compare_setouts
    from layout.changes.cost import KeepingCost, keeping_costs
    from layout.changes.keep import KEEP, keep_built, keep_lines
    from layout.changes.match import pairs_of as rooms_matched
    from layout.changes.mends import Mended, mends_taken, offered_mends
    from layout.changes.revision import revision_words
    from layout.changes.values import Changes, Difference, MarkChange, RoomChange
    from layout.changes.variants import Alternative
    from layout.changes.variants import compare as alternatives
    from layout.codes import CODES
    from layout.errors import Finding, LayoutError, OutputError, PlanError, PlanFaults, Point, Rule, SetOutError
    from layout.jobs.runner import batch
    from layout.names import portable_stem, told_apart
    from layout.plan.values import Plan
    from layout.plan.works import Works, works_with
    from layout.programme.air import refused as air_refused
    from layout.programme.calendar import Calendar
    from layout.programme.stages import plan_works, start_of
    from layout.programme.values import Programme
    from layout.quantities.bill import SECTIONS as BILL_SECTIONS
    from layout.quantities.bill import Bill, Rates, price
    from layout.quantities.bill import Line as BillLine
    from layout.quantities.cutting import CuttingPlan, plan_cuts
    from layout.quantities.groups import By as GroupBy
    from layout.quantities.groups import Group, grouped
    from layout.quantities.mixing import mixing_plan
    from layout.quantities.needs import PlanWork
    from layout.quantities.orders import Order, place_orders
    from layout.quantities.portfolio import Portfolio, together
    from layout.quantities.solver import cut_stock
    from layout.quantities.stock import Shortage, TileOrder, shortages, tile_orders_of
    from layout.quantities.table import columns_of as takeoff_columns
    from layout.quantities.table import entries_of as takeoff_entries
    from layout.quantities.takeoff import take_off
    from layout.quantities.values import Item, TakeOff
    from layout.readers.drawingcontent import read_content as drawing_content
    from layout.readers.drawingfile import UNITS, read_dxf
    from layout.readers.endings import reader_of
    from layout.readers.foundplans import axes_of, plans_of, reread
    from layout.readers.geofile import read_geojson
    from layout.readers.jobfile import files_with
    from layout.readers.measuredfile import read_figures_of
    from layout.readers.modelfile import read_ifc
    from layout.readers.officefile import read_products, read_rates
    from layout.readers.planfile import parse_plan, plan_schema, read_plan
    from layout.readers.surveyfile import read_levels, read_points, read_survey
    from layout.readers.texts import read_text, source_name
    from layout.readers.ticksfile import measured_readings, read_measured, read_ticks
    from layout.readers.workfile import plan_work
    from layout.readers.worksfile import read_done, read_weather
    from layout.record.handing import AsBuilt, as_built
    from layout.record.record_sheet import record_sheets
    from layout.record.values import Ticks
    from layout.setout.conduct import set_out
    from layout.setout.freeing import Freed, Limit, StartFigures, Why, what_would_free
    from layout.setout.ledger import Residual
    from layout.setout.residuals import Audit, audit, audited
    from layout.setout.told import Told, told_of_rooms
    from layout.setout.values import RoomSetOut, SetOut
    from layout.sheets.change_sheet import change_sheets as draw_changes
    from layout.sheets.draw import draw_first, draw_sheets
    from layout.sheets.found_sheet import found_sheet as draw_found
    from layout.sheets.lettering import text_width
    from layout.sheets.paper import SIZES as PAPER_SIZES
    from layout.sheets.scene import Sheet
    from layout.survey.adjust import Survey
    from layout.survey.adjust import adjust as adjust_survey
    from layout.survey.drafts import found_plan
    from layout.survey.found import Found, FoundRoom, file_stem, openings_of
    from layout.survey.jobdraft import job_changed, job_text
    from layout.survey.levels import adjust_levels
    from layout.survey.readings import Reading
    from layout.survey.remeasured import carried_along, off_the_plan, refit
    from layout.writers.calendarfile import programme_ical
    from layout.writers.change_records import changes_csv, changes_record, keeping_record
    from layout.writers.cut_records import cuts_csv, cuts_record
    from layout.writers.edits import path_of, with_kept, with_merge, with_starts, with_thing, with_values
    from layout.writers.files import Batch, one_file, whole_or_nothing, write_whole
    from layout.writers.notebook import view
    from layout.writers.page.assemble import page_html
    from layout.writers.planfile import plan_keys, plan_toml
    from layout.writers.plot import save_png
    from layout.writers.portfolio_book import batch_csv, batch_record, write_batch_xlsx
    from layout.writers.quantity_records import batches_csv, programme_record, takeoff_record
    from layout.writers.record_book import save_record_book
    from layout.writers.records import compare_record as alternatives_record
    from layout.writers.records import setout_record, to_json, why_record
    from layout.writers.rounded import finding_record
    from layout.writers.save import FORMATS, groups_csv, stage_sheets, takeoff_csv, write_dxf, write_pdf, write_png, write_svg, write_xlsx
    from layout.writers.save import steps as drawing_steps
    from layout.writers.site_records import site_record, ticks_record
    from layout.writers.workbook import save_workbook

    __version__: str

_HOMES = {
    "BILL_SECTIONS": "quantities.bill:SECTIONS",
    "CODES": "codes",
    "FORMATS": "writers.save",
    "KEEP": "changes.keep",
    "PAPER_SIZES": "sheets.paper:SIZES",
    "UNITS": "readers.drawingfile",
    "Alternative": "changes.variants",
    "AsBuilt": "record.handing",
    "Audit": "setout.residuals",
    "Batch": "writers.files",
    "Bill": "quantities.bill",
    "BillLine": "quantities.bill:Line",
    "Budgets": "budgets",
    "Calendar": "programme.calendar",
    "Changes": "changes.values",
    "CuttingPlan": "quantities.cutting",
    "Difference": "changes.values",
    "Finding": "errors",
    "Found": "survey.found",
    "FoundRoom": "survey.found",
    "Freed": "setout.freeing",
    "Group": "quantities.groups",
    "GroupBy": "quantities.groups:By",
    "Item": "quantities.values",
    "KeepingCost": "changes.cost",
    "LayoutError": "errors",
    "Limit": "setout.freeing",
    "MarkChange": "changes.values",
    "Mended": "changes.mends",
    "Order": "quantities.orders",
    "OutputError": "errors",
    "Plan": "plan.values",
    "PlanError": "errors",
    "PlanFaults": "errors",
    "PlanWork": "quantities.needs",
    "Point": "errors",
    "Portfolio": "quantities.portfolio",
    "Programme": "programme.values",
    "Rates": "quantities.bill",
    "Reading": "survey.readings",
    "Residual": "setout.ledger",
    "RoomChange": "changes.values",
    "RoomSetOut": "setout.values",
    "Rule": "errors",
    "SetOut": "setout.values",
    "SetOutError": "errors",
    "Sheet": "sheets.scene",
    "Shortage": "quantities.stock",
    "StartFigures": "setout.freeing",
    "Survey": "survey.adjust",
    "TakeOff": "quantities.values",
    "Ticks": "record.values",
    "TileOrder": "quantities.stock",
    "Told": "setout.told",
    "Why": "setout.freeing",
    "Works": "plan.works",
    "adjust_levels": "survey.levels",
    "adjust_survey": "survey.adjust:adjust",
    "air_refused": "programme.air:refused",
    "alternatives": "changes.variants:compare",
    "alternatives_record": "writers.records:compare_record",
    "as_built": "record.handing",
    "audit": "setout.residuals",
    "audited": "setout.residuals",
    "axes_of": "readers.foundplans",
    "batch": "jobs.runner",
    "batch_csv": "writers.portfolio_book",
    "batch_record": "writers.portfolio_book",
    "batches_csv": "writers.quantity_records",
    "budgets_of": "budgets",
    "carried_along": "survey.remeasured",
    "changes_csv": "writers.change_records",
    "changes_record": "writers.change_records",
    "compare_setouts": "changes.compare",
    "cut_stock": "quantities.solver",
    "cuts_csv": "writers.cut_records",
    "cuts_record": "writers.cut_records",
    "draw_changes": "sheets.change_sheet:change_sheets",
    "draw_first": "sheets.draw",
    "draw_found": "sheets.found_sheet:found_sheet",
    "draw_sheets": "sheets.draw",
    "drawing_content": "readers.drawingcontent:read_content",
    "drawing_steps": "writers.save:steps",
    "figures_in_room": "changes.asked",
    "file_stem": "survey.found",
    "files_with": "readers.jobfile",
    "finding_record": "writers.rounded",
    "found_plan": "survey.drafts",
    "grouped": "quantities.groups",
    "groups_csv": "writers.save",
    "job_changed": "survey.jobdraft",
    "job_text": "survey.jobdraft",
    "keep_built": "changes.keep",
    "keep_lines": "changes.keep",
    "keeping_costs": "changes.cost",
    "keeping_record": "writers.change_records",
    "measured_readings": "readers.ticksfile",
    "mends_taken": "changes.mends",
    "mixing_plan": "quantities.mixing",
    "off_the_plan": "survey.remeasured",
    "offered_mends": "changes.mends",
    "one_file": "writers.files",
    "openings_of": "survey.found",
    "page_html": "writers.page.assemble",
    "parse_plan": "readers.planfile",
    "path_of": "writers.edits",
    "place_orders": "quantities.orders",
    "plan_cuts": "quantities.cutting",
    "plan_keys": "writers.planfile",
    "plan_schema": "readers.planfile",
    "plan_toml": "writers.planfile",
    "plan_work": "readers.workfile",
    "plan_works": "programme.stages",
    "plans_of": "readers.foundplans",
    "portable_stem": "names",
    "price": "quantities.bill",
    "programme_ical": "writers.calendarfile",
    "programme_record": "writers.quantity_records",
    "read_done": "readers.worksfile",
    "read_dxf": "readers.drawingfile",
    "read_figures_of": "readers.measuredfile",
    "read_geojson": "readers.geofile",
    "read_ifc": "readers.modelfile",
    "read_levels": "readers.surveyfile",
    "read_measured": "readers.ticksfile",
    "read_plan": "readers.planfile",
    "read_points": "readers.surveyfile",
    "read_products": "readers.officefile",
    "read_rates": "readers.officefile",
    "read_survey": "readers.surveyfile",
    "read_text": "readers.texts",
    "read_ticks": "readers.ticksfile",
    "read_weather": "readers.worksfile",
    "reader_of": "readers.endings",
    "reread": "readers.foundplans",
    "readings_of": "changes.asked",
    "record_sheets": "record.record_sheet",
    "refit": "survey.remeasured",
    "revision_words": "changes.revision",
    "rooms_matched": "changes.match:pairs_of",
    "save_png": "writers.plot",
    "save_record_book": "writers.record_book",
    "save_workbook": "writers.workbook",
    "set_out": "setout.conduct",
    "setout_record": "writers.records",
    "shifted_by_lines": "changes.asked",
    "shortages": "quantities.stock",
    "site_record": "writers.site_records",
    "source_name": "readers.texts",
    "stage_sheets": "writers.save",
    "start_of": "programme.stages",
    "take_off": "quantities.takeoff",
    "takeoff_columns": "quantities.table:columns_of",
    "takeoff_csv": "writers.save",
    "takeoff_entries": "quantities.table:entries_of",
    "takeoff_record": "writers.quantity_records",
    "text_width": "sheets.lettering",
    "ticks_record": "writers.site_records",
    "tile_orders_of": "quantities.stock",
    "to_json": "writers.records",
    "together": "quantities.portfolio",
    "told_apart": "names",
    "told_of_rooms": "setout.told",
    "view": "writers.notebook",
    "what_would_free": "setout.freeing",
    "whole_or_nothing": "writers.files",
    "why_record": "writers.records",
    "with_kept": "writers.edits",
    "with_merge": "writers.edits",
    "with_starts": "writers.edits",
    "with_thing": "writers.edits",
    "with_values": "writers.edits",
    "works_with": "plan.works",
    "write_batch_xlsx": "writers.portfolio_book",
    "write_dxf": "writers.save",
    "write_pdf": "writers.save",
    "write_png": "writers.save",
    "write_svg": "writers.save",
    "write_whole": "writers.files",
    "write_xlsx": "writers.save",
}
"""Where each public name lives: its module, and its name there if it is another."""

__all__ = [
    "BILL_SECTIONS",
    "CODES",
    "FORMATS",
    "KEEP",
    "PAPER_SIZES",
    "UNITS",
    "Alternative",
    "AsBuilt",
    "Audit",
    "Batch",
    "Bill",
    "BillLine",
    "Budgets",
    "Calendar",
    "Changes",
    "CuttingPlan",
    "Difference",
    "Finding",
    "Found",
    "FoundRoom",
    "Freed",
    "Group",
    "GroupBy",
    "Item",
    "KeepingCost",
    "LayoutError",
    "Limit",
    "MarkChange",
    "Mended",
    "Order",
    "OutputError",
    "Plan",
    "PlanError",
    "PlanFaults",
    "PlanWork",
    "Point",
    "Portfolio",
    "Programme",
    "Rates",
    "Reading",
    "Residual",
    "RoomChange",
    "RoomSetOut",
    "Rule",
    "SetOut",
    "SetOutError",
    "Sheet",
    "Shortage",
    "StartFigures",
    "Survey",
    "TakeOff",
    "Ticks",
    "TileOrder",
    "Told",
    "Why",
    "Works",
    "adjust_levels",
    "adjust_survey",
    "air_refused",
    "alternatives",
    "alternatives_record",
    "as_built",
    "audit",
    "audited",
    "axes_of",
    "batch",
    "batch_csv",
    "batch_record",
    "batches_csv",
    "budgets_of",
    "carried_along",
    "changes_csv",
    "changes_record",
    "compare_setouts",
    "cut_stock",
    "cuts_csv",
    "cuts_record",
    "draw_changes",
    "draw_first",
    "draw_found",
    "draw_sheets",
    "drawing_content",
    "drawing_steps",
    "figures_in_room",
    "file_stem",
    "files_with",
    "finding_record",
    "found_plan",
    "grouped",
    "groups_csv",
    "job_changed",
    "job_text",
    "keep_built",
    "keep_lines",
    "keeping_costs",
    "keeping_record",
    "measured_readings",
    "mends_taken",
    "mixing_plan",
    "off_the_plan",
    "offered_mends",
    "one_file",
    "openings_of",
    "page_html",
    "parse_plan",
    "path_of",
    "place_orders",
    "plan_cuts",
    "plan_keys",
    "plan_schema",
    "plan_toml",
    "plan_work",
    "plan_works",
    "plans_of",
    "portable_stem",
    "price",
    "programme_ical",
    "programme_record",
    "read_done",
    "read_dxf",
    "read_figures_of",
    "read_geojson",
    "read_ifc",
    "read_levels",
    "read_measured",
    "read_plan",
    "read_points",
    "read_products",
    "read_rates",
    "read_survey",
    "read_text",
    "read_ticks",
    "read_weather",
    "reader_of",
    "readings_of",
    "record_sheets",
    "refit",
    "reread",
    "revision_words",
    "rooms_matched",
    "save_png",
    "save_record_book",
    "save_workbook",
    "set_out",
    "setout_record",
    "shifted_by_lines",
    "shortages",
    "site_record",
    "source_name",
    "stage_sheets",
    "start_of",
    "take_off",
    "takeoff_columns",
    "takeoff_csv",
    "takeoff_entries",
    "takeoff_record",
    "text_width",
    "ticks_record",
    "tile_orders_of",
    "to_json",
    "together",
    "told_apart",
    "told_of_rooms",
    "view",
    "what_would_free",
    "whole_or_nothing",
    "why_record",
    "with_kept",
    "with_merge",
    "with_starts",
    "with_thing",
    "with_values",
    "works_with",
    "write_batch_xlsx",
    "write_dxf",
    "write_pdf",
    "write_png",
    "write_svg",
    "write_whole",
    "write_xlsx",
]


def __getattr__(name: str) -> Any:  # noqa: ANN401
    if name == "__version__":
        from importlib.metadata import version  # noqa: PLC0415  # reads the installed package's own record: only when asked

        return version("gaugerod")
    if name not in _HOMES:
        msg = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(msg)
    module, _, own = _HOMES[name].partition(":")
    return getattr(import_module(f"layout.{module}"), own or name)


def __dir__() -> list[str]:
    return sorted(__all__)
