"""The yield ribbon: a batch's pieces flow from step to step; what does not go on turns off where it stopped.

All thicknesses are true to pieces on one scale, so that in = good + rework + still here + scrap is seen.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from traveller.web.pictures.ink import DRAWN_INK, LINE, RULE, SOFT, Text, el, fit_text, hatches, num, sheet

End = Literal["rework", "here", "held", "samples", "scrap", "unexplained"]
ENDS: tuple[End, ...] = ("rework", "here", "held", "samples", "scrap", "unexplained")
DEEP = 60.0
SIZE = 12


@dataclass(frozen=True)
class RibbonStep:
    """One step's account, in pieces: in = good + all that ended or waits here."""

    name: str
    arrived: int
    good: int
    ends: tuple[tuple[End, int], ...] = ()


@dataclass(frozen=True)
class Words:
    """What the drawing says; English unless the page brings its own."""

    good: str = "good"
    rework: str = "rework"
    here: str = "here"
    held: str = "held"
    samples: str = "samples"
    scrap: str = "scrap"
    unexplained: str = "unexplained"
    number: Callable[[int], str] = field(default="{:,}".format)

    def end(self, kind: End) -> str:
        """Return the word of an end."""
        return {"rework": self.rework, "here": self.here, "held": self.held, "samples": self.samples,
                "scrap": self.scrap, "unexplained": self.unexplained}[kind]  # fmt: skip


@dataclass(frozen=True)
class Ribbon:
    """A batch's steps in order; the sentence is read out in place of the drawing."""

    steps: tuple[RibbonStep, ...]
    sentence: str
    words: Words = field(default_factory=Words)


@dataclass(frozen=True)
class _Band:
    """A drawn thickness: flowing on ("good") or turned off, in px, with its pieces."""

    kind: End | Literal["good", "arrived"]
    x: float
    y: float
    width: float
    thick: float
    pieces: int


@dataclass
class _Layout:
    """Where bands and words lie."""

    width: float
    height: float = 0
    bands: list[_Band] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)


def lay_out(ribbon: Ribbon, width: float = 720) -> _Layout:
    """Return the places; steps that find no room across go on in a row below."""
    plan = _Layout(width)
    across = max(1, min(len(ribbon.steps), int(width // 150)))
    column = width / across
    most = max((max(s.arrived, s.good) for s in ribbon.steps), default=0)
    scale = DEEP / most if most else 0
    y = 0.0
    for start in range(0, len(ribbon.steps), across):
        row = ribbon.steps[start : start + across]
        y = max(_lay_step(ribbon, plan, step, n * column, y, column, scale) for n, step in enumerate(row)) + 12
    plan.height = max(y - 6, 1)
    return plan


def _lay_step(
    ribbon: Ribbon, plan: _Layout, step: RibbonStep, x: float, y: float, column: float, scale: float
) -> float:
    """Place one step's ribbon and its words under it; return the lower edge."""
    plan.texts.append(Text(x, y + 13, fit_text(step.name, (column - 8) / 1.08, SIZE + 1), SIZE + 1, bold=True))
    top, half = y + 22, column * 0.42
    plan.bands.append(_Band("arrived", x, top, half, step.arrived * scale, step.arrived))
    plan.bands.append(_Band("good", x + half, top, column - half, step.good * scale, step.good))
    ends = sorted(((k, n) for k, n in step.ends if n), key=lambda end: ENDS.index(end[0]))
    at = top + step.good * scale
    for kind, pieces in ends:
        thick = abs(pieces) * scale
        plan.bands.append(_Band(kind, x + half, at, min(30, column * 0.25), thick, pieces))
        at += thick
    base = max(top + DEEP, at) + 16
    said = [f"{ribbon.words.number(step.good)} {ribbon.words.good}"]
    said += [f"{ribbon.words.number(n)} {ribbon.words.end(kind)}" for kind, n in ends]
    for place, words in enumerate(said):
        plan.texts.append(Text(x, base + place * 15, fit_text(words, column - 8, SIZE), SIZE, soft=place > 0))
    return base + len(said) * 15 - 10


def yield_ribbon(ribbon: Ribbon, width: float = 720, prefix: str = "ribbon") -> str:
    """Return the drawing; `prefix` must differ between two ribbons on one page."""
    plan = lay_out(ribbon, width)
    fills = {"held": f"url(#{prefix}-held)", "here": f"url(#{prefix}-two)", "rework": f"url(#{prefix}-one)",
             "scrap": DRAWN_INK, "samples": SOFT, "unexplained": "none"}  # fmt: skip
    body = [hatches(prefix, ["held", "one", "two"])]
    for band in plan.bands:
        if band.thick <= 0:
            continue
        if band.kind in ("good", "arrived"):
            body.append(el("rect", x=band.x, y=band.y, width=band.width, height=band.thick, fill=RULE))
        else:
            body.append(_turned(band, fills[band.kind]))
    body += [
        el("path", d=f"M{num(b.x)} {num(b.y - 3)}V{num(b.y + DEEP + 3)}", stroke=LINE)
        for b in plan.bands
        if b.kind == "arrived"
    ]
    body += [text.svg() for text in plan.texts]
    return sheet(plan.width, plan.height, ribbon.sentence, body)


def _turned(band: _Band, fill: str) -> str:
    """Return an end: scrap falls away with a slanted foot, the rest stops square with an inked edge."""
    x, y, w, t = band.x, band.y, band.width, band.thick
    if band.kind == "scrap":
        return el("path", d=f"M{num(x)} {num(y)}h{num(w * 0.6)}l{num(w * 0.4)} {num(t)}H{num(x)}z", fill=fill)
    dash = "3 2.5" if band.kind == "unexplained" else None
    return el("rect", x=x, y=y, width=w, height=t, fill=fill, stroke=DRAWN_INK, stroke_width=1, stroke_dasharray=dash)
