"""The first row of a sheet: which heading stands for which column; what is unknown is asked, what is old is named."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from traveller.exchange.workbook.problems import Findings, nearest_word, offer
from traveller.exchange.workbook.raw import RawSheet
from traveller.exchange.workbook.tables import Sheet

__all__ = ["match_heads"]


def match_heads(raw: RawSheet, sheet: Sheet, findings: Findings) -> Mapping[str, str] | None:
    """From column name to the heading that stands for it; None when a needed column is not there."""
    if not raw.header:
        _refuse_empty(sheet, findings)
        return None
    # Of several words for one column the first that is there, its own name before all others.
    words = ((column.name, word) for column in sheet.all_columns for word in reversed((column.name, *column.also)))
    heads = {name: word for name, word in words if word in raw.header}
    unknown = [word for word in raw.header if word and word not in heads.values()]
    answered = _refuse_second(sheet, unknown, heads, findings) | _refuse_old(sheet, unknown, heads, findings)
    unknown = [word for word in unknown if word not in answered]
    absent = [column.name for column in sheet.all_columns if column.name not in heads]
    _ask_of_unknown(sheet, unknown, absent, findings)
    return None if _refuse_lacking(sheet, absent, unknown, findings) else heads


def _ask_of_unknown(sheet: Sheet, unknown: Sequence[str], absent: Sequence[str], findings: Findings) -> None:
    for word in unknown:
        close = nearest_word(word, absent, 1)
        meant = f"if {close[0]} is meant, call it so; " if close else ""
        right = f"{meant}confirmed, it is left out"
        findings.ask(sheet.name, None, word, "", "is not a column of this sheet", right, "column")


def _refuse_empty(sheet: Sheet, findings: Findings) -> None:
    if sheet.needed:
        head = ", ".join(column.name for column in sheet.all_columns)
        findings.wrong(sheet.name, None, "", "", "is empty", f"its first row names the columns: {head}")
        findings.unread.add(sheet.name)


def _refuse_second(sheet: Sheet, unknown: Sequence[str], heads: Mapping[str, str], findings: Findings) -> set[str]:
    """Two headings of one meaning: `color` beside `colour`."""
    meant = {word: column.name for column in sheet.all_columns for word in (column.name, *column.also)}
    found = {word for word in unknown if word in meant}
    for word in unknown:
        if word in found:
            wrong = f"means the same as {heads[meant[word]]}, which is there too"
            findings.wrong(sheet.name, None, word, "", wrong, "leave one of the two columns")
    return found


def _refuse_old(sheet: Sheet, unknown: Sequence[str], heads: Mapping[str, str], findings: Findings) -> set[str]:
    """A heading of earlier workbooks: its figures may have meant something else, so nobody reads them silently."""
    now = {column.was: column.name for column in sheet.all_columns if column.was}
    found = {word for word in unknown if word in now}
    for word in unknown:
        if word in found and now[word] in heads:
            wrong = f"is called {now[word]} now, and {now[word]} is there too"
            findings.wrong(sheet.name, None, word, "", wrong, "leave one of the two columns")
        elif word in found:
            right = f"see what {now[word]} means, and head the column so"
            findings.wrong(sheet.name, None, word, "", f"is called {now[word]} now", right)
    return found


def _refuse_lacking(sheet: Sheet, absent: Sequence[str], unknown: Sequence[str], findings: Findings) -> bool:
    """Is a needed column absent? Each is named, with the unknown word that may stand for it."""
    lacking = [column.name for column in sheet.all_columns if column.needed and column.name in absent]
    for name in lacking:
        right = offer(name, unknown, f"add a column headed {name}", 0)
        if right.startswith("did you mean"):
            right = f"head the column {nearest_word(name, unknown, 1)[0]} with the word {name}"
        findings.wrong(sheet.name, None, name, "", "is a column that is needed and not there", right)
    if lacking:
        findings.unread.add(sheet.name)
    return bool(lacking)
