"""What notes and lists share: a head with number, bars and QR, facts in columns, a page foot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from traveller.paper import codes, typeset
from traveller.paper.canvas import MARGIN_MM, QUIET_INK, PaperSheet
from traveller.paper.fonts import Face

HEAD_END_MM = MARGIN_MM + 36.0
PAGE_FOOT_MM = 7.0
FACT_PT = 10.5


@dataclass(frozen=True, slots=True)
class Party:
    """A firm with its address, line by line, and whom to call there."""

    name: str
    address: tuple[str, ...] = ()
    phone: str = ""

    def lines(self) -> tuple[str, ...]:
        """Address and phone, without the name."""
        return (*self.address, self.phone) if self.phone else self.address


def draw_head(sheet: PaperSheet, *, kind: str, number: str, bars: str, link: str, page: str) -> float:
    """Kind and number large, Code 128 below, the QR (if there is a link) well apart from the bars."""
    right = sheet.width - MARGIN_MM
    side = 0.0
    if link:
        qr = codes.qr(link)
        side = qr.width_modules * codes.QR_LARGE_MM + 6
        sheet.square(right - side + 6, MARGIN_MM, qr, module=codes.QR_LARGE_MM)
    width = right - side - MARGIN_MM
    sheet.fitted(MARGIN_MM, MARGIN_MM + 3, f"{kind}  ·  {page}", width=width, pt=9.5)
    sheet.fitted(MARGIN_MM, MARGIN_MM + 14.6, number, width=width, face="code_bold", pt=32, least_pt=14)
    sheet.bars(MARGIN_MM, MARGIN_MM + 18, codes.code128(bars))
    sheet.rule(MARGIN_MM, HEAD_END_MM - 2.5, right - MARGIN_MM, pt=2.0)
    sheet.rule(MARGIN_MM, HEAD_END_MM - 1.5, right - MARGIN_MM, pt=0.5)
    return HEAD_END_MM


def fact_height(fact: tuple[str, Sequence[str]], width: float) -> float:
    """The height of one fact with all its lines wrapped."""
    lines = sum(len(typeset.wrap(line, "bold", FACT_PT, width - 4)) for line in fact[1])
    return 6.0 + max(1, lines) * typeset.leading_mm(FACT_PT)


def facts_height(sheet: PaperSheet, rows: Sequence[Sequence[tuple[str, Sequence[str]]]]) -> float:
    """The height of all rows of facts."""
    width = sheet.width - 2 * MARGIN_MM
    return sum(max(fact_height(fact, width / len(row)) for fact in row) for row in rows)


def draw_facts(sheet: PaperSheet, rows: Sequence[Sequence[tuple[str, Sequence[str]]]], top: float) -> float:
    """Label small, first line bold, further lines plain; each row in columns of equal width."""
    whole = sheet.width - 2 * MARGIN_MM
    for row in rows:
        width = whole / len(row)
        for index, (label, lines) in enumerate(row):
            x = MARGIN_MM + index * width
            sheet.fitted(x, top + 3.4, label, width=width - 4, pt=7.5, least_pt=6, ink=QUIET_INK)
            y = top + 4.4
            for number, line in enumerate(lines):
                face: Face = "plain" if number else "bold"
                y = sheet.paragraph(x, y, line, width=width - 4, face=face, pt=FACT_PT)
        top += max(fact_height(fact, width) for fact in row)
    return top


def draw_page_foot(sheet: PaperSheet, left: str, right: str) -> None:
    """One quiet line at the foot of a page."""
    y = sheet.height - MARGIN_MM
    width = sheet.width - 2 * MARGIN_MM
    used = typeset.width_mm(right, "plain", 7.5)
    sheet.fitted(MARGIN_MM, y, left, width=width - used - 5, pt=7.5, least_pt=6, ink=QUIET_INK)
    sheet.text(MARGIN_MM + width, y, right, pt=7.5, ink=QUIET_INK, align="right")
