"""The buttons of a figure that can mean two things, as a page offers them."""

from __future__ import annotations

import re
from html import unescape

from django.http.response import HttpResponseBase

from tests.web.one_line import one_line


def meanings_of(answer: HttpResponseBase) -> dict[str, str]:
    """What each button sends, with its words."""
    page = one_line(getattr(answer, "content", b"").decode())
    found = re.findall(r'<button[^>]*name="(?:meant|as)"[^>]*value="([^"]*)"[^>]*>([^<]*)<', page)
    return {unescape(sent): unescape(words).strip() for sent, words in found}
