"""Which sheets a workbook has. What each column takes and where it is kept stands once, in its row's record here."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from traveller.exchange.workbook.sheets.orders import BATCHES, ORDERS, STOCK
from traveller.exchange.workbook.sheets.products import BILLS, CHECKS, PARTS, ROUTINGS
from traveller.exchange.workbook.sheets.sites import CLOSURES, LANES_SHEET, PEOPLE, SITES
from traveller.exchange.workbook.tables import Sheet

__all__ = ["SHEETS"]

SHEETS: Final[Mapping[str, Sheet]] = {
    sheet.name: sheet
    for sheet in (SITES, LANES_SHEET, CLOSURES, PEOPLE, PARTS, BILLS, ROUTINGS, CHECKS, ORDERS, STOCK, BATCHES)
}
