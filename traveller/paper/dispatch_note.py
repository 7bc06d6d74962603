"""The dispatch note: with quantities for the sender, without for the receiver, whose count is blind."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Literal

from traveller.paper import codes, letterhead, table, words
from traveller.paper.canvas import MARGIN_MM, PaperSheet, PaperSize
from traveller.paper.letterhead import Party
from traveller.paper.table import PaperColumn
from traveller.paper.writing_box import WritingBox, draw_writing_box
from traveller.rules.codes import TravellerCode, show_code

__all__ = ["DispatchLine", "DispatchNote", "NotePurpose", "Party", "draw_dispatch_note"]

NotePurpose = Literal["processing", "free issue", "stock", "sale", "return"]
FOOT_MM = 52.0
BLIND = "Count before you ask the sender, and write your own count. A difference is settled afterwards."
SENDERS_COLUMNS = (
    PaperColumn("Tote", 10),
    PaperColumn("Lot", 24, face="code"),
    PaperColumn("What it is", 62),
    PaperColumn("Quantity", 32, right=True, face="bold"),
    PaperColumn("How counted", 32),
    PaperColumn("Property of", 34),
)
RECEIVERS_COLUMNS = (
    PaperColumn("Tote", 10),
    PaperColumn("Lot", 24, face="code"),
    PaperColumn("What it is", 62),
    PaperColumn("Your count", 32, writing=True),
    PaperColumn("How you counted", 32, writing=True),
    PaperColumn("Property of", 34),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DispatchLine:
    """One tote or package of the consignment."""

    tote: str
    lot: str
    what: str
    quantity: int | Decimal
    unit: str
    how_counted: str = ""
    property_of: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DispatchNote:
    """A consignment. sent_at carries the sender's zone; returnables must not tell quantities of parts."""

    number: str
    code: TravellerCode
    public_address: str
    sender: Party
    receiver: Party
    sent_at: datetime
    carrier: str
    purpose: NotePurpose
    lines: tuple[DispatchLine, ...]
    returnables: str = ""
    remarks: str = ""
    sent_by: str = ""
    # Why this note does not count, or not whole: taken back, when and by whom.
    struck: str = ""


def draw_dispatch_note(content: DispatchNote, *, size: PaperSize) -> bytes:
    """Both copies in one file: first the sender's, then the receiver's, which tells no quantity."""
    sheet = PaperSheet(size, title=f"Dispatch note {content.number}", author=content.sender.name)
    _draw_copy(sheet, content, receivers=False)
    sheet.next_page()
    _draw_copy(sheet, content, receivers=True)
    return sheet.finish()


def _cells(line: DispatchLine, *, receivers: bool) -> tuple[str, ...]:
    counted = ("", "") if receivers else (words.quantity_on_paper(line.quantity, line.unit), line.how_counted)
    return (line.tote, line.lot, line.what, *counted, line.property_of)


def _facts(content: DispatchNote) -> list[list[tuple[str, tuple[str, ...]]]]:
    rows: list[list[tuple[str, tuple[str, ...]]]] = [
        [
            ("From", (content.sender.name, *content.sender.lines())),
            ("To", (content.receiver.name, *content.receiver.lines())),
        ],
        [
            ("Sent", _sent(content)),
            ("Carrier", (content.carrier,)),
            ("Sent for", (content.purpose,)),
            ("Comes back empty", (content.returnables or "nothing",)),
        ],
    ]
    return rows + ([[("Remarks", (content.remarks,))]] if content.remarks else [])


def _sent(content: DispatchNote) -> tuple[str, ...]:
    when = (words.day_on_paper(content.sent_at), words.clock_on_paper(content.sent_at))
    return (*when, content.sent_by) if content.sent_by else when


def _draw_copy(sheet: PaperSheet, content: DispatchNote, *, receivers: bool) -> None:
    columns = RECEIVERS_COLUMNS if receivers else SENDERS_COLUMNS
    rows = [_cells(line, receivers=receivers) for line in content.lines]
    facts = _facts(content)
    bottom = sheet.height - MARGIN_MM - letterhead.PAGE_FOOT_MM
    later = bottom - letterhead.HEAD_END_MM - table.HEAD_MM
    pages = table.share_widths(
        [table.row_height(sheet, columns, row) for row in rows],
        first=later - letterhead.facts_height(sheet, facts) - (10 if receivers else 2) - (9 if content.struck else 0),
        later=later,
        foot=FOOT_MM,
    )
    copy = "receiver's copy" if receivers else "sender's copy"
    for index, page in enumerate(pages):
        if index:
            sheet.next_page()
        top = letterhead.draw_head(
            sheet,
            kind=f"Dispatch note  ·  {copy}",
            number=content.number,
            bars=content.code,
            link=codes.address(content.public_address, content.code),
            page=f"{show_code(content.code)}  ·  page {index + 1} of {len(pages)}",
        )
        if not index:
            top = letterhead.draw_facts(sheet, facts, top) + 2
            if content.struck:
                sheet.fitted(MARGIN_MM, top + 5, content.struck, width=sheet.width - 2 * MARGIN_MM, face="bold", pt=14)
                top += 9
            if receivers:
                sheet.fitted(MARGIN_MM, top + 4, BLIND, width=sheet.width - 2 * MARGIN_MM, face="bold", pt=10.5)
                top += 8
        if page:
            top = table.draw_heads(sheet, columns, top)
        for at in page:
            top = table.draw_row(sheet, columns, rows[at], top)
        if index == len(pages) - 1:
            _draw_foot(sheet, content, top, receivers=receivers)
        _draw_page_foot(sheet, content, copy, index + 1, len(pages))


def _draw_foot(sheet: PaperSheet, content: DispatchNote, top: float, *, receivers: bool) -> None:
    width = sheet.width - 2 * MARGIN_MM
    sheet.rule(MARGIN_MM, top, width, pt=0.8)
    top += 3
    if not receivers:
        totals: dict[str, int | Decimal] = {}
        for line in content.lines:
            totals[line.unit] = totals.get(line.unit, 0) + line.quantity
        whole = words.listed(tuple(words.quantity_on_paper(number, unit) for unit, number in totals.items()))
        said = f"Together {whole} in {words.quantity_on_paper(len(content.lines), 'totes')}."
        sheet.fitted(MARGIN_MM, top + 4, said, width=width, face="bold", pt=11)
    else:
        sheet.fitted(
            MARGIN_MM,
            top + 4,
            f"{words.quantity_on_paper(len(content.lines), 'totes')}.",
            width=width,
            face="bold",
            pt=11,
        )
    top += 8
    third = width / 3
    for column, label in enumerate(("sent by: name, date, time", "carried by: name", "received by: name, date, time")):
        draw_writing_box(sheet, MARGIN_MM + column * third, top, third, 17, WritingBox(label))
    what = "damage, wet, missing, wrong: what the receiver found" if receivers else "remarks"
    draw_writing_box(sheet, MARGIN_MM, top + 17, width, 16, WritingBox(what))


def _draw_page_foot(sheet: PaperSheet, content: DispatchNote, copy: str, page: int, pages: int) -> None:
    call = f"{content.sender.name}, {content.sender.phone}" if content.sender.phone else content.sender.name
    letterhead.draw_page_foot(sheet, call, f"{content.number}  ·  {copy}  ·  page {page} of {pages}")
