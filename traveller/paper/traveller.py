"""The traveller: the sheet that goes with a batch from site to site, a row and a phone code a step."""

from __future__ import annotations

from traveller.paper import traveller_head, traveller_rows
from traveller.paper.canvas import MARGIN_MM, PaperSheet, PaperSize
from traveller.paper.table import share_widths
from traveller.paper.traveller_facts import Traveller
from traveller.rules.codes import show_code

__all__ = ["draw_traveller"]

PAGE_FOOT_MM = 7.0


def draw_traveller(content: Traveller, *, size: PaperSize) -> bytes:
    """As many pages as the route needs, the code and its QR on each; a row never breaks over pages."""
    sheet = PaperSheet(size, title=f"Traveller {show_code(content.code)}", author=content.maker)
    bottom = sheet.height - MARGIN_MM - PAGE_FOOT_MM
    first_top = traveller_head.full_height(sheet, content)
    columns = traveller_rows.Columns.on(sheet, content)
    pages = _share_out(sheet, content, columns, first=bottom - first_top, later=bottom - traveller_head.COMPACT_END_MM)
    for index, rows in enumerate(pages):
        if index:
            sheet.next_page()
            top = traveller_head.draw_compact(sheet, content, index + 1, len(pages))
        else:
            top = traveller_head.draw_full(sheet, content, len(pages))
        if rows:
            top = traveller_rows.draw_column_heads(sheet, columns, top)
        for row in rows:
            top = traveller_rows.draw_row(sheet, content, columns, row, top)
        if index == len(pages) - 1:
            traveller_rows.draw_foot(sheet, content, top)
        traveller_head.draw_page_foot(sheet, content, index + 1, len(pages))
    return sheet.finish()


def _share_out(
    sheet: PaperSheet, content: Traveller, columns: traveller_rows.Columns, *, first: float, later: float
) -> list[list[traveller_rows.StepRow]]:
    """Rows by page; the last page keeps room for the foot."""
    head = traveller_rows.COLUMN_HEADS_MM
    rows = [traveller_rows.measured_rows(step, columns, most=later - head) for step in content.steps]
    heights = [row.height for row in rows]
    pages = share_widths(
        heights, first=first - head, later=later - head, foot=traveller_rows.foot_height(sheet, content)
    )
    return [[rows[index] for index in page] for page in pages]
