"""The traveller's head: whole on the first page, short on the others, and the line at each page's foot."""

from __future__ import annotations

from traveller.paper import codes, letterhead, typeset, words
from traveller.paper.canvas import MARGIN_MM, QUIET_INK, RULE_INK, PaperSheet
from traveller.paper.marks import draw_mark
from traveller.paper.traveller_facts import Traveller
from traveller.rules.codes import show_code

CODE_PT = 46.0
BARS_TOP_MM = MARGIN_MM + 21.0
BARS_MM = 13.0
NAME_TOP_MM = BARS_TOP_MM + BARS_MM + 3.5
NAME_PT = 20.0
PICTURE_MM = 33.0
SWATCH_MM = 15.0
FACT_PT = 10.5
FACT_LABEL_PT = 7.5
HELD_PT = 11.0
COMPACT_BARS_TOP_MM = MARGIN_MM + 9.5
COMPACT_END_MM = COMPACT_BARS_TOP_MM + 17.5


def _name(content: Traveller) -> str:
    return f"{content.product}, {content.variant}" if content.variant else content.product


def _print_words(content: Traveller) -> str:
    if content.print_number < 2:
        return f"print {content.print_number}"
    return f"print {content.print_number} replaces print {content.print_number - 1}"


def _facts(content: Traveller) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Label and lines, only of what is known; two rows of four where all is."""
    start: tuple[str, ...] = (words.quantity_on_paper(content.start, content.unit),)
    if content.shots is not None:
        start = (*start, f"in {words.quantity_on_paper(content.shots, 'shots')}")
    tool: tuple[str, ...] = (content.tool,)
    if content.cavities_open is not None:
        of = f" of {content.cavities}" if content.cavities is not None else ""
        noun = "cavity" if (content.cavities or content.cavities_open) == 1 else "cavities"
        tool = (*tool, f"{content.cavities_open}{of} {noun} open")
    lot = f"lot {content.material_lot}" if content.material_lot else ""
    facts = (
        ("Order" if len(content.orders) == 1 else "Orders", (words.listed(content.orders),)),
        (f"Due at {content.destination}", (words.day_on_paper(content.due) if content.due else "no date promised",)),
        ("Start", start),
        ("Wanted", (f"{words.figure(content.wanted)} good",)),
        ("Mould or tool", tool),
        ("Material, lot", (content.material, lot)),
        ("Owner of the material", (content.material_owner,)),
        ("Goes to", (content.destination,)),
    )
    kept = ((label, tuple(line for line in lines if line)) for label, lines in facts)
    return tuple((label, lines) for label, lines in kept if lines)


def _fact_rows(
    sheet: PaperSheet, content: Traveller
) -> tuple[float, list[tuple[tuple[str, tuple[str, ...]], ...]], list[float]]:
    """Column width, facts four by four with their wrapped lines, and the height of each row."""
    width = (sheet.width - 2 * MARGIN_MM) / 4
    facts = tuple(
        (
            label,
            tuple(wrapped for line in lines for wrapped in typeset.wrap(line, "bold", FACT_PT, width - 4)),
        )
        for label, lines in _facts(content)
    )
    rows = [facts[at : at + 4] for at in range(0, len(facts), 4)]
    heights = [5.5 + typeset.leading_mm(FACT_PT) * max(len(lines) for _, lines in row) for row in rows]
    return width, rows, heights


def _name_lines(sheet: PaperSheet, content: Traveller) -> tuple[float, tuple[str, ...], float]:
    """Size, lines and width of the product's name; it leaves room for swatch and revision."""
    width = sheet.width - 2 * MARGIN_MM - 62
    size = typeset.fit_size(_name(content), "bold", NAME_PT, width, least_pt=15)
    return size, typeset.wrap(_name(content), "bold", size, width, 3), width


def full_height(sheet: PaperSheet, content: Traveller) -> float:
    """The y at which the first page's rows begin."""
    size, lines, _ = _name_lines(sheet, content)
    _, _, heights = _fact_rows(sheet, content)
    held = _held_height(sheet, content)
    return NAME_TOP_MM + len(lines) * typeset.leading_mm(size) + 4.5 + sum(heights) + held + 8


def draw_full(sheet: PaperSheet, content: Traveller, pages: int) -> float:
    """Code, bars, QR, product, facts and what to do if found; gives the y below."""
    right = sheet.width - MARGIN_MM
    line = f"Traveller  ·  {_print_words(content)}  ·  page 1 of {pages}"
    sheet.text(MARGIN_MM, MARGIN_MM + 3, line, pt=9.5)
    sheet.text(MARGIN_MM - 0.6, MARGIN_MM + 17.6, show_code(content.code), face="code_bold", pt=CODE_PT)
    sheet.bars(MARGIN_MM, BARS_TOP_MM, codes.code128(content.code), height=BARS_MM)
    qr = codes.qr(codes.address(content.public_address, content.code))
    side = qr.width_modules * codes.QR_LARGE_MM
    sheet.square(right - side, MARGIN_MM, qr, module=codes.QR_LARGE_MM)
    sheet.text(right, MARGIN_MM + side + 6.5, "scan by phone", pt=8, align="right")
    if content.picture is not None:
        sheet.picture(right - side - 10 - PICTURE_MM, MARGIN_MM, PICTURE_MM, PICTURE_MM, content.picture)
    y = _draw_name(sheet, content) + 2.0
    sheet.rule(MARGIN_MM, y, right - MARGIN_MM, pt=2.0)
    sheet.rule(MARGIN_MM, y + 1.0, right - MARGIN_MM, pt=0.5)
    y = _draw_facts(sheet, content, y + 2.5)
    y = _draw_held(sheet, content, y)
    found = f"If found: keep it with its totes and call {content.call_if_found}."
    sheet.rule(MARGIN_MM, y, right - MARGIN_MM, pt=0.4, ink=RULE_INK)
    sheet.fitted(MARGIN_MM, y + 5.2, found, width=right - MARGIN_MM, pt=10)
    sheet.rule(MARGIN_MM, y + 8, right - MARGIN_MM, pt=0.8)
    return y + 8


