"""A box to write in by hand: its label small at the top, its unit at the bottom, the rest left free."""

from __future__ import annotations

from dataclasses import dataclass

from traveller.paper.canvas import QUIET_INK, PaperSheet

BOX_LABEL_PT = 7.0


@dataclass(frozen=True, slots=True)
class WritingBox:
    """A box for handwriting: width in quarters of the row, 1 to 4."""

    label: str
    unit: str = ""
    width: int = 1


def draw_writing_box(sheet: PaperSheet, x: float, y: float, width: float, height: float, box: WritingBox) -> None:
    """A box with its label small at the top left and its unit at the bottom right."""
    sheet.box(x, y, width, height)
    sheet.fitted(x + 1.0, y + 2.9, box.label, width=width - 2, pt=BOX_LABEL_PT, least_pt=5, ink=QUIET_INK)
    if box.unit:
        sheet.fitted(
            x + width - 1.0, y + height - 1.2, box.unit,
            width=width / 2, pt=BOX_LABEL_PT, least_pt=5, ink=QUIET_INK, align="right",
        )  # fmt: skip
