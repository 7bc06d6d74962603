"""Measuring before drawing: wrap, fit and clip text to a width. Widths in millimetres, sizes in points."""

from __future__ import annotations

from functools import lru_cache

from traveller.paper.fonts import Face, drawable, width_pt

MM_PER_PT = 25.4 / 72
ELLIPSIS = "…"


def width_mm(text: str, face: Face, size_pt: float) -> float:
    """The printed width of one line, in millimetres."""
    return width_pt(text, face, size_pt) * MM_PER_PT


def leading_mm(size_pt: float) -> float:
    """The distance from one line to the next."""
    return size_pt * 1.24 * MM_PER_PT


def _breakable(char: str) -> bool:
    """A line may be broken before and after any Chinese, Japanese or Korean character."""
    return 0x2E80 <= ord(char) <= 0x9FFF or 0xAC00 <= ord(char) <= 0xD7AF or 0xF900 <= ord(char) <= 0xFAFF


def _pieces(text: str) -> list[str]:
    """Words with the space before them, and single characters where the script allows a break anywhere."""
    pieces: list[str] = []
    word = ""
    for char in text:
        if char == " ":
            if word.strip():
                pieces.append(word)
                word = ""
            word = " "
        elif _breakable(char):
            if word.strip():
                pieces.append(word)
                word = ""
            pieces.append(word + char)
            word = ""
        else:
            word += char
    if word.strip():
        pieces.append(word)
    return pieces


def _prefix_that_fits(text: str, face: Face, size_pt: float, width: float) -> int:
    """How many leading characters fit; at least one, so that wrapping always ends."""
    low, high = 1, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if width_mm(text[:middle], face, size_pt) <= width:
            low = middle
        else:
            high = middle - 1
    return low


@lru_cache(maxsize=4096)
def wrap(text: str, face: Face, size_pt: float, width: float, max_lines: int = 0) -> tuple[str, ...]:
    """Lines no wider than width; longer words are broken; past max_lines (0: no end) an ellipsis ends it."""
    lines: list[str] = []
    line = ""
    for piece in _pieces(drawable(text)):
        if width_mm(line + piece if line else piece.lstrip(), face, size_pt) <= width:
            line = line + piece if line else piece.lstrip()
            continue
        if line:
            lines.append(line)
        line = piece.lstrip()
        while width_mm(line, face, size_pt) > width and len(line) > 1:
            cut = _prefix_that_fits(line, face, size_pt, width)
            lines.append(line[:cut])
            line = line[cut:]
    if line:
        lines.append(line)
    if max_lines and len(lines) > max_lines:
        last = " ".join(lines[max_lines - 1 :])
        lines = [*lines[: max_lines - 1], clip(last, face, size_pt, width)]
    return tuple(lines)


def clip(text: str, face: Face, size_pt: float, width: float) -> str:
    """One line that fits, ended by an ellipsis where something had to go."""
    text = drawable(text)
    if width_mm(text, face, size_pt) <= width:
        return text
    room = width - width_mm(ELLIPSIS, face, size_pt)
    kept = text[: _prefix_that_fits(text, face, size_pt, room)].rstrip()
    return kept + ELLIPSIS if width_mm(kept, face, size_pt) <= room else ELLIPSIS


def fit_size(text: str, face: Face, size_pt: float, width: float, *, least_pt: float) -> float:
    """The largest size up to size_pt at which one line fits, never below least_pt."""
    natural = width_mm(text, face, size_pt)
    if natural <= width:
        return size_pt
    return max(least_pt, int(size_pt * width / natural * 4) / 4)


@lru_cache(maxsize=8192)
def fit(text: str, face: Face, size_pt: float, width: float, least_pt: float) -> tuple[float, str]:
    """Size and words of one line: made smaller down to least_pt, and only then clipped."""
    size = fit_size(text, face, size_pt, width, least_pt=least_pt)
    return size, clip(text, face, size, width)
