"""Which font prints which character: runs with fall-back, widths, and a warning before anything is missing.

Latin, Greek and Cyrillic print on any machine: reportlab carries Vera (Latin), python-barcode carries DejaVu
Sans Mono (Latin, Greek, Cyrillic). Installed DejaVu Sans is preferred; Vera is drawn to the same widths, so
that Latin pages hardly change without it. Chinese comes from an installed font with TrueType outlines.
"""

from __future__ import annotations

import re
import threading
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal, NamedTuple

import barcode
import reportlab
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont

Face = Literal["plain", "bold", "code", "code_bold"]

# reportlab's font parser keeps one reading position per font and process: loading and subsetting take turns.
FONT_LOCK = threading.RLock()

SYSTEM_FOLDERS: tuple[Path, ...] = (
    Path("/usr/share/fonts"),
    Path("/usr/local/share/fonts"),
    Path.home() / ".local/share/fonts",
    Path.home() / ".fonts",
    Path("/Library/Fonts"),
    Path("/System/Library/Fonts"),
    Path("C:/Windows/Fonts"),
)
_REPORTLAB = Path(reportlab.__file__).parent / "fonts"
_BARCODE = Path(barcode.__file__).parent / "fonts"

# File names of Chinese fonts with TrueType outlines; the first that loads is taken. Fonts with PostScript
# outlines do not load and are passed over.
CHINESE_FILES: tuple[str, ...] = (
    "wqy-microhei.ttc", "wqy-zenhei.ttc", "droidsansfallbackfull.ttf", "droidsansfallback.ttf", "uming.ttc",
    "msyh.ttc", "msyh.ttf", "simhei.ttf", "simsun.ttc", "arial unicode.ttf", "stheiti light.ttc",
)  # fmt: skip

# Written right to left, joined or stacked: reportlab would print these letters in the wrong order or shape.
_NEEDS_SHAPING = ((0x0590, 0x08FF), (0x0900, 0x109F), (0x1780, 0x17FF), (0xFB1D, 0xFDFF), (0xFE70, 0xFEFC))


class GlyphRun(NamedTuple):
    """A stretch of text that one font can print; heavy means that boldness is made by a stroke."""

    font: str
    text: str
    heavy: bool


@dataclass(frozen=True)
class _Font:
    name: str
    glyphs: frozenset[int]


@dataclass(frozen=True)
class _Link:
    """One place in a face's chain of fonts."""

    file: Path
    heavy: bool


@lru_cache(maxsize=1)
def _installed() -> dict[str, Path]:
    """Installed TrueType files by lower-case file name."""
    found: dict[str, Path] = {}
    for folder in SYSTEM_FOLDERS:
        if folder.is_dir():
            for file in sorted(folder.rglob("*.tt[fc]")):
                found.setdefault(file.name.lower(), file)
    return found


@lru_cache(maxsize=32)
def _load(file: Path) -> _Font | None:
    """Register one font file with reportlab; None when its outlines can't be used."""
    name = f"Paper-{file.stem.replace(' ', '-')}"
    with FONT_LOCK:
        try:
            font = TTFont(name, str(file))
        except (TTFError, OSError):
            return None
        pdfmetrics.registerFont(font)
    return _Font(name, frozenset(font.face.charToGlyph))


