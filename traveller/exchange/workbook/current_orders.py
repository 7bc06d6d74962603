"""Orders, opening stock and batches taken over, as the workbook told them: from the lines and from the journal."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from traveller.batches.models import Batch
from traveller.exchange.workbook import rows as r
from traveller.exchange.workbook.canonical import UNIT_WORD, percent_written
from traveller.ledger.models import Lot
from traveller.orders.models import OrderLine

__all__ = ["batch_rows", "order_rows", "stock_sheet"]


def order_rows() -> tuple[r.OrderRow, ...]:
    """Every line of every order, by order and line; tolerances in per cent."""
    lines = OrderLine.objects.select_related("order", "part").defer("part__picture").order_by("order__number", "number")
    return tuple(
        r.OrderRow(
            order=line.order.number,
            customer=line.order.customer,
            ship_to=line.order.ship_to,
            placed=line.order.placed_on,
            line=line.number,
            part=line.part.number,
            quantity=line.quantity,
            due=line.due_on,
            over_percent=percent_written(line.over_ppm),
            under_percent=percent_written(line.under_ppm),
        )
        for line in lines
    )


def stock_sheet() -> tuple[r.StockRow, ...]:
    """Opening stock as it was told, in the part's base unit, on the day at its site."""
    lots = Lot.objects.filter(origin="opening", born_event__kind="stock opened").select_related(
        "part", "born_event", "born_event__site"
    )
    rows: list[r.StockRow] = []
    for lot in lots.defer("part__picture").order_by("part__number", "outside_number", "pk"):
        reported: dict[str, Any] = lot.born_event.data["told"]
        site = lot.born_event.site
        if site is None:
            continue
        rows.append(
            r.StockRow(
                part=lot.part.number,
                lot=lot.outside_number,
                site=site.code,
                quantity=Decimal(reported["quantity"]),
                unit=UNIT_WORD[lot.part.unit],
                received=lot.born_event.happened_at.astimezone(site.zone).date(),
                expires=dt.date.fromisoformat(reported["expires_on"]) if reported.get("expires_on") else None,
            )
        )
    return tuple(rows)


def batch_rows() -> tuple[r.BatchRow, ...]:
    """Batches taken over as they were told: a row for each step at which pieces of them lay."""
    adopted = Batch.objects.filter(released_event__kind="adopted", parent=None).select_related("part", "released_event")
    found = OrderLine.objects.values_list("pk", "order__number", "number")
    lines = {pk: (number, line) for pk, number, line in found}
    rows: list[r.BatchRow] = []
    for batch in adopted.defer("part__picture").order_by("pk"):
        reported: dict[str, Any] = batch.released_event.data["told"]
        sites = {step.number: step.site for step in batch.steps.select_related("site")}
        order, line = lines.get(reported["line"], ("", None))
        for number, good in sorted((int(step), good) for step, good in reported["good"].items()):
            site = sites[number]
            rows.append(
                r.BatchRow(
                    reference=reported["reference"],
                    part=batch.part.number,
                    order=order,
                    line=line,
                    step=number,
                    site=site.code,
                    good=good,
                    started_on=batch.released_event.happened_at.astimezone(site.zone).date(),
                )
            )
    return tuple(rows)
