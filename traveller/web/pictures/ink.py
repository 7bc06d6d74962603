"""What every drawing is made of: colours, elements, hatches, marks and the width of a word.

Only presentation attributes are written (`fill="..."`), because the content security policy refuses `style`.
"""

from __future__ import annotations

import html
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

DRAWN_INK = "#16191d"
SOFT = "#454b53"
LINE = "#cbc6b8"
CARD = "#fffefb"
SHADE = "#f1eee5"
RULE = "#1d3f72"
STOP = "#8c1c13"
# Dark, and told apart by place and label first: the colour only helps the eye to follow.
SERIES = ("#1d3f72", "#8a3c00", "#0b4f3b", "#5b2a6e", "#3d4650", "#5a4d00")

Hatch = Literal["held", "road", "one", "two"]
_Value = str | int | float

_NARROW = frozenset("iljtfrI.,:;'|!()[]-·")
_BROAD = frozenset("mwMW@%—–")


def text_width(words: str, size: float = 13) -> float:
    """Return a width in px that the words will not exceed in a broad sans face (DejaVu Sans is the measure)."""
    return sum(_em(c) for c in words) * size


def _em(c: str) -> float:
    if ord(c) >= 0x1100:
        return 1.05
    if c == " ":
        return 0.34
    if c in _NARROW:
        return 0.43
    if c in _BROAD:
        return 1.03
    return 0.79 if c.isupper() else 0.66


def fit_text(words: str, room: float, size: float = 13) -> str:
    """Return the words, cut with an ellipsis when they are wider than the room (px)."""
    if text_width(words, size) <= room:
        return words
    while words and text_width(words + "…", size) > room:
        words = words[:-1]
    return words.rstrip() + "…" if words else ""


def num(value: float) -> str:
    """Return a coordinate with at most one decimal: a picture needs no more and pages stay small."""
    return (
        f"{value:.1f}".removesuffix(".0").replace("-0", "0") if abs(value) < 0.05 else f"{value:.1f}".removesuffix(".0")
    )


def el(name: str, *inside: str, **attributes: _Value | None) -> str:
    """Return an SVG element; names take `_` for `-`, values are escaped, None leaves the attribute out."""
    parts = [name]
    for key, value in attributes.items():
        if value is not None:
            shown = num(value) if isinstance(value, float) else str(value)
            parts.append(f'{key.rstrip("_").replace("_", "-")}="{html.escape(clean(shown))}"')
    head = " ".join(parts)
    return f"<{head}>{''.join(inside)}</{name}>" if inside else f"<{head}/>"


def clean(words: str) -> str:
    """Return the words without the control characters that XML cannot carry."""
    return "".join(
        c for c in words if c in "\t\n" or (c >= " " and not "\ud800" <= c <= "\udfff" and c not in "\ufffe\uffff")
    )


@dataclass(frozen=True)
class Text:
    """A label with the room it takes, so that a drawing can prove that none lies on another."""

    x: float
    base: float
    words: str
    size: float = 13
    bold: bool = False
    soft: bool = False
    plate: bool = False

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Return left, top, right, bottom in px."""
        width = text_width(self.words, self.size) * (1.08 if self.bold else 1)
        return (self.x, self.base - 0.8 * self.size, self.x + width, self.base + 0.25 * self.size)

    def svg(self, fill: str | None = None) -> str:
        """Return the text element; a plated one keeps a rim of paper where a line passes behind it."""
        return el(
            "text", html.escape(clean(self.words)), x=float(self.x), y=float(self.base), font_size=self.size,
            font_weight="700" if self.bold else None, fill=fill or (SOFT if self.soft else DRAWN_INK),
            stroke=CARD if self.plate else None, stroke_width=3.5 if self.plate else None,
            stroke_linejoin="round" if self.plate else None, paint_order="stroke" if self.plate else None,
        )  # fmt: skip


def overlap(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> bool:
    """Return whether two boxes share any room."""
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def hatches(prefix: str, kinds: Iterable[Hatch]) -> str:
    """Return the patterns a drawing uses; the prefix keeps two drawings on one page apart."""
    drawn = {
        "held": (7, 7, el("rect", width=2.6, height=7, fill=DRAWN_INK), "rotate(45)"),
        "road": (10, 8, el("path", d="M1.5 1l4 3-4 3", fill="none", stroke=RULE, stroke_width=1.7), None),
        "one": (6, 6, el("circle", cx=3, cy=3, r=1.5, fill=RULE), None),
        "two": (9, 9, el("circle", cx=4.5, cy=4.5, r=1.1, fill=RULE), None),
    }
    body = [
        el("pattern", el("rect", width=w, height=h, fill="#fff"), shape,
           id=f"{prefix}-{kind}", width=w, height=h, patternUnits="userSpaceOnUse", patternTransform=turn)
        for kind in sorted(set(kinds)) for w, h, shape, turn in [drawn[kind]]
    ]  # fmt: skip
    return el("defs", *body) if body else ""


def sheet(width: float, height: float, sentence: str, body: Iterable[str]) -> str:
    """Return the whole drawing; the sentence is what a screen reader says in its place."""
    return el(
        "svg", *body, xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {num(width)} {num(height)}",
        role="img", aria_label=sentence, font_family="system-ui, 'Segoe UI', 'Noto Sans', 'DejaVu Sans', sans-serif",
    )  # fmt: skip
