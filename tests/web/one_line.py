"""A page as tests match it: without the line breaks that templates have for their readers."""

from __future__ import annotations

import re


def one_line(page: str) -> str:
    """The page without its line breaks and the blanks beside them; one that stands between two words is a blank."""
    return re.sub(r"\n", " ", re.sub(r"(?<=>)\n|\n(?=<)", "", re.sub(r"\s*\n\s*", "\n", page)))
