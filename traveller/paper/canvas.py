"""A sheet of paper: millimetres from the top left, ink on white, our own small set of things to draw."""

from __future__ import annotations

import io
import re
from functools import lru_cache
from typing import Literal

from PIL import Image, UnidentifiedImageError
from reportlab import rl_config
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from traveller.paper import typeset
from traveller.paper.codes import BAR_HEIGHT_LEAST_MM, BAR_MM, DOT_MM, QR_MM, Symbol
from traveller.paper.fonts import FONT_LOCK, Face, GlyphRun, run_width_pt, runs, width_pt

PaperSize = Literal["A4", "Letter"]
Align = Literal["left", "centre", "right"]

SIZES_MM: dict[str, tuple[float, float]] = {
    "A4": (210.0, 297.0),
    "Letter": (215.9, 279.4),
    "A6": (105.0, 148.0),
}
MARGIN_MM = 11.0
PT_PER_MM = 72 / 25.4
INK = (0.086, 0.098, 0.114)
QUIET_INK = (0.29, 0.314, 0.345)
RULE_INK = (0.62, 0.62, 0.6)
WHITE = (1.0, 1.0, 1.0)
Ink = tuple[float, float, float]
HEAVY_STROKE = 0.045  # of the type size: as thick as the drawn bold
PICTURE_LONGEST_PX = 480

# Streams without the text wrapping of reportlab's default: 18 % smaller, and every reader takes them.
rl_config.useA85 = 0


