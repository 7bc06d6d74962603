"""What the database gives each sheet: one thing a row, in the sheet's order."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any, Final

from sites.models import Closure, Lane, Person, Site
from traveller.batches.models import Batch
from traveller.exchange.workbook.sheets.orders import OpenedLot, TakenOver
from traveller.ledger.models import Lot
from traveller.orders.models import OrderLine
from traveller.products.models import BillLine, Check, Operation, Part
from traveller.products.queries import present_routings

__all__ = ["SOURCES"]


def _bills() -> Iterable[BillLine]:
    found = BillLine.objects.filter(routing__in=_present()).select_related("component", "routing__part")
    return found.defer("component__picture", "routing__part__picture").order_by(
        "routing__part__number", "step", "component__number"
    )


def _operations() -> Iterable[Operation]:
    found = Operation.objects.filter(routing_id__in=_present()).select_related("site", "routing__part")
    # By the letters of the part's number as Python orders them, whatever the database's collation.
    return sorted(found.defer("routing__part__picture"), key=lambda each: (each.routing.part.number, each.number))


def _checks() -> Iterable[Check]:
    found = Check.objects.filter(operation__routing_id__in=_present()).select_related("operation__routing__part")
    return sorted(
        found.defer("operation__routing__part__picture").order_by("id"),
        key=lambda each: (each.operation.routing.part.number, each.operation.number),
    )


def _present() -> list[int]:
    """Ids of each part's latest routing."""
    return list(present_routings().values_list("pk", flat=True))


def _order_lines() -> Iterable[OrderLine]:
    """Every line of every order, by order and line."""
    found = OrderLine.objects.select_related("order", "part").defer("part__picture")
    return found.order_by("order__number", "number")


def _opened() -> Iterator[OpenedLot]:
    """Opening stock as it was told, in the part's base unit, on the day at its site."""
    lots = Lot.objects.filter(origin="opening", born_event__kind="stock opened").select_related(
        "part", "born_event", "born_event__site"
    )
    for lot in lots.defer("part__picture").order_by("part__number", "outside_number", "pk"):
        reported: dict[str, Any] = lot.born_event.data["told"]
        site = lot.born_event.site
        if site is not None:
            yield OpenedLot(
                part=lot.part,
                outside_number=lot.outside_number,
                site=site,
                quantity=Decimal(reported["quantity"]),
                received=lot.born_event.happened_at.astimezone(site.zone).date(),
                expires_on=dt.date.fromisoformat(reported["expires_on"]) if reported.get("expires_on") else None,
            )


def _taken_over() -> Iterator[TakenOver]:
    """Batches taken over as they were told: one for each step at which pieces of them lay."""
    adopted = Batch.objects.filter(released_event__kind="adopted", parent=None).select_related("part", "released_event")
    found = OrderLine.objects.values_list("pk", "order__number", "number")
    lines = {pk: (number, line) for pk, number, line in found}
    for batch in adopted.defer("part__picture").order_by("pk"):
        reported: dict[str, Any] = batch.released_event.data["told"]
        sites = {step.number: step.site for step in batch.steps.select_related("site")}
        order, line = lines.get(reported["line"], ("", None))
        for number, good in sorted((int(step), good) for step, good in reported["good"].items()):
            site = sites[number]
            yield TakenOver(
                batch=batch,
                reference=reported["reference"],
                order=order,
                line=line,
                step=number,
                site=site,
                good=good,
                started_on=batch.released_event.happened_at.astimezone(site.zone).date(),
            )


SOURCES: Final[Mapping[str, Callable[[], Iterable[object]]]] = {
    "sites": lambda: Site.objects.order_by("code"),
    "lanes": lambda: Lane.objects.select_related("origin", "destination").order_by("origin__code", "destination__code"),
    "closures": lambda: Closure.objects.select_related("site").order_by("site__code", "first_day", "last_day"),
    "people": lambda: Person.objects.select_related("site").order_by("site__code", "name"),
    "parts": lambda: Part.objects.defer("picture").select_related("supplier").order_by("number"),
    "bills": _bills,
    "routings": _operations,
    "checks": _checks,
    "orders": _order_lines,
    "stock": _opened,
    "batches": _taken_over,
}
