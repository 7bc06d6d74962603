"""What does this logger's file say? Bytes in, readings in UTC and degrees C out, or a question, or why not."""

from __future__ import annotations

from traveller.rules.logs.fit import misfits
from traveller.rules.logs.found import Answers, Fault, Log, NotALog, Said, Unclear
from traveller.rules.logs.reader import read_log
from traveller.rules.logs.text import MOST_BYTES
from traveller.rules.logs.words import WORDS

__all__ = ["MOST_BYTES", "WORDS", "Answers", "Fault", "Log", "NotALog", "Said", "Unclear", "misfits", "read_log"]
