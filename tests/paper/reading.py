"""Reads papers back as printers, scanners and phones do: rendered, photographed, decoded."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

import numpy
import pypdfium2
import pytest
import zxingcpp
from PIL import Image, ImageFilter

from traveller.paper import canvas, codes
from traveller.paper.codes import Symbol
from traveller.paper.fonts import Face
from traveller.paper.typeset import MM_PER_PT, width_mm

THERMAL_DPI = 203
LASER_DPI = 300
BARS = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.Code128)
SQUARES = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)
PHOTO_SIZE = (3000, 4000)  # 12 megapixels


def pages(pdf: bytes, dpi: int, *, black_and_white: bool = False) -> list[Image.Image]:
    """Every page in grey; black_and_white as a thermal printer's head, which sets a dot or leaves it."""
    document = pypdfium2.PdfDocument(pdf)
    grey = [page.render(scale=dpi / 72).to_pil().convert("L") for page in document]
    document.close()
    return [page.point(lambda level: 255 if level > 127 else 0) for page in grey] if black_and_white else grey


def texts(pdf: bytes) -> list[str]:
    """The text of each page."""
    document = pypdfium2.PdfDocument(pdf)
    found = [page.get_textpage().get_text_bounded() for page in document]
    document.close()
    return found


def read(image: Image.Image, kind: zxingcpp.BarcodeFormats) -> Counter[str]:
    """All codes of one kind on an image."""
    return Counter(found.text for found in zxingcpp.read_barcodes(numpy.asarray(image), formats=kind))


def bars_on(image: Image.Image) -> Counter[str]:
    """What a laser scanner finds on the page."""
    return read(image, BARS)


def squares_on(image: Image.Image) -> Counter[str]:
    """What a phone finds on the page."""
    return read(image, SQUARES)


def _perspective(corners: list[tuple[float, float]], width: float, height: float) -> list[float]:
    """Coefficients that take a point of the photo back to the page: eight equations, four corners."""
    rows: list[list[float]] = []
    values: list[float] = []
    for (x, y), (u, v) in zip(corners, ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height)), strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y])
        values.extend((u, v))
    return [float(value) for value in numpy.linalg.solve(numpy.array(rows), numpy.array(values))]


def photograph(page: Image.Image, *, turn_degrees: float, lean: float, blur_px: float, noise: float) -> Image.Image:
    """A phone's picture of a whole page on a bench: turned, leaning away, out of focus, grainy, lit from a side."""
    wide, tall = PHOTO_SIZE
    ratio = page.width / page.height
    high = tall * 0.9
    half_width, half_height = min(high * ratio, wide * 0.9) / 2, min(high, wide * 0.9 / ratio) / 2
    angle = numpy.deg2rad(turn_degrees)
    corners = []
    for across, down in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
        shrink = 1 - lean * (1 - down) / 2  # the far edge looks shorter
        x, y = across * half_width * shrink * 0.94, down * half_height * 0.94
        corners.append(
            (
                wide / 2 + x * numpy.cos(angle) - y * numpy.sin(angle),
                tall / 2 + x * numpy.sin(angle) + y * numpy.cos(angle),
            )
        )
    photo = page.transform(
        PHOTO_SIZE,
        Image.Transform.PERSPECTIVE,
        _perspective(corners, page.width, page.height),
        Image.Resampling.BILINEAR,
        fillcolor=96,
    ).filter(ImageFilter.GaussianBlur(blur_px))
    grain = numpy.random.default_rng(7)
    light = numpy.linspace(0.95, 0.7, wide, dtype=numpy.float32)[numpy.newaxis, :]
    level = numpy.asarray(photo, dtype=numpy.float32) * light
    level += grain.standard_normal(level.shape, dtype=numpy.float32) * noise
    return Image.fromarray(numpy.clip(level, 0, 255).astype(numpy.uint8))


@dataclass(frozen=True)
class Area:
    """A rectangle on a page in millimetres from the top left, and what stands there."""

    page: int
    left: float
    top: float
    right: float
    bottom: float
    what: str

    def meets(self, other: Area) -> bool:
        """Whether two areas of one page overlap by more than a hair."""
        hair = 0.05
        return (
            self.page == other.page
            and self.left < other.right - hair
            and other.left < self.right - hair
            and self.top < other.bottom - hair
            and other.top < self.bottom - hair
        )


