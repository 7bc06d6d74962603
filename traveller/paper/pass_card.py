"""The site pass card: hung up at a shop, it opens the shop's own page on a phone."""

from __future__ import annotations

from dataclasses import dataclass, field

from traveller.paper import codes, typeset
from traveller.paper.canvas import MARGIN_MM, QUIET_INK, PaperSheet, PaperSize

LEFT_MM = MARGIN_MM + 9.0
QR_MODULE_MM = 12 * codes.DOT_MM


@dataclass(frozen=True, slots=True)
class PassWords:
    """The card's words, so that a site reads them in its own language."""

    kind: str = "Site pass"
    purpose: str = "Opens this shop's page on your phone: what is here, what to do next, and what you made."
    steps: tuple[str, ...] = (
        "Point the phone's camera at the square and open the link.",
        "Open it in the phone's own browser, not inside a chat.",
        "Tap your name. From then on, scan any traveller and it opens.",
    )
    by_hand: str = "Or type this address:"
    call: str = "Who to call"
    secret: str = (
        "This card is a key. Whoever scans it can report for this shop: send nobody a picture of it. "
        "Lost or copied? Call, and a new card replaces this one at once."
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PassCard:
    """A pass on paper; link is the whole address that opens it."""

    site: str
    maker: str
    link: str
    call: str
    words: PassWords = field(default_factory=PassWords)


def draw_pass_card(content: PassCard, *, size: PaperSize) -> bytes:
    """One page to hang on the wall."""
    said = content.words
    sheet = PaperSheet(size, title=f"{said.kind}: {content.site}", author=content.maker)
    width = sheet.width - 2 * LEFT_MM
    sheet.fitted(LEFT_MM, 26, f"{said.kind}  ·  {content.maker}", width=width, pt=12)
    size_pt = typeset.fit_size(content.site, "bold", 38, width, least_pt=22)
    y = sheet.paragraph(LEFT_MM, 31, content.site, width=width, face="bold", pt=size_pt, max_lines=3) + 4
    sheet.rule(LEFT_MM, y, width, pt=2.0)
    sheet.rule(LEFT_MM, y + 1, width, pt=0.5)
    y = sheet.paragraph(LEFT_MM, y + 5, said.purpose, width=width, pt=15) + 9
    qr = codes.qr(content.link)
    side = qr.width_modules * QR_MODULE_MM
    sheet.square(LEFT_MM, y, qr, module=QR_MODULE_MM)
    beside = LEFT_MM + side + codes.QR_QUIET_MODULES * QR_MODULE_MM + 3
    room = sheet.width - LEFT_MM - beside
    down = y
    for number, step in enumerate(said.steps, start=1):
        sheet.text(beside, down + 5.2, str(number), face="bold", pt=17)
        down = sheet.paragraph(beside + 9, down, step, width=room - 9, pt=13) + 4
    y = max(y + side + 10, down + 6)
    y = sheet.paragraph(LEFT_MM, y, said.by_hand, width=width, pt=11, ink=QUIET_INK) + 1
    y = sheet.paragraph(LEFT_MM, y, content.link, width=width, face="code", pt=13) + 8
    y = sheet.paragraph(LEFT_MM, y, said.call, width=width, pt=11, ink=QUIET_INK)
    y = sheet.paragraph(LEFT_MM, y, content.call, width=width, face="bold", pt=20) + 7
    sheet.rule(LEFT_MM, y, width, pt=0.5)
    sheet.paragraph(LEFT_MM, y + 3, said.secret, width=width, pt=11)
    return sheet.finish()
