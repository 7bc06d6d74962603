"""Why a piece was scrapped, as a small drawing of our own: the piece, and what is wrong with it.

Known by the words of the trade that a routing's scrap reasons hold. The word always stands beside the drawing, so a
reason that no drawing is known for gets a plain one, and a drawing that is understood wrongly misleads nobody.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Literal

from traveller.web.pictures.ink import DRAWN_INK, el

__all__ = ["Drawing", "drawing_for", "reason_svg"]

Drawing = Literal[
    "bubbles", "burr", "crack", "cut", "dent", "empty", "fit", "flash", "leak", "lifted", "mark", "other", "oval",
    "register", "rework", "sample", "scorch", "scratch", "shade", "short", "sink", "smear", "specks", "splay", "tacky",
    "torn", "untested", "warp", "weight", "wrong",
]  # fmt: skip

# The first pattern that is found in the reason wins; "cut seal face" is a cut before it is a face.
_WORDS: tuple[tuple[str, Drawing], ...] = (
    (r"before (the )?test|untested", "untested"),
    (r"short|incomplete|unfilled", "short"),
    (r"flash", "flash"),
    (r"sink|shrink", "sink"),
    (r"splay|streak|silver", "splay"),
    (r"leak", "leak"),
    (r"crack|split|broken|burst", "crack"),
    (r"scratch|scuff", "scratch"),
    (r"torn|tear", "torn"),
    (r"cut|nick", "cut"),
    (r"chip|dent|dropped", "dent"),
    (r"burr|sharp", "burr"),
    (r"warp|bent|twist", "warp"),
    (r"oval|bore|out of round", "oval"),
    (r"register|misprint|off.?cent", "register"),
    (r"smear|smudge|blur|bleed", "smear"),
    (r"lifts?|peel|adhesion|flak", "lifted"),
    (r"pinhole|porous|pore|bubble|blister|void", "bubbles"),
    (r"speck|dirt|foreign|contamina", "specks"),
    (r"tacky|sticky|soft", "tacky"),
    (r"scorch|burn", "scorch"),
    (r"shade|colou?r", "shade"),
    (r"weight|heavy|light", "weight"),
    (r"click|fit|loose|tight", "fit"),
    (r"missing|lost|empty", "empty"),
    (r"wrong|variant", "wrong"),
    (r"mark|print", "mark"),
)


def _line(d: str, width: float = 2.2, dash: str | None = None) -> str:
    dashes = {"stroke_dasharray": dash} if dash else {}
    return el("path", d=d, fill="none", stroke=DRAWN_INK, stroke_width=width, stroke_linecap="round", **dashes)


def _full(d: str) -> str:
    return el("path", d=d, fill=DRAWN_INK)


def _dots(radius: float, *places: tuple[float, float], hollow: bool = False) -> str:
    ink = {"fill": "none", "stroke": DRAWN_INK, "stroke_width": 1.8} if hollow else {"fill": DRAWN_INK}
    return "".join(el("circle", cx=x, cy=y, r=radius, **ink) for x, y in places)


_PIECE = _line("M6 6h20v20H6z")
_ROUND = el("circle", cx=16, cy=16, r=11, fill="none", stroke=DRAWN_INK, stroke_width=2.2)
_DASH = "2.5 4"
_DRAWINGS: Mapping[Drawing, str] = {
    "bubbles": _PIECE + _dots(2.6, (12, 12), (20, 14), (14, 21), hollow=True),
    "burr": _line("M6 12h20v14H6z") + _line("M6 12l3-6 2 6 3-7 2 7 3-5 2 5 3-7 2 7", 1.8),
    "crack": _PIECE + _line("M17 6l-4 7 6 4-5 9"),
    "cut": _line("M6 6h20v20H6z") + _line("M2 24L24 2", 3),
    "dent": _line("M6 6h7l3 5 3-5h7v20H6z"),
    "empty": _line("M6 6h20v20H6z", dash=_DASH),
    "fit": _line("M3 11h9v10H3") + _line("M29 11h-5v-3h-5v16h5v-3h5"),
    "flash": _line("M9 9h14v14H9z")
    + _line("M4 16h5M23 16h5M16 4v5M16 23v5M5 5l4 4M27 27l-4-4M27 5l-4 4M5 27l4-4", 1.6),
    "leak": _line("M6 4h20v14H6z") + _full("M16 19c3 4 4 5 4 7a4 4 0 0 1-8 0c0-2 1-3 4-7z"),
    "lifted": _line("M4 26h24") + _line("M6 21h9c4 0 3-8 11-12", 3.2),
    "mark": _PIECE + _line("M11 11l10 10M21 11L11 21"),
    "other": _PIECE + _dots(1.9, (11, 16), (16, 16), (21, 16)),
    "oval": el("ellipse", cx=16, cy=16, rx=12, ry=7.5, fill="none", stroke=DRAWN_INK, stroke_width=2.2)
    + el("circle", cx=16, cy=16, r=12, fill="none", stroke=DRAWN_INK, stroke_width=1.4, stroke_dasharray="2.5 4"),
    "register": _line("M5 5h16v16H5z") + _line("M11 11h16v16H11z", 2.2, dash=_DASH),
    "rework": _line("M25 11A10.5 10.5 0 1 0 26.5 17") + _line("M26 4v7h-7"),
    "sample": _line("M4 21h14v7H4z") + _line("M22 27c5-4 6-11 1-17") + _line("M27 11l-4.5-2.5L21 13"),
    "scorch": _PIECE + _full("M16 9c5 5 6 7 6 10a6 6 0 0 1-12 0c0-2 1-3 3-4 0 2 1 3 2 3 1-3 1-5 1-9z"),
    "scratch": _PIECE + _line("M10 23L21 9M14 24L24 12", 1.6),
    "shade": _ROUND + _full("M16 5a11 11 0 0 1 0 22z"),
    "short": _line("M6 26V6h12") + _line("M6 26h20V14") + _line("M18 6c0 5 3 8 8 8", 2.2, dash=_DASH),
    "sink": _line("M5 10h6c3 0 3 6 5 6s2-6 5-6h6v16H5z"),
    "smear": _line("M5 8h9v9H5z") + _line("M16 10h11M16 13.5h8M16 17h10", 1.8) + _line("M5 24h20", 1.8, dash=_DASH),
    "specks": _PIECE + _dots(1.5, (11, 11), (19, 10), (14, 16), (22, 18), (10, 22), (17, 23)),
    "splay": _PIECE + _line("M10 26c1-8 3-12 6-16M16 26c0-6 1-9 3-13M22 26c0-4 0-6 1-9", 1.6),
    "tacky": _line("M6 5h20v8H6z") + _line("M10 13c0 8 3 3 3 9M16 13v13M22 13c0 8-3 3-3 9", 1.8),
    "torn": _line("M13 6H6v20h8l-2-5 4-4-4-4 3-4z") + _line("M21 6h5v20h-6l-2-5 4-4-4-4z"),
    "untested": _ROUND + _line("M12.5 13c0-5 7-5 7-.5 0 3-3.5 3-3.5 6.5") + _dots(1.6, (16, 22.5)),
    "warp": _line("M4 20C10 8 20 8 28 18l-3 6c-6-8-12-9-18 1z"),
    "weight": _line("M9 13h14l4 14H5z") + _line("M12.5 13a3.5 4.5 0 1 1 7 0"),
    "wrong": _PIECE + _line("M11 14h10M11 19h10M20 9l-8 15"),
}


def drawing_for(reason: str) -> Drawing:
    """Which drawing a reason gets, by the trade's words in it."""
    plain = reason.casefold()
    return next((drawing for words, drawing in _WORDS if re.search(rf"\b(?:{words})", plain)), "other")


def reason_svg(drawing: Drawing) -> str:
    """Return the drawing, hidden from screen readers: its word stands beside it."""
    return el("svg", _DRAWINGS[drawing], viewBox="0 0 32 32", width=32, height=32, aria_hidden="true",
              focusable="false", class_="reason")  # fmt: skip
