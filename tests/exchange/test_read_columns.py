"""What a workbook asks people for is used: of every column, what the database keeps is read by something."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache

from tests.architecture.tree import ROOT, modules, parsed
from traveller.exchange.workbook.cells import read_line
from traveller.exchange.workbook.sheets import SHEETS
from traveller.exchange.workbook.sheets.routes import RoutingRow
from traveller.exchange.workbook.stored import at
from traveller.exchange.workbook.tables import Sheet, column, record_of_columns, sheet_of

# What is stored and read by nothing yet, each with its reason.
EXCEPTIONS = {
    "routings.cycle_seconds": "planning by hours is to reckon with it",
    "routings.setup_minutes": "planning by hours is to reckon with it",
}
# Who brings a row to where it is kept, or keeps it, uses nothing.
KEEPERS = (
    "traveller/exchange/",
    "traveller/orders/actions/enter_order.py",
    "/migrations/",
    "/models/",
    "/models.py",
    # They know their own records only.
    "traveller/rules/",
    "traveller/paper/",
    "traveller/management/",
)
_IN_TEMPLATES = re.compile(r"\{\{.*?\}\}|\{%.*?%\}", re.DOTALL)


@cache
def read_names() -> frozenset[str]:
    """Every attribute that is read of something, every name that a query or a template asks for."""
    found: set[str] = set()
    for path in modules("traveller", "sites"):
        name = path.relative_to(ROOT).as_posix()
        if not any(keeper in f"/{name}" or name.startswith(keeper) for keeper in KEEPERS):
            found |= set(_asked_for(parsed(path)))
    for path in (ROOT / "traveller").rglob("templates/**/*.html"):
        for tag in _IN_TEMPLATES.findall(path.read_text(encoding="utf-8")):
            found |= set(re.findall(r"\.([A-Za-z_]\w*)", tag))
    return frozenset(found)


def _asked_for(tree: ast.Module) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Load):
            yield node.attr
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and re.fullmatch(r"\w+", node.value):
            yield from node.value.split("__")


def unread(sheet: Sheet) -> list[str]:
    """The columns of a sheet of which nothing reads what is kept, as sheet.column."""
    return [
        f"{sheet.name}.{each.name}"
        for each in sheet.columns
        if each.stored is not None and each.stored.attribute not in read_names()
    ]


def test_a_column_that_is_kept_and_read_by_nothing_is_named() -> None:
    @record_of_columns
    class Longer(RoutingRow):
        no_such_place: str = column(read_line(60), "Says nothing.", at("no_such_place"), "DS-17", default="")

    longer = sheet_of("routings", "Steps.", Longer, ("part", "step"))
    assert [name for name in unread(longer) if name not in EXCEPTIONS] == ["routings.no_such_place"]


def test_what_every_column_keeps_is_read_by_something() -> None:
    found = [name for sheet in SHEETS.values() for name in unread(sheet)]
    assert [name for name in found if name not in EXCEPTIONS] == [], "read it, or give its reason above"
    assert set(EXCEPTIONS) - set(found) == set(), "read by now: no exception any more"
