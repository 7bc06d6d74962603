"""The traveller's rows: what to do, the stop, boxes to write in, a code for the phone; and the foot."""

from __future__ import annotations

from dataclasses import dataclass

from traveller.paper import codes, typeset, words
from traveller.paper.canvas import MARGIN_MM, QUIET_INK, RULE_INK, PaperSheet
from traveller.paper.marks import draw_mark, stop_octagon
from traveller.paper.traveller_facts import Traveller, TravellerStep
from traveller.paper.writing_box import WritingBox, draw_writing_box
from traveller.rules.codes import show_code

COLUMN_HEADS_MM = 7.0
FOOT_BOXES_MM = 43.0
THEN_PT = 12.0
THEN_MM = 16.0
BOX_MM = 10.0  # high enough for a hand in a glove
NUMBER_MM = 13.0
TEXT_MM = 57.0
GAP_MM = 3.0
PAD_MM = 2.6
STOP_MM = 11.0
QUARTERS = 4
# Text that tells a limit, a stop or a danger is never cut: a row that is taller than a page is set smaller.
SCALES = (1.0, 0.85, 0.7, 0.55)
FOOT_CAUTION = (
    "Write what you measured, when you did it, with your own mark. A correction is a new line with a reason; "
    "a late entry says that it is late. This sheet does not replace the shop's own procedures, local rules "
    "or licensed practice."
)


