"""The packing list of one carton: what was ordered, what is in it, what follows. It never tells a price."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from traveller.paper import letterhead, table, words
from traveller.paper.canvas import MARGIN_MM, PaperSheet, PaperSize
from traveller.paper.letterhead import Party
from traveller.paper.table import PaperColumn
from traveller.paper.writing_box import WritingBox, draw_writing_box

__all__ = ["PackingLine", "PackingList", "Party", "draw_packing_list"]

FOOT_MM = 38.0
COLUMNS = (
    PaperColumn("Line", 12),
    PaperColumn("What it is", 66),
    PaperColumn("Ordered", 24, right=True),
    PaperColumn("In this carton", 28, right=True, face="bold"),
    PaperColumn("To follow", 24, right=True),
    PaperColumn("Lots", 40, face="code"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PackingLine:
    """One order line as far as this carton goes."""

    line: str
    product: str
    variant: str = ""
    ordered: int
    shipped: int
    to_follow: int
    unit: str = "pieces"
    lots: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PackingList:
    """A carton on paper; weights as they are to be read, packer and checker by name where known."""

    carton_code: str
    carton: int
    cartons: int
    order: str
    customers_reference: str = ""
    sender: Party
    receiver: Party
    packed_on: date
    lines: tuple[PackingLine, ...]
    # What of it may not be shipped, lot by lot, with why.
    stopped: tuple[str, ...] = ()
    net_weight: str = ""
    gross_weight: str = ""
    packer: str = ""
    checker: str = ""


def draw_packing_list(content: PackingList, *, size: PaperSize) -> bytes:
    """As many pages as the lines need, the carton's code on each."""
    sheet = PaperSheet(size, title=f"Packing list {content.carton_code}", author=content.sender.name)
    rows = [_cells(line) for line in content.lines]
    facts = _facts(content)
    later = sheet.height - MARGIN_MM - letterhead.PAGE_FOOT_MM - letterhead.HEAD_END_MM - table.HEAD_MM
    pages = table.share_widths(
        [table.row_height(sheet, COLUMNS, row) for row in rows],
        first=later - letterhead.facts_height(sheet, facts) - 2,
        later=later,
        foot=FOOT_MM,
    )
    carton = f"carton {content.carton} of {content.cartons}"
    for index, page in enumerate(pages):
        if index:
            sheet.next_page()
        of = f"page {index + 1} of {len(pages)}"
        kind = f"Packing list  ·  order {content.order}  ·  {carton}"
        top = letterhead.draw_head(
            sheet, kind=kind, number=content.carton_code, bars=content.carton_code, link="", page=of
        )
        if not index:
            top = letterhead.draw_facts(sheet, facts, top) + 2
        if page:
            top = table.draw_heads(sheet, COLUMNS, top)
        for at in page:
            top = table.draw_row(sheet, COLUMNS, rows[at], top)
        if index == len(pages) - 1:
            _draw_foot(sheet, content, top)
        letterhead.draw_page_foot(sheet, content.sender.name, f"{content.carton_code}  ·  {carton}  ·  {of}")
    return sheet.finish()


def _cells(line: PackingLine) -> tuple[str, ...]:
    what = f"{line.product}, {line.variant}" if line.variant else line.product
    follow = words.figure(line.to_follow) if line.to_follow else "nothing"
    shipped = words.quantity_on_paper(line.shipped, line.unit)
    return (line.line, what, words.figure(line.ordered), shipped, follow, ", ".join(line.lots))


def _facts(content: PackingList) -> list[list[tuple[str, tuple[str, ...]]]]:
    stopped = [[("Do not ship", content.stopped)]] if content.stopped else []
    return [
        *stopped,
        [
            ("From", (content.sender.name, *content.sender.lines())),
            ("To", (content.receiver.name, *content.receiver.lines())),
        ],
        [
            ("Order", (content.order,)),
            ("Your reference", (content.customers_reference or "none given",)),
            ("Packed", (words.day_on_paper(content.packed_on),)),
            ("Carton", (f"{content.carton} of {content.cartons}",)),
        ],
    ]


def _draw_foot(sheet: PaperSheet, content: PackingList, top: float) -> None:
    width = sheet.width - 2 * MARGIN_MM
    sheet.rule(MARGIN_MM, top, width, pt=0.8)
    quarter = width / 4
    boxes = (
        ("net weight", content.net_weight), ("gross weight", content.gross_weight),
        ("packed by", content.packer), ("checked by", content.checker),
    )  # fmt: skip
    for column, (label, value) in enumerate(boxes):
        x = MARGIN_MM + column * quarter
        draw_writing_box(sheet, x, top + 4, quarter, 17, WritingBox(label))
        sheet.fitted(x + 2, top + 15, value, width=quarter - 4, face="bold", pt=11.5)
    say = "Something missing or damaged? Keep the carton and tell us its code"
    call = f"{say}: {content.sender.phone}." if content.sender.phone else f"{say}."
    sheet.fitted(MARGIN_MM, top + 28, call, width=width, pt=10)
