"""The tote label: what is in the tote, how many, its state in word and shape, where it goes next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from traveller.paper import codes, typeset, words
from traveller.paper.canvas import QUIET_INK, RULE_INK, SIZES_MM, PaperSheet
from traveller.paper.marks import Status, draw_mark
from traveller.rules.codes import TravellerCode, show_code

LabelSize = Literal["A4", "Letter", "A6"]
LABEL_MM = SIZES_MM["A6"]
PAD_MM = 7.0
PICTURE_MM = 31.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ToteLabel:
    """One tote. Where the receiver is to count blind, quantity is None and the label says so."""

    code: TravellerCode
    public_address: str
    maker: str
    part: str
    variant: str = ""
    swatch_hex: str = ""
    picture: bytes | None = None
    lot: str
    quantity: int | Decimal | None
    unit: str = "pieces"
    how_counted: str = ""
    tote: int
    totes: int
    status: Status
    next_operation: str
    next_site: str
    labelled_on: date
    expires_on: date | None = None
    gross_weight: str = ""
    print_number: int = 1


def draw_tote_labels(contents: Sequence[ToteLabel], *, size: LabelSize) -> bytes:
    """Four labels a page of A4 or Letter, with cutting lines; or each on a page of its own, 105 x 148 mm."""
    if not contents:
        raise ValueError("no label to draw")
    titles = ", ".join(dict.fromkeys(show_code(content.code) for content in contents))
    sheet = PaperSheet(size, title=f"Tote labels {titles}", author=contents[0].maker)
    across = 1 if size == "A6" else 2
    for index, content in enumerate(contents):
        place = index % (across * across)
        if index and not place:
            sheet.next_page()
        if across == 2 and not place:
            _cutting_lines(sheet)
        left = (place % across) * sheet.width / across
        top = (place // across) * sheet.height / across
        _draw(sheet, content, left, top, sheet.width / across, sheet.height / across)
    return sheet.finish()


def _cutting_lines(sheet: PaperSheet) -> None:
    sheet.line(sheet.width / 2, 0, sheet.width / 2, sheet.height, pt=0.3, ink=RULE_INK)
    sheet.line(0, sheet.height / 2, sheet.width, sheet.height / 2, pt=0.3, ink=RULE_INK)


def _draw(sheet: PaperSheet, content: ToteLabel, left: float, top: float, wide: float, tall: float) -> None:
    x, y, width = left + PAD_MM, top + PAD_MM, wide - 2 * PAD_MM
    draw_mark(sheet, content.status.shape, x, y, 8)
    tote = f"tote {content.tote} of {content.totes}"
    used = typeset.width_mm(tote, "bold", 13)
    sheet.fitted(x + 10.5, y + 6.2, content.status.word, width=width - 13 - used, face="bold", pt=17, least_pt=8)
    sheet.text(x + width, y + 6, tote, face="bold", pt=13, align="right")
    sheet.rule(x, y + 10.5, width, pt=1.6)
    y = _draw_part(sheet, content, x, y + 12, width)
    y = _draw_quantity(sheet, content, x, y, width)
    _draw_facts(sheet, content, x, y, width)
    _draw_codes(sheet, content, x, top + tall - PAD_MM, width)


def _draw_part(sheet: PaperSheet, content: ToteLabel, x: float, y: float, width: float) -> float:
    room = width - (PICTURE_MM + 4 if content.picture is not None else 0)
    if content.picture is not None:
        sheet.picture(x + width - PICTURE_MM, y + 1, PICTURE_MM, PICTURE_MM, content.picture)
    size = typeset.fit_size(content.part, "bold", 26, room, least_pt=15)
    below = sheet.paragraph(x, y + 0.5, content.part, width=room, face="bold", pt=size, max_lines=2)
    if content.variant:
        shift = 0.0
        if content.swatch_hex:
            sheet.swatch(x, below + 1.6, 13, 6.5, content.swatch_hex)
            shift = 15.5
        sheet.fitted(x + shift, below + 6.6, content.variant, width=room - shift, face="bold", pt=17, least_pt=7)
    return y + PICTURE_MM + 3


def _draw_quantity(sheet: PaperSheet, content: ToteLabel, x: float, y: float, width: float) -> float:
    sheet.rule(x, y, width, ink=RULE_INK)
    if content.quantity is None:
        sheet.fitted(x, y + 9.5, "count on arrival", width=width, face="bold", pt=25)
        sheet.fitted(x, y + 15, "the sender's count is not shown", width=width, pt=9)
    else:
        shown = words.quantity_on_paper(content.quantity, content.unit)
        sheet.fitted(x, y + 10.3, shown, width=width, face="bold", pt=30, least_pt=10)
        sheet.fitted(x, y + 15, content.how_counted, width=width, pt=9)
    sheet.rule(x, y + 17.2, width, ink=RULE_INK)
    return y + 17.7


def _draw_facts(sheet: PaperSheet, content: ToteLabel, x: float, y: float, width: float) -> None:
    half = width / 2
    expires = words.day_on_paper(content.expires_on) if content.expires_on else "does not expire"
    facts = (
        ("lot", content.lot, "next", content.next_operation),
        ("date", words.day_on_paper(content.labelled_on), "at", content.next_site),
        ("use by", expires, "gross weight", content.gross_weight or "not weighed"),
    )
    for row in facts:
        for column, (label, value) in enumerate((row[0:2], row[2:4])):
            at = x + column * half
            sheet.fitted(at, y + 3.4, label, width=half - 3, pt=7, ink=QUIET_INK)
            sheet.fitted(at, y + 7.8, value, width=half - 3, face="bold", pt=12)
        y += 9.6


def _draw_codes(sheet: PaperSheet, content: ToteLabel, x: float, bottom: float, width: float) -> None:
    """Bars at the left, QR at the right: a laser scanner and a phone never catch each other's code."""
    qr = codes.qr(codes.address(content.public_address, content.code))
    side = qr.width_modules * codes.QR_LARGE_MM
    sheet.square(x + width - side, bottom - side, qr, module=codes.QR_LARGE_MM)
    room = width - side - codes.QR_QUIET_MODULES * codes.QR_LARGE_MM
    sheet.bars(x, bottom - 4.0 - codes.BAR_HEIGHT_LEAST_MM, codes.code128(content.code))
    sheet.fitted(
        x, bottom - 6.5 - codes.BAR_HEIGHT_LEAST_MM, show_code(content.code), width=room, face="code_bold", pt=22
    )
    who = f"print {content.print_number}  ·  {content.maker}"
    sheet.fitted(x, bottom, who, width=room - 2, pt=7, least_pt=5, ink=QUIET_INK)