@lru_cache(maxsize=8)
def _chain(face: Face) -> tuple[_Link, ...]:
    """The fonts to try for a face, best first; every chain ends in the whole plain chain."""
    installed = _installed()
    wanted: dict[Face, tuple[tuple[str, Path | None], ...]] = {
        "plain": (("dejavusans.ttf", _REPORTLAB / "Vera.ttf"),),
        "bold": (("dejavusans-bold.ttf", _REPORTLAB / "VeraBd.ttf"),),
        "code": (("", _BARCODE / "DejaVuSansMono.ttf"),),
        "code_bold": (("dejavusansmono-bold.ttf", None),),
    }
    links = [
        _Link(file, False)
        for name, shipped in wanted[face]
        for file in (installed.get(name), shipped)
        if file is not None
    ]
    if face == "plain":
        links.append(_Link(_BARCODE / "DejaVuSansMono.ttf", False))
        links.extend(_Link(installed[name], False) for name in CHINESE_FILES if name in installed)
        return tuple(links)
    if face == "code_bold":
        links.append(_Link(_BARCODE / "DejaVuSansMono.ttf", True))
    heavy = face in ("bold", "code_bold")
    links.extend(_Link(link.file, heavy) for link in _chain("plain"))
    return tuple(links)


def _printable(char: str) -> bool:
    point = ord(char)
    if point < 0x0590:
        return True
    if any(low <= point <= high for low, high in _NEEDS_SHAPING):
        return False
    return unicodedata.bidirectional(char) not in ("R", "AL")


@lru_cache(maxsize=8192)
def _font_for(char: str, face: Face) -> tuple[str, bool] | None:
    """The font that prints one character, and whether it must be made heavy; None when no font has it."""
    if not _printable(char):
        return None
    for link in _chain(face):
        font = _load(link.file)
        if font is not None and ord(char) in font.glyphs:
            return font.name, link.heavy
    return None


@lru_cache(maxsize=8192)
def drawable(text: str) -> str:
    """Text as it will be printed: composed letters, one line, no invisible characters."""
    composed = unicodedata.normalize("NFC", text)
    if composed.isascii() and composed.isprintable():
        return composed
    kept = (
        " " if unicodedata.category(char) in ("Cc", "Zl", "Zp") else char
        for char in composed
        if unicodedata.category(char) != "Cf" and not 0xFE00 <= ord(char) <= 0xFE0F
    )
    return "".join(kept)


@lru_cache(maxsize=8192)
def _font_for_word(word: str, face: Face) -> tuple[str, bool] | None:
    """The first font that prints the whole of a word, so that no letter of a name looks pasted in."""
    if not all(_printable(char) for char in word):
        return None
    for link in _chain(face):
        font = _load(link.file)
        if font is not None and font.glyphs.issuperset(map(ord, word)):
            return font.name, link.heavy
    return None


@lru_cache(maxsize=8192)
def runs(text: str, face: Face) -> tuple[GlyphRun, ...]:
    """Split a text into runs, each printable by one font; what no font has is printed as a question mark."""
    made: list[GlyphRun] = []
    for word in re.findall(r"[^ ]* *", drawable(text)):
        whole = _font_for_word(word, face)
        for piece in (word,) if whole else word:
            font = whole or _font_for(piece, face)
            if font is None:
                piece, font = "?", _font_for("?", face)
            assert font is not None, "the shipped fonts carry ASCII"
            if made and (made[-1].font, made[-1].heavy) == font:
                made[-1] = made[-1]._replace(text=made[-1].text + piece)
            elif piece:
                made.append(GlyphRun(font[0], piece, font[1]))
    return tuple(made)


@lru_cache(maxsize=16384)
def run_width_pt(run: GlyphRun) -> float:
    """The printed width of a run at one point, in points."""
    return float(pdfmetrics.stringWidth(run.text, run.font, 1000)) / 1000


@lru_cache(maxsize=16384)
def _unit_width(text: str, face: Face) -> float:
    return sum(run_width_pt(run) for run in runs(text, face))


def width_pt(text: str, face: Face, size_pt: float) -> float:
    """The printed width of one line, in points."""
    return _unit_width(text, face) * size_pt


def missing_glyphs(texts: Iterable[str]) -> list[str]:
    """Characters in texts that no font at hand can print, each once, in order: ask BEFORE printing."""
    missing: dict[str, None] = {}
    for text in texts:
        for char in drawable(text):
            if _font_for(char, "plain") is None:
                missing[char] = None
    return list(missing)
