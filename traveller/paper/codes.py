"""Code 128 and QR as ready-made paths in whole modules: one transform and one fill each.

A module is a whole number of dots of a 203 dpi (8 dots a millimetre) thermal printer, and symbols start on a
dot, so that a printer which can only set or leave a dot keeps every bar at its width.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import segno
from barcode.codex import Code128
from barcode.writer import BaseWriter

DOT_MM = 0.125
BAR_MM = 3 * DOT_MM  # 0.375 mm
BAR_QUIET_MODULES = 10
BAR_HEIGHT_LEAST_MM = 12.0
QR_MM = 5 * DOT_MM  # 0.625 mm: the 0.6 mm that phones read off a whole page, on whole dots
QR_LARGE_MM = 6 * DOT_MM
QR_QUIET_MODULES = 4
# ISO/IEC 18004 lets any of the eight masks be read; choosing the best costs four times the encoding itself.
QR_MASK = 3


@dataclass(frozen=True, slots=True)
class Symbol:
    """A symbol without its quiet zone, in modules, y upward; path is a list of PDF rectangles."""

    width_modules: int
    height_modules: int
    quiet_modules: int
    path: str

    def side_mm(self, module_mm: float) -> float:
        """Width with both quiet zones."""
        return (self.width_modules + 2 * self.quiet_modules) * module_mm


class _PathWriter(BaseWriter):  # type: ignore[misc]  # python-barcode carries no types
    """Collects the bars as rectangles in whole modules, one high, instead of drawing them one by one."""

    def __init__(self) -> None:
        super().__init__(None, self._bar, None, self._finish)
        self._bars: list[str] = []
        self._right = 0

    def _bar(self, x: float, y: float, width: float, colour: str) -> None:
        self._right = int(x + width)
        if colour == self.foreground:
            self._bars.append(f"{int(x)} 0 {int(width)} 1 re")

    def _finish(self) -> Symbol:
        return Symbol(self._right, 1, BAR_QUIET_MODULES, " ".join(self._bars))


@lru_cache(maxsize=2048)
def code128(text: str) -> Symbol:
    """Code 128 of a short code, one module high: stretched to its height when drawn."""
    options = {"module_width": 1, "module_height": 1, "quiet_zone": 0, "margin_top": 0, "write_text": False}
    symbol = Code128(text, writer=_PathWriter()).render(options)
    assert isinstance(symbol, Symbol)
    return symbol


@lru_cache(maxsize=4096)
def qr(text: str) -> Symbol:
    """QR at error level M, or better where the same size allows it."""
    rows = segno.make(text, error="m", micro=False, mask=QR_MASK).matrix
    side = len(rows)
    path: list[str] = []
    for line, row in enumerate(rows):
        bits = row.translate(_BITS).decode("ascii")
        start = bits.find("1")
        while start >= 0:
            end = bits.find("0", start)
            end = side if end < 0 else end
            path.append(f"{start} {side - 1 - line} {end - start} 1 re")
            start = bits.find("1", end)
    return Symbol(side, side, QR_QUIET_MODULES, " ".join(path))


_BITS = bytes.maketrans(b"\x00\x01", b"01")


def address(public_address: str, code: str, step: int | None = None) -> str:
    """The address on paper: HOST/t/CODE, or HOST/t/CODE/30 for one step. Paper outlives releases."""
    base = f"{public_address.rstrip('/')}/t/{code}"
    return base if step is None else f"{base}/{step}"
