"""Which sheets a workbook has. What each column takes and where it is kept stands once, in its row's record here."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from traveller.exchange.workbook.sheets.orders import BATCHES, ORDERS, STOCK
from traveller.exchange.workbook.sheets.products import BILLS, PARTS
from traveller.exchange.workbook.sheets.routes import CHECKS, ROUTINGS
from traveller.exchange.workbook.sheets.sites import CLOSURES, LANES_SHEET, PEOPLE, SITES
from traveller.exchange.workbook.tables import Sheet

__all__ = ["SHEETS", "SHOWN_ONLY"]

# Sheets of the annotated template that are there to be looked at: an import leaves them alone without a word.
SHOWN_ONLY: Final = ("reference", "examples")

SHEETS: Final[Mapping[str, Sheet]] = {
    sheet.name: sheet
    for sheet in (SITES, LANES_SHEET, CLOSURES, PEOPLE, PARTS, BILLS, ROUTINGS, CHECKS, ORDERS, STOCK, BATCHES)
}
