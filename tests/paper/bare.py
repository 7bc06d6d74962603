"""A bare canvas that draws a traveller's text and ready-made modules again and nothing else: the bench's floor."""

from __future__ import annotations

import io
from dataclasses import dataclass, field

import pytest
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from traveller.paper.canvas import PT_PER_MM, SIZES_MM, PaperSheet, PaperSize
from traveller.paper.codes import DOT_MM, Symbol
from traveller.paper.traveller import draw_traveller
from traveller.paper.traveller_facts import Traveller


@dataclass
class BarePage:
    """Text as (x, y, font, size, words) in points; symbols as (transform, path)."""

    texts: list[tuple[float, float, str, float, str]] = field(default_factory=list)
    symbols: list[tuple[tuple[float, float, float, float, float, float], str]] = field(default_factory=list)


def recorded(content: Traveller, size: PaperSize) -> list[BarePage]:
    """What a traveller draws, page by page."""
    drawn = [BarePage()]
    lay_down, symbol = PaperSheet._lay_down, PaperSheet.symbol

    def noted_lay_down(self: PaperSheet) -> None:
        drawn[-1].texts.extend((x, y, run.font, pt, run.text) for x, y, _, run, pt in self._texts)
        drawn.append(BarePage())
        lay_down(self)

    def noted_symbol(self: PaperSheet, x: float, y: float, code: Symbol, *, module: float, height: float = 0.0) -> None:
        tall = height or code.height_modules * module
        left, bottom = (round(at / DOT_MM) * DOT_MM for at in (x, self.height - y - tall))
        scale = (module * PT_PER_MM, 0.0, 0.0, tall / code.height_modules * PT_PER_MM)
        drawn[-1].symbols.append(((*scale, left * PT_PER_MM, bottom * PT_PER_MM), code.path))
        symbol(self, x, y, code, module=module, height=height)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(PaperSheet, "_lay_down", noted_lay_down)
        patch.setattr(PaperSheet, "symbol", noted_symbol)
        draw_traveller(content, size=size)
    return drawn[:-1]


def draw_bare(drawn: list[BarePage], size: PaperSize) -> bytes:
    """The same text and the same modules by reportlab's own means: a string a call, a path a symbol."""
    out = io.BytesIO()
    width, height = SIZES_MM[size]
    canvas = Canvas(out, pagesize=(width * PT_PER_MM, height * PT_PER_MM), invariant=1)
    for page in drawn:
        for x, y, font, pt, words in page.texts:
            canvas.setFont(font, pt)
            canvas.drawString(x, y, words)
        for transform, path in page.symbols:
            canvas.saveState()
            canvas.transform(*transform)
            canvas.drawPath(PDFPathObject(code=[path]), stroke=0, fill=1)
            canvas.restoreState()
        canvas.showPage()
    canvas.save()
    return out.getvalue()