class PaperSheet:
    """A PDF under way. Equal calls give equal bytes: no clock and no random name goes in."""

    def __init__(self, size: str, *, title: str, author: str) -> None:
        self.width, self.height = SIZES_MM[size]
        self._out = io.BytesIO()
        self._canvas = Canvas(self._out, pagesize=(self.width * PT_PER_MM, self.height * PT_PER_MM), invariant=1)
        self._strokes: dict[tuple[float, Ink], list[str]] = {}
        self._texts: list[tuple[float, float, Ink, GlyphRun, float]] = []
        self._canvas.setTitle(title)
        self._canvas.setAuthor(author)
        self._canvas.setCreator("traveller")
        self._canvas.setSubject(title)

    def _x(self, x: float) -> float:
        return x * PT_PER_MM

    def _y(self, y: float) -> float:
        return (self.height - y) * PT_PER_MM

    def next_page(self) -> None:
        """End this page and begin another."""
        self._lay_down()
        self._canvas.showPage()

    def finish(self) -> bytes:
        """End the last page and give the file."""
        self.next_page()
        with FONT_LOCK:
            self._canvas.save()
        return self._out.getvalue()

    def _lay_down(self) -> None:
        """Strokes of one weight and ink as one path, then all text as one text object, above what is filled."""
        canvas = self._canvas
        for (pt, ink), path in self._strokes.items():
            canvas.setStrokeColorRGB(*ink)
            canvas.setLineWidth(pt)
            canvas.drawPath(PDFPathObject(code=path), stroke=1, fill=0)
        self._strokes = {}
        text, last_font, last_ink = canvas.beginText(), None, None
        for left, base, ink, run, pt in self._texts:
            if run.heavy:
                canvas.drawText(text)
                self._heavy(left, base, run, pt, ink)
                text, last_font, last_ink = canvas.beginText(), None, None
                continue
            if last_font != (run.font, pt):
                text.setFont(run.font, pt)
                last_font = (run.font, pt)
            if last_ink != ink:
                text.setFillColorRGB(*ink)
                last_ink = ink
            text.setTextOrigin(left, base)
            text.textOut(run.text)
        canvas.drawText(text)
        self._texts = []

    # Text

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        face: Face = "plain",
        pt: float = 9.5,
        ink: Ink = INK,
        align: Align = "left",
    ) -> None:
        """One line with its baseline at y; x is its left, middle or right."""
        left = self._x(x)
        if align != "left":
            wide = width_pt(words, face, pt)
            left -= wide if align == "right" else wide / 2
        base = self._y(y)
        for run in runs(words, face):
            self._texts.append((left, base, ink, run, pt))
            left += run_width_pt(run) * pt

    def _heavy(self, left: float, base: float, run: GlyphRun, pt: float, ink: Ink) -> None:
        """A bold run of a font that has no bold: its outlines are inked too."""
        canvas = self._canvas
        canvas.setFillColorRGB(*ink)
        canvas.setStrokeColorRGB(*ink)
        canvas.setLineWidth(pt * HEAVY_STROKE)
        canvas.setFont(run.font, pt)
        canvas.drawString(left, base, run.text, mode=2)

    def paragraph(
        self,
        x: float,
        top: float,
        words: str,
        *,
        width: float,
        face: Face = "plain",
        pt: float = 9.5,
        ink: Ink = INK,
        max_lines: int = 0,
    ) -> float:
        """Wrapped lines from top downward; gives the y below the last line."""
        leading = typeset.leading_mm(pt)
        y = top
        for line in typeset.wrap(words, face, pt, width, max_lines):
            self.text(x, y + leading * 0.78, line, face=face, pt=pt, ink=ink)
            y += leading
        return y

    def fitted(
        self,
        x: float,
        y: float,
        words: str,
        *,
        width: float,
        face: Face = "plain",
        pt: float,
        least_pt: float = 6.5,
        ink: Ink = INK,
        align: Align = "left",
    ) -> float:
        """One line made smaller, and at the last clipped, to stay inside width; gives its printed width."""
        size, shown = typeset.fit(words, face, pt, width, least_pt)
        self.text(x, y, shown, face=face, pt=size, ink=ink, align=align)
        return typeset.width_mm(shown, face, size)

    # Lines and shapes

    def rule(self, x: float, y: float, width: float, *, pt: float = 0.4, ink: Ink = INK) -> None:
        """A level line."""
        self.line(x, y, x + width, y, pt=pt, ink=ink)

    def line(self, x1: float, y1: float, x2: float, y2: float, *, pt: float = 0.6, ink: Ink = INK) -> None:
        """A straight line."""
        self._stroke(f"{self._x(x1):.3f} {self._y(y1):.3f} m {self._x(x2):.3f} {self._y(y2):.3f} l", pt=pt, ink=ink)

    def _stroke(self, path: str, *, pt: float, ink: Ink) -> None:
        self._strokes.setdefault((pt, ink), []).append(path)

    def box(self, x: float, y: float, width: float, height: float, *, pt: float = 0.6, fill: Ink | None = None) -> None:
        """A rectangle from its top left corner."""
        size = f"{width * PT_PER_MM:.3f} {height * PT_PER_MM:.3f}"
        path = f"{self._x(x):.3f} {self._y(y + height):.3f} {size} re"
        if fill is not None:
            self._canvas.setFillColorRGB(*fill)
            self._canvas.drawPath(PDFPathObject(code=[path]), stroke=0, fill=1)
        self._stroke(path, pt=pt, ink=INK)

    def polygon(self, points: tuple[tuple[float, float], ...], *, fill: Ink = INK) -> None:
        """A filled shape without outline."""
        path = self._canvas.beginPath()
        path.moveTo(self._x(points[0][0]), self._y(points[0][1]))
        for x, y in points[1:]:
            path.lineTo(self._x(x), self._y(y))
        path.close()
        self._canvas.setFillColorRGB(*fill)
        self._canvas.drawPath(path, stroke=0, fill=1)

    def broken_circle(self, x: float, y: float, radius: float, *, pt: float) -> None:
        """A circle of four arcs with gaps between."""
        self._canvas.setStrokeColorRGB(*INK)
        self._canvas.setLineWidth(pt)
        left, right = self._x(x - radius), self._x(x + radius)
        low, high = self._y(y + radius), self._y(y - radius)
        for start in range(10, 370, 90):
            self._canvas.arc(left, low, right, high, startAng=start, extent=65)

    # Symbols and pictures

    def symbol(self, x: float, y: float, symbol: Symbol, *, module: float, height: float = 0.0) -> None:
        """A code with the top left of its bars (not of its quiet zone) at x, y, moved onto whole dots."""
        tall = height or symbol.height_modules * module
        left = round(x / DOT_MM) * DOT_MM
        bottom = round((self.height - y - tall) / DOT_MM) * DOT_MM
        canvas = self._canvas
        canvas.saveState()
        canvas.setFillColorRGB(0, 0, 0)
        canvas.transform(
            module * PT_PER_MM,
            0,
            0,
            tall / symbol.height_modules * PT_PER_MM,
            left * PT_PER_MM,
            bottom * PT_PER_MM,
        )
        canvas.drawPath(PDFPathObject(code=[symbol.path]), stroke=0, fill=1)
        canvas.restoreState()

    def bars(self, x: float, y: float, symbol: Symbol, *, height: float = BAR_HEIGHT_LEAST_MM) -> None:
        """Code 128 with three-dot bars."""
        self.symbol(x, y, symbol, module=BAR_MM, height=max(height, BAR_HEIGHT_LEAST_MM))

    def square(self, x: float, y: float, symbol: Symbol, *, module: float = QR_MM) -> None:
        """A QR code."""
        self.symbol(x, y, symbol, module=module)

    def swatch(self, x: float, y: float, width: float, height: float, hex_colour: str) -> None:
        """A framed field of the variant's colour; nothing when the colour can't be understood."""
        if re.fullmatch(r"#[0-9A-Fa-f]{6}", hex_colour):
            red, green, blue = (int(hex_colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
            self.box(x, y, width, height, pt=0.9, fill=(red, green, blue))

    def picture(
        self, x: float, y: float, width: float, height: float, data: bytes, *, longest_px: int = PICTURE_LONGEST_PX
    ) -> None:
        """A picture inside a frame, whole and undistorted; a frame that says so when it can't be read."""
        picture = _picture(data, longest_px)
        self.box(x, y, width, height, pt=0.5)
        if picture is None:
            self.text(x + width / 2, y + height / 2, "picture unreadable", pt=6.5, ink=QUIET_INK, align="centre")
            return
        scale = min((width - 1) / picture.width, (height - 1) / picture.height)
        wide, tall = picture.width * scale, picture.height * scale
        self._canvas.drawImage(
            ImageReader(picture),
            self._x(x + (width - wide) / 2),
            self._y(y + (height + tall) / 2),
            wide * PT_PER_MM,
            tall * PT_PER_MM,
        )

    def jpeg(self, x: float, y: float, width: float, height: float, data: bytes) -> None:
        """A JPEG of our own making as it is, whole and undistorted, framed by its own edge; it stands at the left."""
        reader = ImageReader(io.BytesIO(data))
        across, down = reader.getSize()
        scale = min((width - 1) / across, (height - 1) / down)
        wide, tall = across * scale, down * scale
        self.box(x, y, wide + 1, tall + 1, pt=0.5)
        left, foot = self._x(x + 0.5), self._y(y + 0.5 + tall)
        self._canvas.drawImage(reader, left, foot, wide * PT_PER_MM, tall * PT_PER_MM)


@lru_cache(maxsize=64)
def _picture(data: bytes, longest_px: int) -> Image.Image | None:
    """The picture on white, no larger than paper needs."""
    try:
        opened = Image.open(io.BytesIO(data), formats=["JPEG", "PNG"])
        opened.draft("RGB", (longest_px, longest_px))
        layered = opened.convert("RGBA")
    except (UnidentifiedImageError, OSError, ValueError, Image.DecompressionBombError):
        return None
    layered.thumbnail((longest_px, longest_px))
    white = Image.new("RGBA", layered.size, "white")
    return Image.alpha_composite(white, layered).convert("RGB")
