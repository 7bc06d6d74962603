"""Marks are shapes, always beside their word: they read in grey and to the colour-blind."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from traveller.paper.canvas import WHITE, PaperSheet
from traveller.rules.purposes import Purpose
from traveller.rules.statuses import StatusKind, status_word

MarkShape = Literal["tick", "hatched square", "broken circle", "arrows", "dots"]


@dataclass(frozen=True, slots=True)
class Status:
    """A state in a word and a shape."""

    word: str
    shape: MarkShape


_SHAPES: Mapping[StatusKind, MarkShape] = {
    "not_made": "dots",
    "in_process": "dots",
    "rework": "dots",
    "unproved": "broken circle",
    "held": "hatched square",
    "expired": "hatched square",
    "disputed": "broken circle",
    "road": "arrows",
    "misplaced": "broken circle",
    "free": "tick",
}


def status_on_paper(kind: StatusKind, purpose: Purpose) -> Status:
    """The word and the shape for a kind; free goods say what for."""
    return Status(status_word(kind, purpose), _SHAPES[kind])


def stop_octagon(sheet: PaperSheet, x: float, y: float, size: float) -> None:
    """A black octagon, size mm wide, with the word STOP."""
    cut = size / (2 + math.sqrt(2))
    far = size - cut
    corners = (
        (cut, 0.0), (far, 0.0), (size, cut), (size, far), (far, size), (cut, size), (0.0, far), (0.0, cut),
    )  # fmt: skip
    sheet.polygon(tuple((x + dx, y + dy) for dx, dy in corners))
    pt = size * 0.80
    sheet.text(x + size / 2, y + size / 2 + pt * 0.128, "STOP", face="bold", pt=pt, ink=WHITE, align="centre")


def draw_mark(sheet: PaperSheet, shape: MarkShape, x: float, y: float, size: float) -> None:
    """A mark in a square of size mm with its top left at x, y."""
    weight = size * 0.28
    if shape == "tick":
        for x1, y1, x2, y2 in ((0.05, 0.55, 0.38, 0.88), (0.36, 0.88, 0.95, 0.15)):
            sheet.line(x + size * x1, y + size * y1, x + size * x2, y + size * y2, pt=weight)
    elif shape == "hatched square":
        sheet.box(x, y, size, size, pt=weight * 0.6)
        for part in (0.25, 0.5, 0.75, 1.0):
            sheet.line(x, y + size * part, x + size * part, y, pt=weight * 0.45)
            rest = 1.0 - part
            sheet.line(x + size * rest, y + size, x + size, y + size * rest, pt=weight * 0.45)
    elif shape == "broken circle":
        sheet.broken_circle(x + size / 2, y + size / 2, size * 0.45, pt=weight * 0.7)
    elif shape == "arrows":
        for start in (0.0, 0.34, 0.68):
            left = x + size * start
            sheet.polygon(((left, y + size * 0.25), (left + size * 0.3, y + size / 2), (left, y + size * 0.75)))
    else:
        for start in (0.05, 0.4, 0.75):
            sheet.box(x + size * start, y + size * 0.4, size * 0.2, size * 0.2, pt=weight * 0.6)
