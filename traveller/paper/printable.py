"""A warning before printing: which characters of a paper no font at hand can print, and in which words."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import fields, is_dataclass

from traveller.paper.fonts import missing_glyphs


def texts_of(content: object) -> Iterator[str]:
    """Every text of a paper's content, however deep."""
    if isinstance(content, str):
        yield content
    elif isinstance(content, tuple | list):
        for item in content:
            yield from texts_of(item)
    elif is_dataclass(content) and not isinstance(content, type):
        for one in fields(content):
            yield from texts_of(getattr(content, one.name))


def warnings_for(content: object) -> list[str]:
    """A sentence for each text of which some character would print as a question mark; none: all is well."""
    warnings: dict[str, None] = {}
    for text in texts_of(content):
        missing = missing_glyphs((text,))
        if missing:
            signs = ", ".join(f"{char} ({unicodedata.name(char, f'U+{ord(char):04X}').lower()})" for char in missing)
            warnings[f"“{text}” can't be printed as it is: no font here prints {signs}."] = None
    return list(warnings)