def _held_words(content: Traveller) -> str:
    return f"{content.stopped_as} · {words.listed(content.holds)}"


def _held_height(sheet: PaperSheet, content: Traveller) -> float:
    if not content.holds:
        return 0.0
    lines = typeset.wrap(_held_words(content), "bold", HELD_PT, sheet.width - 2 * MARGIN_MM - 9)
    return max(8.0, len(lines) * typeset.leading_mm(HELD_PT) + 3.0)


def _draw_held(sheet: PaperSheet, content: Traveller, y: float) -> float:
    if content.holds:
        width = sheet.width - 2 * MARGIN_MM
        sheet.rule(MARGIN_MM, y, width, pt=0.4, ink=RULE_INK)
        draw_mark(sheet, "hatched square", MARGIN_MM, y + 1.3, 5.4)
        sheet.paragraph(MARGIN_MM + 9, y + 1.4, _held_words(content), width=width - 9, face="bold", pt=HELD_PT)
    return y + _held_height(sheet, content)


def _draw_name(sheet: PaperSheet, content: Traveller) -> float:
    size, lines, width = _name_lines(sheet, content)
    leading = typeset.leading_mm(size)
    y = NAME_TOP_MM
    sheet.paragraph(MARGIN_MM, y, _name(content), width=width, face="bold", pt=size, max_lines=3)
    x = MARGIN_MM + typeset.width_mm(lines[0], "bold", size) + 4
    right = sheet.width - MARGIN_MM
    base = y + leading * 0.78
    if content.swatch_hex:
        sheet.swatch(x, base - 5.4, SWATCH_MM, 6.4, content.swatch_hex)
        x += SWATCH_MM + 2.5
    # The word always stands beside the swatch; where the variant already says it, once is enough.
    if content.colour.casefold() != content.variant.casefold():
        sheet.fitted(x, base, content.colour, width=max(right - x - 30, 12), pt=12)
    sheet.fitted(right, base, f"revision {content.revision}", width=28, pt=12, face="bold", align="right")
    return y + len(lines) * leading


def _draw_facts(sheet: PaperSheet, content: Traveller, y: float) -> float:
    width, rows, heights = _fact_rows(sheet, content)
    for row, height in zip(rows, heights, strict=True):
        for column, (label, lines) in enumerate(row):
            x = MARGIN_MM + column * width
            sheet.fitted(x, y + 3.2, label, width=width - 4, pt=FACT_LABEL_PT, least_pt=6, ink=QUIET_INK)
            for number, line in enumerate(lines):
                base = y + 7.9 + number * typeset.leading_mm(FACT_PT)
                sheet.text(x, base, line, face="bold", pt=FACT_PT)
        y += height
    return y


def draw_compact(sheet: PaperSheet, content: Traveller, page: int, pages: int) -> float:
    """The head of every later page: whose sheet this is, and both codes again."""
    right = sheet.width - MARGIN_MM
    line = f"Traveller  ·  {_print_words(content)}  ·  page {page} of {pages}"
    sheet.text(MARGIN_MM, MARGIN_MM + 3, line, pt=9.5)
    if content.holds:
        held = MARGIN_MM + typeset.width_mm(line, "plain", 9.5) + 6
        draw_mark(sheet, "hatched square", held, MARGIN_MM - 0.6, 4.4)
        stopped = f"{content.stopped_as.partition(':')[0]}: see page 1"
        sheet.text(held + 6.4, MARGIN_MM + 3, stopped, face="bold", pt=10.5)
    sheet.bars(MARGIN_MM, COMPACT_BARS_TOP_MM, codes.code128(content.code))
    qr = codes.qr(codes.address(content.public_address, content.code))
    side = qr.width_modules * codes.QR_MM
    sheet.square(right - side, MARGIN_MM, qr)
    left = MARGIN_MM + codes.code128(content.code).side_mm(codes.BAR_MM)
    room = right - side - codes.QR_QUIET_MODULES * codes.QR_MM - left - 2
    sheet.fitted(left, COMPACT_BARS_TOP_MM + 6.5, show_code(content.code), width=room, face="code_bold", pt=28)
    sheet.fitted(left, COMPACT_BARS_TOP_MM + 12, _name(content), width=room, face="bold", pt=13, least_pt=8)
    y = COMPACT_END_MM - 2
    sheet.rule(MARGIN_MM, y, right - side - 3 - MARGIN_MM, pt=1.4)
    return COMPACT_END_MM


def draw_page_foot(sheet: PaperSheet, content: Traveller, page: int, pages: int) -> None:
    """A last line, for a page that lost the others."""
    call = f"{_name(content)}. If found, call {content.call_if_found}"
    where = f"{show_code(content.code)}  ·  print {content.print_number}  ·  page {page} of {pages}"
    letterhead.draw_page_foot(sheet, call, where)
