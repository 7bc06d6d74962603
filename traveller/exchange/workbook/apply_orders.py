"""Orders, opening stock and batches under way, through the same actions as everyone else."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from sites.models import Site
from traveller.exchange.workbook import rows as r
from traveller.exchange.workbook.apply_sites import ids_now
from traveller.exchange.workbook.compare import Changes, row_key
from traveller.exchange.workbook.problems import Findings
from traveller.exchange.workbook.sheets import SHEETS
from traveller.exchange.workbook.stored import Ids
from traveller.exchange.workbook.tables import stored_values
from traveller.journal.event_context import EventContext
from traveller.journal.refusal import Refusal
from traveller.journal.saying import said
from traveller.orders.actions.adopt_batch import adopt_batch
from traveller.orders.actions.enter_order import LineTold, enter_order
from traveller.orders.actions.open_stock import open_stock
from traveller.orders.models import OrderLine
from traveller.rules.moments import EARLIEST

__all__ = ["apply_batches", "apply_orders", "apply_stock"]

# The hour at which something is said to have been there, where only the day is known.
_MORNING = dt.time(8)


def apply_orders(mine: r.Workbook, changes: Changes, event_context: EventContext, findings: Findings) -> None:
    """Each order that has a new or changed line is entered anew, with all its lines of the workbook."""
    touched = {row.order for row in changes.of("orders", "added", "changed")}
    ids, sheet = ids_now(), SHEETS["orders"]
    for number in sorted(touched):
        lines = [row for row in mine.orders if row.order == number]
        # What is written at the order itself is the same in all of its lines: validation saw to it.
        found = [stored_values(sheet, row, ids) for row in lines]
        answer = enter_order(
            event_context=event_context.derived(f"order {number}"),
            lines=[LineTold(**{name: value for name, value in each.items() if "." not in name}) for each in found],
            **{name.removeprefix("order."): value for name, value in found[0].items() if "." in name},
        )
        if isinstance(answer, Refusal):
            at = next((row for row in lines if row.line == answer.figures.get("line")), lines[0])
            _refused("orders", at.row, answer, findings)


def apply_stock(changes: Changes, event_context: EventContext, findings: Findings) -> None:
    """New lots are opened; one that was taken over with other figures is refused, for counts change stock."""
    ids, sites, sheet = ids_now(), _sites(), SHEETS["stock"]
    for row in changes.of("stock", "changed"):
        _taken_over("stock", row, changes, findings)
    for row in changes.of("stock", "added"):
        site = sites[row.site]
        moment = _moment("stock", row, "received", row.received, site, event_context, findings)
        if moment is None:
            continue
        answer = open_stock(
            event_context=_at(event_context, moment),
            **stored_values(sheet, row, ids),
        )
        if isinstance(answer, Refusal):
            _refused("stock", row.row, answer, findings)


def apply_batches(mine: r.Workbook, changes: Changes, event_context: EventContext, findings: Findings) -> None:
    """Batches under way are taken over once, where their pieces lie."""
    for row in changes.of("batches", "changed"):
        _taken_over("batches", row, changes, findings)
    ids, sites = ids_now(), _sites()
    lines = {(number, line): pk for pk, number, line in OrderLine.objects.values_list("pk", "order__number", "number")}
    known = {before.reference for before in changes.before["batches"].values() if isinstance(before, r.BatchRow)}
    new: dict[str, list[r.BatchRow]] = {}
    for row in changes.of("batches", "added"):
        if row.reference in known:
            right = "leave the row out: its counts are reported at the step"
            findings.wrong(
                "batches", row.row, "reference", row.reference, "was taken over before without this step", right
            )
        else:
            new.setdefault(row.reference, []).append(row)
    for reference, rows in new.items():
        _adopt(reference, rows, ids, sites, lines, event_context, findings)


def _adopt(
    reference: str,
    rows: Sequence[r.BatchRow],
    ids: Ids,
    sites: dict[str, Site],
    lines: dict[tuple[str, int], int],
    event_context: EventContext,
    findings: Findings,
) -> None:
    first = min(rows, key=lambda row: row.step)
    moment = _moment("batches", first, "started_on", first.started_on, sites[first.site], event_context, findings)
    if moment is None:
        return
    answer = adopt_batch(
        event_context=_at(event_context, moment),
        reference=reference,
        part_id=ids.parts[first.part],
        good={row.step: row.good for row in rows},
        line_id=lines[first.order, first.line] if first.order and first.line is not None else None,
    )
    if isinstance(answer, Refusal):
        _refused("batches", first.row, answer, findings)


def _sites() -> dict[str, Site]:
    return {site.code: site for site in Site.objects.all()}


def _moment(
    sheet: str, row: r.Row, column: str, day: dt.date, site: Site, event_context: EventContext, findings: Findings
) -> dt.datetime | None:
    """The morning of a day at a site, but not after the telling; a day still to come is noted."""
    if day > event_context.at.astimezone(site.zone).date():
        findings.wrong(sheet, row.row, column, day, "has not come yet", "write the day on which it came to lie there")
        return None
    moment = min(dt.datetime.combine(day, _MORNING, tzinfo=site.zone), event_context.at)
    if moment < EARLIEST:
        findings.wrong(sheet, row.row, column, day, "is long past", "check the year: nothing here began before 2000")
        return None
    return moment


def _at(event_context: EventContext, moment: dt.datetime) -> EventContext:
    # The actions give these events an id of their own, from the row's key: never posted twice.
    return EventContext(
        uid=event_context.uid, at=moment, recorded_at=event_context.recorded_at, actor=event_context.actor
    )


def _taken_over(sheet: str, row: Any, changes: Changes, findings: Findings) -> None:
    before = changes.before[sheet][row_key(row, sheet)]
    for each in SHEETS[sheet].columns:
        column = each.name
        mine, theirs = getattr(row, each.attribute), getattr(before, each.attribute)
        if mine != theirs:
            unit = f" {row.unit}" if column == "quantity" else ""
            found = f"{mine:f}" if column == "quantity" else mine
            there = f"{theirs:f}" if column == "quantity" else theirs or "nothing"
            wrong = f"{unit.lstrip()} but it was taken over with {there}{unit}".lstrip()
            right = "leave the row as it was: what changed since is counted, not imported"
            findings.wrong(sheet, row.row, column, found, wrong, right)
            return


def _refused(sheet: str, row: int, refusal: Refusal, findings: Findings) -> None:
    findings.wrong(sheet, row, "", "", said(refusal), "")
