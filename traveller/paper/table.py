"""Rows over pages: which row goes on which page, and a plain table with hairlines and boxes to write in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from traveller.paper import typeset
from traveller.paper.canvas import MARGIN_MM, RULE_INK, Align, PaperSheet
from traveller.paper.fonts import Face

HEAD_MM = 7.5
CELL_PT = 10.0
LEAST_ROW_MM = 10.5
GUTTER_MM = 2.5


@dataclass(frozen=True, slots=True)
class PaperColumn:
    """A column: its heading, its share of the width, how it is set; a writing column is an empty box."""

    label: str
    share: float
    right: bool = False
    face: Face = "plain"
    writing: bool = False


def share_widths(heights: Sequence[float], *, first: float, later: float, foot: float) -> list[list[int]]:
    """Indices of rows by page, none broken; the last page keeps room for the foot."""
    pages: list[list[int]] = [[]]
    room = first
    for index, height in enumerate(heights):
        if height > room:
            pages.append([])
            room = later
        pages[-1].append(index)
        room -= height
    if room < foot:
        pages.append([])
    return pages


def _widths(sheet: PaperSheet, columns: Sequence[PaperColumn]) -> list[float]:
    whole = sum(column.share for column in columns)
    return [(sheet.width - 2 * MARGIN_MM) * column.share / whole for column in columns]


def row_height(sheet: PaperSheet, columns: Sequence[PaperColumn], cells: Sequence[str]) -> float:
    """The height of a row whose texts are all wrapped and never cut."""
    lines = [
        len(typeset.wrap(cell, column.face, CELL_PT, width - GUTTER_MM))
        for column, cell, width in zip(columns, cells, _widths(sheet, columns), strict=True)
    ]
    return max(LEAST_ROW_MM, max(lines) * typeset.leading_mm(CELL_PT) + 4.5)


def draw_heads(sheet: PaperSheet, columns: Sequence[PaperColumn], top: float) -> float:
    """The headings between two rules."""
    sheet.rule(MARGIN_MM, top, sheet.width - 2 * MARGIN_MM, pt=0.8)
    x = MARGIN_MM
    for column, width in zip(columns, _widths(sheet, columns), strict=True):
        at = x + width - GUTTER_MM if column.right else x
        align: Align = "right" if column.right else "left"
        sheet.fitted(at, top + 5, column.label, width=width - GUTTER_MM, face="bold", pt=8.5, least_pt=6, align=align)
        x += width
    return top + HEAD_MM


def draw_row(sheet: PaperSheet, columns: Sequence[PaperColumn], cells: Sequence[str], top: float) -> float:
    """One row under a hairline; gives the y below it."""
    height = row_height(sheet, columns, cells)
    sheet.rule(MARGIN_MM, top, sheet.width - 2 * MARGIN_MM, ink=RULE_INK)
    x = MARGIN_MM
    leading = typeset.leading_mm(CELL_PT)
    for column, cell, width in zip(columns, cells, _widths(sheet, columns), strict=True):
        if column.writing:
            sheet.box(x, top + 1, width - GUTTER_MM, height - 2)
        else:
            at = x + width - GUTTER_MM if column.right else x
            align: Align = "right" if column.right else "left"
            for number, line in enumerate(typeset.wrap(cell, column.face, CELL_PT, width - GUTTER_MM)):
                base = top + 2.2 + leading * (number + 0.78)
                sheet.text(at, base, line, face=column.face, pt=CELL_PT, align=align)
        x += width
    return top + height
