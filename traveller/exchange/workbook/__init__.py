"""The workbook: sites, products, orders and stock as a folder of CSV files or one XLSX."""

from __future__ import annotations

from traveller.exchange.workbook.apply import apply, import_workbook
from traveller.exchange.workbook.confirming import consequences
from traveller.exchange.workbook.current import from_database
from traveller.exchange.workbook.known import Known, KnownPart
from traveller.exchange.workbook.problems import Counts, Doubt, Problem, Report, Unconfirmed, stopped_by
from traveller.exchange.workbook.raw import RawBook
from traveller.exchange.workbook.reading import read_raw, read_workbook
from traveller.exchange.workbook.reference import kinds_said, reference_text, sheets_said
from traveller.exchange.workbook.rows import Workbook
from traveller.exchange.workbook.template import template_xlsx, write_template_folder
from traveller.exchange.workbook.writing import as_zip, write_csv_folder, write_xlsx

__all__ = [
    "Counts",
    "Doubt",
    "Known",
    "KnownPart",
    "Problem",
    "RawBook",
    "Report",
    "Unconfirmed",
    "Workbook",
    "apply",
    "as_zip",
    "consequences",
    "from_database",
    "import_workbook",
    "kinds_said",
    "read_raw",
    "read_workbook",
    "reference_text",
    "sheets_said",
    "stopped_by",
    "template_xlsx",
    "write_csv_folder",
    "write_template_folder",
    "write_xlsx",
]
