"""Which rows are new, which differ and which stand already: rows in their one canonical form, by their key."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from traveller.exchange.workbook import rows as r
from traveller.exchange.workbook.canonical import written_per
from traveller.exchange.workbook.problems import Counts
from traveller.exchange.workbook.sheets import SHEETS
from traveller.exchange.workbook.validate_routes import per_thousand
from traveller.rules.units import UnitError, whole_of

__all__ = ["Changes", "canonical", "compare", "row_key"]

News = Literal["added", "changed", "unchanged"]
_Key = tuple[object, ...]
# Each part's bill, steps and checks are one whole: what is no longer listed for it is gone.
TECHNICAL = ("bills", "routings", "checks")


@dataclass(slots=True)
class Changes:
    """Per sheet: what each row is, and the rows of the database that the workbook leaves out of a whole."""

    news: dict[str, list[tuple[r.Row, News]]] = field(default_factory=dict)
    before: dict[str, dict[_Key, r.Row]] = field(default_factory=dict)
    removed: dict[str, list[r.Row]] = field(default_factory=dict)

    def of(self, sheet: str, *wanted: News) -> list[Any]:
        """The rows of one sheet that are added, changed or unchanged."""
        return [row for row, news in self.news.get(sheet, ()) if news in wanted]

    def counts(self) -> dict[str, Counts]:
        """The figures of the report, for every sheet that says something."""
        found: dict[str, Counts] = {}
        for sheet in SHEETS:
            news = [each for _, each in self.news.get(sheet, ())]
            removed = len(self.removed.get(sheet, ()))
            if news or removed:
                found[sheet] = Counts(news.count("added"), news.count("changed"), news.count("unchanged"), removed)
        return found


def row_key(row: r.Row, sheet: str) -> _Key:
    """The columns by which a row is known."""
    return tuple(getattr(row, name) for name in SHEETS[sheet].key)


def canonical(workbook: r.Workbook, units: Mapping[str, str], digests: Mapping[str, str]) -> r.Workbook:
    """Rows as the database would write them: base units, sorted parameters, pictures by their digest.

    `units`: base unit by part; `digests`: the picture that a part has already, for one that did not come along.
    """
    return replace(
        workbook,
        parts=tuple(replace(row, picture=_digest(row, workbook, digests)) for row in workbook.parts),
        bills=tuple(_per_thousand(row, units[row.component]) for row in workbook.bills),
        checks=tuple(replace(row, parameters=tuple(sorted(row.parameters))) for row in workbook.checks),
        stock=tuple(_in_base_unit(row, units[row.part]) for row in workbook.stock),
    )


def compare(mine: r.Workbook, theirs: r.Workbook) -> Changes:
    """The workbook's rows against the database's, both canonical."""
    changes = Changes()
    for sheet in SHEETS:
        before = {row_key(row, sheet): row for row in theirs.sheet(sheet)}
        changes.before[sheet] = before
        changes.news[sheet] = [(row, _news(row, before.get(row_key(row, sheet)))) for row in mine.sheet(sheet)]
    routed = {row.part for row in mine.routings}
    for sheet in TECHNICAL:
        left = {row_key(row, sheet) for row in mine.sheet(sheet)}
        whole = {_part(row) for row in mine.sheet(sheet)} | (routed if sheet in mine.given else set())
        changes.removed[sheet] = [
            row for key, row in changes.before[sheet].items() if _part(row) in whole and key not in left
        ]
    return changes


def _news(row: r.Row, before: r.Row | None) -> News:
    if before is None:
        return "added"
    return "unchanged" if _same(row, before) else "changed"


def _same(row: r.Row, before: r.Row) -> bool:
    """Equal; a day of difference in when something was taken over may only be the site's zone."""
    for name in ("received", "started_on"):
        if hasattr(row, name):
            apart: dt.timedelta = getattr(row, name) - getattr(before, name)
            if abs(apart) <= dt.timedelta(days=1):
                row = replace(row, **{name: getattr(before, name)})
    return row == before


def _part(row: Any) -> str:
    return str(row.part)


def _digest(row: r.PartRow, workbook: r.Workbook, digests: Mapping[str, str]) -> str:
    if not row.picture:
        return ""
    content = workbook.pictures.get(row.picture)
    return digests.get(row.part, "") if content is None else hashlib.sha256(content).hexdigest()


def _per_thousand(row: r.BillRow, unit: str) -> r.BillRow:
    quantity, per = written_per(per_thousand(row, unit))
    return replace(row, quantity=quantity, unit=unit, per=per)


def _in_base_unit(row: r.StockRow, unit: str) -> r.StockRow:
    whole = whole_of(row.quantity, row.unit, unit)  # type: ignore[arg-type]
    if isinstance(whole, UnitError):
        raise ValueError(f"stock row {row.row} was not validated")
    return replace(row, quantity=type(row.quantity)(whole), unit=unit)