@dataclass
class Layout:
    """Where everything of a paper was drawn."""

    texts: list[Area] = field(default_factory=list)
    quiet: list[Area] = field(default_factory=list)
    boxes: list[Area] = field(default_factory=list)
    lines: list[Area] = field(default_factory=list)
    page: int = 0

    def faults(self, width: float, height: float) -> Iterator[str]:
        """Texts that meet one another, a code's quiet zone, a box's edge or the edge of the paper."""
        edge = 3.0
        for index, text in enumerate(self.texts):
            if text.left < edge or text.right > width - edge or text.top < 0 or text.bottom > height - edge:
                yield f"runs off the paper: {text}"
            yield from (f"{text} runs into {other}" for other in self.texts[index + 1 :] if text.meets(other))
            yield from (f"{text} disturbs {zone}" for zone in self.quiet if text.meets(zone))
            for box in self.boxes:
                middle = (text.top + text.bottom) / 2
                starts_inside = box.left <= text.left + 0.1 < box.right and box.top <= middle <= box.bottom
                if text.page == box.page and starts_inside and text.right > box.right + 0.05:
                    yield f"{text} runs out of {box}"
        for zone in self.quiet:
            yield from (f"{line} crosses {zone}" for line in self.lines if line.meets(zone))


@contextmanager
def layout(monkeypatch: pytest.MonkeyPatch) -> Iterator[Layout]:
    """Notes where a paper drawn inside puts its texts, boxes and codes."""
    noted = Layout()
    draw_text, draw_box = canvas.PaperSheet.text, canvas.PaperSheet.box
    draw_line, draw_symbol, turn = canvas.PaperSheet.line, canvas.PaperSheet.symbol, canvas.PaperSheet.next_page

    def text(
        self: canvas.PaperSheet,
        x: float,
        y: float,
        words: str,
        *,
        face: Face = "plain",
        pt: float = 9.5,
        **more: object,
    ) -> None:
        wide = width_mm(words, face, pt)
        left = {"left": x, "right": x - wide, "centre": x - wide / 2}[str(more.get("align", "left"))]
        if words.strip():
            high = pt * MM_PER_PT
            noted.texts.append(Area(noted.page, left, y - high * 0.7, left + wide, y + high * 0.05, words))
        draw_text(self, x, y, words, face=face, pt=pt, **more)  # type: ignore[arg-type]

    def box(self: canvas.PaperSheet, x: float, y: float, width: float, height: float, **more: object) -> None:
        noted.boxes.append(Area(noted.page, x, y, x + width, y + height, "box"))
        for x1, y1, x2, y2 in ((x, y, x + width, y), (x, y, x, y + height), (x + width, y, x + width, y + height)):
            noted.lines.append(Area(noted.page, x1 - 0.1, y1 - 0.1, x2 + 0.1, y2 + 0.1, "edge"))
        draw_box(self, x, y, width, height, **more)  # type: ignore[arg-type]

    def line(self: canvas.PaperSheet, x1: float, y1: float, x2: float, y2: float, **more: object) -> None:
        noted.lines.append(Area(noted.page, min(x1, x2), min(y1, y2) - 0.1, max(x1, x2), max(y1, y2) + 0.1, "line"))
        draw_line(self, x1, y1, x2, y2, **more)  # type: ignore[arg-type]

    def symbol(
        self: canvas.PaperSheet, x: float, y: float, symbol: Symbol, *, module: float, height: float = 0.0
    ) -> None:
        zone = symbol.quiet_modules * module - codes.DOT_MM
        over = 0.0 if symbol.height_modules == 1 else zone
        right = x + symbol.width_modules * module + zone
        tall = height or symbol.height_modules * module
        noted.quiet.append(Area(noted.page, x - zone, y - over, right, y + tall + over, "code"))
        draw_symbol(self, x, y, symbol, module=module, height=height)

    def next_page(self: canvas.PaperSheet) -> None:
        noted.page += 1
        turn(self)

    with monkeypatch.context() as patch:
        for name, double in (("text", text), ("box", box), ("line", line), ("symbol", symbol)):
            patch.setattr(canvas.PaperSheet, name, double)
        patch.setattr(canvas.PaperSheet, "next_page", next_page)
        yield noted


def in_threads(task: Callable[[], bytes], count: int) -> list[bytes]:
    """Run one task at once in several threads; their results."""
    results: list[bytes] = []
    threads = [threading.Thread(target=lambda: results.append(task())) for _ in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return results
