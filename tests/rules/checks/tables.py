"""The table of each kind of check, which the tests of every kind walk: it stands in the kind's own test file.

A kind without its file, or a file without its TABLE, is named by whoever walks; so is an entry that lacks something.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import import_module
from importlib.util import find_spec
from typing import Any

from traveller.rules.checks import KINDS
from traveller.rules.checks.base import Scope

Row = Mapping[str, str]


@dataclass(frozen=True)
class Table:
    """Rows of a kind as founders type them, and what a shop answers.

    `rows`: two or more, so that every optional column is once empty and once filled. `full`: all columns at once, but
    for those that stand `instead` of others. `good` and `bad`: what is typed on the page for each question of the full
    row that is measured, so that the verdict is no failure, and is one; by the question's name where they differ;
    None where nothing is measured, or where nothing that is measured fails. `wrong_unit`: one that it cannot take.
    """

    rows: tuple[Row, ...]
    scope: Scope
    full: Row
    instead: tuple[Row, ...] = ()
    good: str | Row | None = None
    bad: str | Row | None = None
    wrong_unit: str = ""


def typed(answers: str | Row | None, question: str) -> str:
    """What is typed for one question; an AssertionError where the table says nothing of it."""
    found = answers.get(question) if isinstance(answers, Mapping) else answers
    assert found is not None, f"TABLE says nothing of what is typed for {question}"
    return found


@lru_cache(maxsize=1)
def tables() -> dict[str, Table]:
    """By kind; what is missing is named by one test, not by each that walks."""
    return {name: table_of(name) for name in KINDS if not missing_of(name)}


def table_of(name: str) -> Table:
    """The table of one kind."""
    module = f"tests.rules.checks.test_{name}"
    file = module.replace(".", "/") + ".py"
    assert find_spec(module), f"the kind {name} has no test file: write {file}"
    found: Any = getattr(import_module(module), "TABLE", None)
    assert isinstance(found, Table), f"the kind {name} has no TABLE in {file}"
    assert len(found.rows) >= 2, f"{file}: TABLE of {name} needs two rows or more"
    return found


def missing_of(name: str) -> str:
    """What walking says of a kind that lacks its table; empty where it has one."""
    try:
        table_of(name)
    except AssertionError as fault:
        return str(fault)
    return ""