COUNT_BOXES = (
    WritingBox("in"), WritingBox("good"), WritingBox("rework"), WritingBox("scrap, why", "", 2),
)  # fmt: skip
TIME_BOXES = (
    WritingBox("start"), WritingBox("end"), WritingBox("lot used"), WritingBox("who, date"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Columns:
    """Left edges and widths of a row's columns, in millimetres."""

    text: float
    boxes: float
    boxes_width: float
    qr: float
    qr_side: float

    @classmethod
    def on(cls, sheet: PaperSheet, content: Traveller) -> Columns:
        """Columns for the widest QR of this traveller, its quiet zone kept free of boxes."""
        links = (codes.address(content.public_address, content.code, step.number) for step in content.steps)
        side = max((codes.qr(link).width_modules for link in links), default=0) * codes.QR_MM
        text = MARGIN_MM + NUMBER_MM
        boxes = text + TEXT_MM + GAP_MM
        qr = sheet.width - MARGIN_MM - side
        return cls(text, boxes, qr - codes.QR_QUIET_MODULES * codes.QR_MM - 0.5 - boxes, qr, side)


@dataclass(frozen=True, slots=True)
class StepRow:
    """A step with its measured height."""

    step: TravellerStep
    height: float
    scale: float
    box_rows: tuple[tuple[WritingBox, ...], ...]


def _box_rows(step: TravellerStep) -> tuple[tuple[WritingBox, ...], ...]:
    """The check's own boxes first, four quarters a row, then the standard ones."""
    rows: list[tuple[WritingBox, ...]] = []
    line: list[WritingBox] = []
    for box in step.boxes:
        if line and sum(other.width for other in line) + box.width > QUARTERS:
            rows.append(tuple(line))
            line = []
        line.append(box)
    if line:
        rows.append(tuple(line))
    return (*rows, COUNT_BOXES, TIME_BOXES) if step.counts_pieces else (*rows, TIME_BOXES)


def _lines_mm(text: str, face: str, pt: float, width: float) -> float:
    return len(typeset.wrap(text, "bold" if face == "bold" else "plain", pt, width)) * typeset.leading_mm(pt)


def _stop_words(step: TravellerStep) -> str:
    return f"First show: {step.show_first}"


def measured_rows(step: TravellerStep, columns: Columns, *, most: float) -> StepRow:
    """The height that a step needs, set smaller when it is more than a page."""
    box_rows = _box_rows(step)
    for scale in SCALES:
        text = _lines_mm(step.site, "plain", 8 * scale, TEXT_MM)
        text += _lines_mm(step.verb, "bold", 11.5 * scale, TEXT_MM) + 0.6
        text += sum(_lines_mm(limit, "plain", 9.5 * scale, TEXT_MM) for limit in step.limits)
        if step.show_first:
            beside = _lines_mm(_stop_words(step), "bold", 9 * scale, TEXT_MM - STOP_MM - 2)
            text += max(STOP_MM, beside) + 2
        height = max(text, len(box_rows) * BOX_MM, columns.qr_side + 5.5)
        if step.caution:
            height += _lines_mm(step.caution, "plain", 8 * scale, _caution_width(columns)) + 1.6
        height += 2 * PAD_MM
        if height <= most:
            return StepRow(step, height, scale, box_rows)
    raise ValueError(f"step {step.number} says more than fits on one page")


def _caution_width(columns: Columns) -> float:
    return columns.boxes + columns.boxes_width - columns.text


def draw_column_heads(sheet: PaperSheet, columns: Columns, top: float) -> float:
    """What the columns hold."""
    base = top + 4.8
    sheet.text(MARGIN_MM, base, "Step", face="bold", pt=8)
    sheet.text(columns.text, base, "Do, within these limits", face="bold", pt=8)
    heading = "Write what you measured"
    sheet.fitted(columns.boxes, base, heading, width=columns.boxes_width, face="bold", pt=8)
    sheet.text(columns.qr + columns.qr_side, base, "Phone", face="bold", pt=8, align="right")
    return top + COLUMN_HEADS_MM


def draw_row(sheet: PaperSheet, content: Traveller, columns: Columns, row: StepRow, top: float) -> float:
    """One step; gives the y below it."""
    step = row.step
    right = sheet.width - MARGIN_MM
    sheet.rule(MARGIN_MM, top, right - MARGIN_MM, pt=0.5, ink=RULE_INK)
    y = top + PAD_MM
    sheet.fitted(MARGIN_MM, y + 6.2, str(step.number), width=NUMBER_MM - 2, face="bold", pt=19)
    _draw_text(sheet, columns, row, y)
    _draw_boxes(sheet, columns, row, y)
    qr = codes.qr(codes.address(content.public_address, content.code, step.number))
    sheet.square(right - qr.width_modules * codes.QR_MM, y, qr)
    tail = f"…{show_code(content.code)[4:]}/{step.number}"
    below = y + qr.height_modules * codes.QR_MM + 5.0
    sheet.fitted(right, below, tail, width=columns.qr_side, face="code", pt=8.5, align="right")
    if step.caution:
        pt = 8 * row.scale
        width = _caution_width(columns)
        y = top + row.height - PAD_MM - _lines_mm(step.caution, "plain", pt, width)
        sheet.fitted(MARGIN_MM, y + typeset.leading_mm(pt) * 0.78, "Caution", width=NUMBER_MM - 1.5, face="bold", pt=pt)
        sheet.paragraph(columns.text, y, step.caution, width=width, pt=pt)
    return top + row.height


def _draw_text(sheet: PaperSheet, columns: Columns, row: StepRow, y: float) -> None:
    step, scale = row.step, row.scale
    y = sheet.paragraph(columns.text, y - 0.6, step.site, width=TEXT_MM, pt=8 * scale, ink=QUIET_INK)
    y = sheet.paragraph(columns.text, y, step.verb, width=TEXT_MM, face="bold", pt=11.5 * scale) + 0.6
    for limit in step.limits:
        y = sheet.paragraph(columns.text, y, limit, width=TEXT_MM, pt=9.5 * scale)
    if step.show_first:
        pt = 9 * scale
        width = TEXT_MM - STOP_MM - 2
        y += 1.2
        high = _lines_mm(_stop_words(step), "bold", pt, width)
        stop_octagon(sheet, columns.text, y + max(0.0, high - STOP_MM) / 2, STOP_MM)
        beside = y + max(0.0, STOP_MM - high) / 2
        sheet.paragraph(columns.text + STOP_MM + 2, beside, _stop_words(step), width=width, face="bold", pt=pt)


def _draw_boxes(sheet: PaperSheet, columns: Columns, row: StepRow, y: float) -> None:
    for line in row.box_rows:
        quarters = sum(box.width for box in line)
        x = columns.boxes
        for box in line:
            width = columns.boxes_width * box.width / quarters
            draw_writing_box(sheet, x, y, width, BOX_MM, box)
            x += width
        y += BOX_MM


def foot_height(sheet: PaperSheet, content: Traveller) -> float:
    """What the foot needs on the last page."""
    then = _lines_mm(content.then, "plain", THEN_PT, sheet.width - 2 * MARGIN_MM - THEN_MM)
    return 5.0 + then + FOOT_BOXES_MM


def draw_foot(sheet: PaperSheet, content: Traveller, top: float) -> None:
    """Where the batch goes next, and room for what the rows did not foresee."""
    width = sheet.width - 2 * MARGIN_MM
    sheet.rule(MARGIN_MM, top, width, pt=0.8)
    y = top + 2.5
    if content.then:
        sheet.text(MARGIN_MM, y + typeset.leading_mm(THEN_PT) * 0.78, "Then:", face="bold", pt=THEN_PT)
        y = sheet.paragraph(MARGIN_MM + THEN_MM, y, content.then, width=width - THEN_MM, pt=THEN_PT)
    y += 2.5
    half = width / 2
    draw_writing_box(sheet, MARGIN_MM, y, half, 15, WritingBox("holds"))
    draw_writing_box(sheet, MARGIN_MM + half, y, half, 15, WritingBox("split or merged: which code, how many, why"))
    if content.holds:
        draw_mark(sheet, "hatched square", MARGIN_MM + 1.5, y + 4.5, 5)
        held = f"{content.stopped_as} · {words.listed(content.holds)}"
        sheet.paragraph(MARGIN_MM + 8.5, y + 3.6, held, width=half - 10, face="bold", pt=9, max_lines=2)
    y += 15
    draw_writing_box(sheet, MARGIN_MM, y, half, 13, WritingBox("remarks"))
    draw_writing_box(sheet, MARGIN_MM + half, y, half / 2, 13, WritingBox("final quantity good", content.unit))
    draw_writing_box(sheet, MARGIN_MM + half * 1.5, y, half / 2, 13, WritingBox("who, date"))
    sheet.paragraph(MARGIN_MM, y + 14, FOOT_CAUTION, width=width, pt=7.5, ink=QUIET_INK)
