"""Passes and sign-in links are keys: what a log keeps of them is only that there was one.

A log is read by more people, and kept longer, than any page. The filter stands at every handler of ours and at the
server's own loggers, so that no line with a key in it is written, wherever it came from: a refused form, a page
that is not there, a fault with its traceback, the server's list of requests.
"""

from __future__ import annotations

import logging
import re
import traceback

from traveller.rules.codes import ALPHABET

__all__ = ["SERVER_LOGGERS", "TokensBlanked", "blank"]

BLANK = "…"
# The production server's: they have handlers of their own, beside ours.
SERVER_LOGGERS = ("_granian", "granian.access")

# An address may hold a key in any spelling that the door understands, blanks and hyphens included: everything behind
# the slash goes, to the end of the line or to where a list of requests goes on.
_IN_ADDRESS = re.compile(r"((?:/|%2f)(?:pass|sign-in)(?:/|%2f))(?!\s|$).+?(?= HTTP/\d|$)", re.IGNORECASE | re.MULTILINE)
_IN_COOKIE = re.compile(r"""\b(site_pass|sessionid|csrftoken)(['"]?\s*[:=]\s*['"]?)[^\s;,'"&]+""", re.IGNORECASE)
# Where a key stands alone: sixteen characters of the alphabet (in fours, or not), or a signed value.
_LETTERS = f"[{ALPHABET}{ALPHABET.lower()}]"
_PASS = re.compile(
    rf"(?<![\w-])(?=[A-Za-z-]{{0,18}}\d)(?:{_LETTERS}{{16}}|{_LETTERS}{{4}}(?:[- ]{_LETTERS}{{4}}){{3}})(?![\w-])"
)
_SIGNED = re.compile(r"(?<![\w-])[\w-]{8,}:[A-Za-z0-9]{6}:[\w-]{20,}")


def blank(text: str) -> str:
    """The text without passes, sign-in links and session keys."""
    text = _IN_ADDRESS.sub(rf"\1{BLANK}", text)
    text = _IN_COOKIE.sub(rf"\1\2{BLANK}", text)
    return _SIGNED.sub(BLANK, _PASS.sub(BLANK, text))


class TokensBlanked(logging.Filter):
    """Lets every record through, without the keys that stand in it: words, figures, request, traceback."""

    def filter(self, record: logging.LogRecord) -> bool:
        try:
            words = record.getMessage()
        except (TypeError, ValueError, KeyError):
            # Words and figures that do not fit each other are a slip of the caller's; the line is still worth having.
            words = f"{record.msg} {record.args}"
        record.msg, record.args = blank(words), ()
        if record.exc_info and not record.exc_text:
            record.exc_text = "".join(traceback.format_exception(*record.exc_info)).rstrip("\n")
        if record.exc_text:
            # A formatter takes this text instead of asking the exception again.
            record.exc_text = blank(record.exc_text)
        if record.stack_info:
            record.stack_info = blank(record.stack_info)
        if "request" in record.__dict__:
            # It holds address, cookies and form; whoever reports it would write them down.
            record.__dict__["request"] = blank(repr(record.__dict__["request"]))
        return True
