"""What an import asks before it goes on, and how an answer is bound to exactly that: this file, these questions."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence

from traveller.decode.book.cells import rows_to_json
from traveller.exchange.workbook.problems import Doubt, Unconfirmed
from traveller.exchange.workbook.raw import RawBook

__all__ = ["consequences", "unconfirmed_in"]

# Short enough to be typed at a command line; a chance hit would confirm what the same person is shown anyway.
_TOKEN_LETTERS = 12
_THEN = {
    "column": ("leave this column out", "leave these {n} columns out"),
    "cell": ("leave this cell out", "leave these {n} cells out"),
    "taken": ("take this figure as it stands", "take these {n} figures as they stand"),
}


def unconfirmed_in(book: RawBook, questions: Sequence[Doubt]) -> Unconfirmed | None:
    """The questions with their token, which another file or another question changes; None where there are none."""
    if not questions:
        return None
    said = [book_digest(book), *(question.text() for question in questions)]
    return Unconfirmed(tuple(questions), hashlib.sha256(json.dumps(said).encode()).hexdigest()[:_TOKEN_LETTERS])


def book_digest(book: RawBook) -> str:
    """Of all that its sheets and pictures say, whatever form the file has."""
    told = hashlib.sha256()
    for name in sorted(book.sheets):
        sheet = book.sheets[name]
        told.update(json.dumps([name, sheet.header, sheet.decimal_mark]).encode())
        told.update(rows_to_json(sheet.rows))
    for name in sorted(book.pictures):
        told.update(json.dumps([name, hashlib.sha256(book.pictures[name]).hexdigest()]).encode())
    return told.hexdigest()


def consequences(questions: Sequence[Doubt]) -> str:
    """What confirming all of them does, for a button: "leave these 2 columns out, and take this figure as ..."."""
    counted = {then: sum(one.times for one in questions if one.then == then) for then in _THEN}
    parts = [_THEN[then][n > 1].format(n=n) for then, n in counted.items() if n]
    return ", and ".join(parts)
