"""The marks: one shape a state, drawn without pattern ids so that a page may carry any number of them."""

from __future__ import annotations

from typing import Literal

from traveller.web.pictures.ink import DRAWN_INK, RULE, el

MarkDrawn = Literal["held", "doubt", "free", "road", "one", "two", "gate", "here", "late"]


def _strokes(d: str, width: float = 2.0, colour: str = DRAWN_INK, **more: str) -> str:
    return el("path", d=d, fill="none", stroke=colour, stroke_width=width, **more)


_SHAPES: dict[MarkDrawn, str] = {
    "held": el("rect", x=2, y=2, width=16, height=16, fill="#fff", stroke=DRAWN_INK, stroke_width=2)
    + _strokes("M2.5 8.5l6-6M2.5 13.5l11-11M4 17L17 4M8.5 17.5l9-9M13.5 17.5l4-4", 1.7),
    "doubt": el(
        "circle", cx=10, cy=10, r=7.8, fill="#fff", stroke=DRAWN_INK, stroke_width=2.4, stroke_dasharray="4.6 3.57"
    ),
    "free": _strokes("M2.5 10.5l5.2 5.5L17.5 4", 3.2),
    "road": _strokes("M1.5 4.5l5 5.5-5 5.5M7.5 4.5l5 5.5-5 5.5M13.5 4.5l5 5.5-5 5.5", 2.2, RULE),
    "one": "".join(el("circle", cx=x, cy=y, r=2.1, fill=RULE) for x in (4, 10, 16) for y in (4, 10, 16)),
    "two": "".join(
        el("circle", cx=x, cy=y, r=1.5, fill=RULE) for x, y in ((4, 4), (16, 4), (10, 10), (4, 16), (16, 16))
    ),
    "gate": el("path", d="M6.3 1.2h7.4l5.1 5.1v7.4l-5.1 5.1H6.3l-5.1-5.1V6.3z", fill=DRAWN_INK)
    + _strokes("M5.6 10h8.8", 2.6, "#fff"),
    "here": el("rect", x=2, y=5, width=16, height=10, fill=RULE),
    "late": _strokes("M10 2v16", 3.4, "#8c1c13") + _strokes("M1.5 10h15M12.6 5.6l4.4 4.4-4.4 4.4", 2.0),
}


def mark_svg(kind: MarkDrawn, css: str = "") -> str:
    """Return the bare shape, hidden from screen readers: its word always stands beside it."""
    return el("svg", _SHAPES[kind], viewBox="0 0 20 20", width=20, height=20, aria_hidden="true",
              focusable="false", class_=css or None)  # fmt: skip
