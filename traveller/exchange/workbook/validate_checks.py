"""Checks against the rules: kinds, scopes and what each kind reads."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from traveller.exchange.workbook.lookup import Lookup
from traveller.exchange.workbook.problems import Findings, nearest_word
from traveller.exchange.workbook.rows import CheckRow, Workbook
from traveller.rules.checks import KINDS
from traveller.rules.checks.kind import CheckKind

__all__ = ["validate_checks"]


def validate_checks(workbook: Workbook, lookup: Lookup, findings: Findings) -> Workbook:
    """Kinds and scopes that the rules know; parameters come back as the rules write them."""
    checked: list[CheckRow] = []
    for row in workbook.checks:
        if lookup.part("checks", row.row, "part", row.part) is not None:
            lookup.step("checks", row.row, "step", row.part, row.step)
        checked.append(_check(row, lookup, findings))
    return replace(workbook, checks=tuple(checked))


def _kinds_offered(word: str) -> str:
    """The kinds most like the word, else all of them; each with the columns that it reads."""
    close = nearest_word(word, KINDS)
    read = (f"{name} (reads {', '.join(KINDS[name].columns)})" for name in close or KINDS)
    return f"did you mean {' or '.join(read)}?" if close else f"use one of: {'; '.join(read)}"


def _check(row: CheckRow, lookup: Lookup, findings: Findings) -> CheckRow:
    name = row.kind.casefold().replace(" ", "_").replace("-", "_")
    kind = KINDS.get(name)
    if kind is None:
        findings.wrong("checks", row.row, "kind", row.kind, "is not a kind of check", _kinds_offered(row.kind))
        return row
    if row.scope not in kind.scopes:
        wrong = f"is not how a {name} check is judged"
        findings.wrong("checks", row.row, "scope", row.scope, wrong, "use one of: " + ", ".join(kind.scopes))
    given = dict(row.parameters)
    _ask_of_unread(row, kind, findings)
    params = kind.parse({column: given.get(column, "") for column in kind.columns})
    if isinstance(params, list):
        for fault in params:
            wrong = fault.why or ("cannot be used" if fault.found else "is empty")
            findings.wrong("checks", row.row, fault.column, fault.found, wrong, f"write {fault.wanted}")
        return replace(row, kind=name)
    dumped = tuple((column, value) for column, value in kind.dump(params).items() if value)
    read = replace(row, kind=name, parameters=tuple(sorted(dumped)))
    for word in dict.fromkeys(each.expected for each in kind.questions(params) if each.expected):
        _ask_of_word(read, word, lookup, findings)
    return read


def _ask_of_unread(row: CheckRow, kind: CheckKind[Any], findings: Findings) -> None:
    """A limit that nobody will judge by: whoever wrote it believes that it holds."""
    for column, found in row.parameters:
        if column not in kind.columns:
            right = "it reads " + ", ".join(kind.columns) if kind.columns else "it reads no further column"
            wrong = f"means nothing to a {kind.name} check"
            findings.ask("checks", row.row, column, found, wrong, f"{right}; confirmed, it is left out", "cell")


def _ask_of_word(row: CheckRow, word: str, lookup: Lookup, findings: Findings) -> None:
    """A word to be confirmed at the step that nothing can ever be confirmed as: every batch would fail."""
    if lookup.has_word(word):
        return
    column = next((column for column, value in row.parameters if value == word), "kind")
    part = lookup.parts.get(row.part)
    own = f"{row.part} is {', '.join(part.words)}; " if part and part.words else ""
    wrong = "is a word that no part has as its variant, colour or revision"
    findings.ask("checks", row.row, column, word, wrong, f"{own}confirmed, this word alone passes", "taken")
