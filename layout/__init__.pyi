# Every public name and where it lives: `from home import name as name`; where it is called otherwise at home, `name = its name there`.
# The type checker reads this file, and so does the package itself (`layout/lazily.py`): a name is declared here and nowhere else.

from layout.budgets import Budgets as Budgets
from layout.budgets import budgets_of as budgets_of
from layout.budgets import in_force as in_force
from layout.budgets import with_bounds as with_bounds
from layout.changes.asked import figures_in_room as figures_in_room
from layout.changes.asked import readings_of as readings_of
from layout.changes.asked import shifted_by_lines as shifted_by_lines
from layout.changes.compare import compare_setouts as compare_setouts
from layout.changes.cost import KeepingCost as KeepingCost
from layout.changes.cost import keeping_costs as keeping_costs
from layout.changes.keep import KEEP as KEEP
from layout.changes.keep import keep_built as keep_built
from layout.changes.keep import keep_lines as keep_lines
from layout.changes.match import pairs_of
from layout.changes.mends import Mended as Mended
from layout.changes.mends import mends_taken as mends_taken
from layout.changes.mends import offered_mends as offered_mends
from layout.changes.revision import revision_words as revision_words
from layout.changes.values import Changes as Changes
from layout.changes.values import Difference as Difference
from layout.changes.values import MarkChange as MarkChange
from layout.changes.values import RoomChange as RoomChange
from layout.changes.variants import Alternative as Alternative
from layout.changes.variants import compare
from layout.codes import CODES as CODES
from layout.errors import Finding as Finding
from layout.errors import LayoutError as LayoutError
from layout.errors import OutputError as OutputError
from layout.errors import PlanError as PlanError
from layout.errors import PlanFaults as PlanFaults
from layout.errors import Point as Point
from layout.errors import Rule as Rule
from layout.errors import SetOutError as SetOutError
from layout.jobs.runner import batch as batch
from layout.names import portable_stem as portable_stem
from layout.names import told_apart as told_apart
from layout.plan.values import Plan as Plan
from layout.plan.works import Works as Works
from layout.plan.works import works_with as works_with
from layout.programme.air import refused
from layout.programme.calendar import Calendar as Calendar
from layout.programme.laid_on import laying_days as laying_days
from layout.programme.stages import plan_works as plan_works
from layout.programme.stages import start_of as start_of
from layout.programme.values import Programme as Programme
from layout.quantities.bill import SECTIONS, TITLES, Line
from layout.quantities.bill import Bill as Bill
from layout.quantities.bill import Rates as Rates
from layout.quantities.bill import price as price
from layout.quantities.cutting import CuttingPlan as CuttingPlan
from layout.quantities.cutting import plan_cuts as plan_cuts
from layout.quantities.groups import By
from layout.quantities.groups import Group as Group
from layout.quantities.groups import grouped as grouped
from layout.quantities.mixing import mixing_plan as mixing_plan
from layout.quantities.needs import PlanWork as PlanWork
from layout.quantities.orders import Order as Order
from layout.quantities.orders import place_orders as place_orders
from layout.quantities.portfolio import Portfolio as Portfolio
from layout.quantities.portfolio import together as together
from layout.quantities.sawing_order import SAW_ORDERS as SAW_ORDERS
from layout.quantities.sawing_order import SawGroup as SawGroup
from layout.quantities.sawing_order import SawOrder as SawOrder
from layout.quantities.sawing_order import saw_groups as saw_groups
from layout.quantities.solver import cut_stock as cut_stock
from layout.quantities.stock import Shortage as Shortage
from layout.quantities.stock import TileOrder as TileOrder
from layout.quantities.stock import shortages as shortages
from layout.quantities.stock import tile_orders_of as tile_orders_of
from layout.quantities.table import columns_of, entries_of
from layout.quantities.takeoff import take_off as take_off
from layout.quantities.values import Item as Item
from layout.quantities.values import TakeOff as TakeOff
from layout.readers.drawingcontent import read_content
from layout.readers.drawingfile import UNITS as UNITS
from layout.readers.drawingfile import read_dxf as read_dxf
from layout.readers.endings import reader_of as reader_of
from layout.readers.foundplans import axes_of as axes_of
from layout.readers.foundplans import plans_of as plans_of
from layout.readers.foundplans import reread as reread
from layout.readers.geofile import read_geojson as read_geojson
from layout.readers.jobfile import files_with as files_with
from layout.readers.measuredfile import read_figures_of as read_figures_of
from layout.readers.modelfile import read_ifc as read_ifc
from layout.readers.officefile import read_products as read_products
from layout.readers.officefile import read_rates as read_rates
from layout.readers.planfile import parse_plan as parse_plan
from layout.readers.planfile import plan_schema as plan_schema
from layout.readers.planfile import read_plan as read_plan
from layout.readers.surveyfile import read_levels as read_levels
from layout.readers.surveyfile import read_points as read_points
from layout.readers.surveyfile import read_survey as read_survey
from layout.readers.texts import read_text as read_text
from layout.readers.texts import source_name as source_name
from layout.readers.ticksfile import measured_readings as measured_readings
from layout.readers.ticksfile import read_measured as read_measured
from layout.readers.ticksfile import read_ticks as read_ticks
from layout.readers.workfile import plan_work as plan_work
from layout.readers.worksfile import read_done as read_done
from layout.readers.worksfile import read_weather as read_weather
from layout.record.handing import AsBuilt as AsBuilt
from layout.record.handing import as_built as as_built
from layout.record.record_sheet import record_sheets as record_sheets
from layout.record.values import Ticks as Ticks
from layout.setout.conduct import set_out as set_out
from layout.setout.freeing import Freed as Freed
from layout.setout.freeing import Limit as Limit
from layout.setout.freeing import StartFigures as StartFigures
from layout.setout.freeing import Why as Why
from layout.setout.freeing import gauge_offered as gauge_offered
from layout.setout.freeing import what_would_free as what_would_free
from layout.setout.ledger import Residual as Residual
from layout.setout.residuals import Audit as Audit
from layout.setout.residuals import audit as audit
from layout.setout.residuals import audited as audited
from layout.setout.runs import Run as Run
from layout.setout.runs import runs_of as runs_of
from layout.setout.told import Told as Told
from layout.setout.told import told_of_rooms as told_of_rooms
from layout.setout.values import RoomSetOut as RoomSetOut
from layout.setout.values import SetOut as SetOut
from layout.sheets.change_sheet import change_sheets
from layout.sheets.draw import draw_first as draw_first
from layout.sheets.draw import draw_sheets as draw_sheets
from layout.sheets.found_sheet import found_sheet
from layout.sheets.lettering import text_width as text_width
from layout.sheets.paper import SIZES
from layout.sheets.scene import Sheet as Sheet
from layout.survey.adjust import Survey as Survey
from layout.survey.adjust import adjust
from layout.survey.drafts import found_plan as found_plan
from layout.survey.found import Found as Found
from layout.survey.found import FoundRoom as FoundRoom
from layout.survey.found import file_stem as file_stem
from layout.survey.found import openings_of as openings_of
from layout.survey.jobdraft import job_changed as job_changed
from layout.survey.jobdraft import job_text as job_text
from layout.survey.levels import adjust_levels as adjust_levels
from layout.survey.readings import Reading as Reading
from layout.survey.remeasured import carried_along as carried_along
from layout.survey.remeasured import off_the_plan as off_the_plan
from layout.survey.remeasured import refit as refit
from layout.words import LANGUAGES as LANGUAGES
from layout.writers.calendarfile import programme_ical as programme_ical
from layout.writers.change_records import changes_csv as changes_csv
from layout.writers.change_records import changes_record as changes_record
from layout.writers.change_records import keeping_record as keeping_record
from layout.writers.cut_records import cuts_csv as cuts_csv
from layout.writers.cut_records import cuts_record as cuts_record
from layout.writers.edits import path_of as path_of
from layout.writers.edits import with_kept as with_kept
from layout.writers.edits import with_merge as with_merge
from layout.writers.edits import with_starts as with_starts
from layout.writers.edits import with_thing as with_thing
from layout.writers.edits import with_values as with_values
from layout.writers.files import Batch as Batch
from layout.writers.files import one_file as one_file
from layout.writers.files import whole_or_nothing as whole_or_nothing
from layout.writers.files import write_whole as write_whole
from layout.writers.notebook import view as view
from layout.writers.page.assemble import page_html as page_html
from layout.writers.planfile import plan_keys as plan_keys
from layout.writers.planfile import plan_toml as plan_toml
from layout.writers.plot import save_png as save_png
from layout.writers.portfolio_book import batch_csv as batch_csv
from layout.writers.portfolio_book import batch_record as batch_record
from layout.writers.portfolio_book import write_batch_xlsx as write_batch_xlsx
from layout.writers.quantity_records import batches_csv as batches_csv
from layout.writers.quantity_records import programme_record as programme_record
from layout.writers.quantity_records import takeoff_record as takeoff_record
from layout.writers.record_book import save_record_book as save_record_book
from layout.writers.records import compare_record
from layout.writers.records import setout_record as setout_record
from layout.writers.records import to_json as to_json
from layout.writers.records import why_record as why_record
from layout.writers.rounded import finding_record as finding_record
from layout.writers.save import FORMATS as FORMATS
from layout.writers.save import groups_csv as groups_csv
from layout.writers.save import stage_sheets as stage_sheets
from layout.writers.save import steps
from layout.writers.save import takeoff_csv as takeoff_csv
from layout.writers.save import write_dxf as write_dxf
from layout.writers.save import write_pdf as write_pdf
from layout.writers.save import write_png as write_png
from layout.writers.save import write_svg as write_svg
from layout.writers.save import write_xlsx as write_xlsx
from layout.writers.site_records import site_record as site_record
from layout.writers.site_records import ticks_record as ticks_record
from layout.writers.workbook import save_workbook as save_workbook

BILL_SECTIONS = SECTIONS
BILL_TITLES = TITLES
BillLine = Line
GroupBy = By
PAPER_SIZES = SIZES
adjust_survey = adjust
air_refused = refused
alternatives = compare
alternatives_record = compare_record
draw_changes = change_sheets
draw_found = found_sheet
drawing_content = read_content
drawing_steps = steps
rooms_matched = pairs_of
takeoff_columns = columns_of
takeoff_entries = entries_of

__all__: list[str]  # noqa: PYI035  # found from the lines above when it is asked for
__version__: str
