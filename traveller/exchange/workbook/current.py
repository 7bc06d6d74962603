"""The database as a workbook: what an export writes, and what an import compares with.

Stock and batches are given as they were taken over, not as they lie today: importing an export changes nothing.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from sites.models import Closure, Lane, Person, Site
from traveller.batches.models import Batch
from traveller.exchange.workbook import rows as r
from traveller.exchange.workbook.known import Known, KnownPart
from traveller.exchange.workbook.pictures import FORMATS
from traveller.exchange.workbook.sheets import SHEETS
from traveller.ledger.models import Lot
from traveller.orders.models import OrderLine
from traveller.products.models import BillLine, Check, Operation, Part, Routing

__all__ = ["UNIT_WORD", "bill_row", "from_database", "known_from", "percent"]

UNIT_WORD: Final[Mapping[str, str]] = {"C62": "piece", "GRM": "g", "MGM": "mg", "MMT": "mm", "MLT": "ml"}
_EXTENSION = {media: name.lower().replace("jpeg", "jpg") for name, media in FORMATS.items()}


def from_database(*, pictures: bool = True) -> r.Workbook:
    """Everything that a workbook can say. Without `pictures` a part's picture is named by its digest alone."""
    names, contents = _pictures() if pictures else ({}, {})
    present = _present_routings()
    return r.Workbook(
        sites=tuple(_site(site) for site in Site.objects.order_by("code")),
        lanes=tuple(
            r.LaneRow(
                from_site=lane.origin.code,
                to_site=lane.destination.code,
                transit_days=lane.transit_days,
                carrier=lane.carrier,
            )
            for lane in Lane.objects.select_related("origin", "destination").order_by(
                "origin__code", "destination__code"
            )
        ),
        closures=tuple(
            r.ClosureRow(site=row.site.code, first_day=row.first_day, last_day=row.last_day, name=row.name)
            for row in Closure.objects.select_related("site").order_by("site__code", "first_day", "last_day")
        ),
        people=tuple(
            r.PersonRow(site=row.site.code, name=row.name, initials=row.initials)
            for row in Person.objects.select_related("site").order_by("site__code", "name")
        ),
        parts=tuple(
            _part(part, names) for part in Part.objects.defer("picture").select_related("supplier").order_by("number")
        ),
        bills=tuple(
            bill_row(
                line.part.number, line.component.number, UNIT_WORD[line.component.unit], line.per_thousand, line.step
            )
            for line in BillLine.objects.select_related("part", "component")
            .defer("part__picture", "component__picture")
            .order_by("part__number", "step", "component__number")
        ),
        routings=_routings(present),
        checks=_checks(present),
        orders=_orders(),
        stock=_stock(),
        batches=_batches(),
        pictures=contents,
        given=frozenset(SHEETS),
    )


def percent(ppm: int) -> Decimal:
    """Parts per million as a percentage."""
    return Decimal(ppm) / 10_000


def bill_row(part: str, component: str, unit: str, per_thousand: int, step: int) -> r.BillRow:
    """A bill's line in its one way of being written: for one piece when that is whole, else for a thousand."""
    whole = per_thousand % 1000 == 0
    return r.BillRow(
        part=part,
        component=component,
        quantity=Decimal(per_thousand // 1000 if whole else per_thousand),
        unit=unit,
        per=1 if whole else 1000,
        step=step or None,
    )


def known_from(workbook: r.Workbook) -> Known:
    """What references of another workbook may point at."""
    steps: dict[str, dict[int, str]] = {}
    for row in workbook.routings:
        steps.setdefault(row.part, {})[row.step] = row.site
    components: dict[str, list[str]] = {}
    for bill in workbook.bills:
        components.setdefault(bill.part, []).append(bill.component)
    return Known(
        sites={row.site: row.kind for row in workbook.sites},
        parts={
            row.part: KnownPart(row.kind, row.unit, steps.get(row.part, {}), tuple(components.get(row.part, ())))
            for row in workbook.parts
        },
        order_lines={(row.order, row.line): row.part for row in workbook.orders},
        lanes=frozenset((row.from_site, row.to_site) for row in workbook.lanes),
    )


def _site(site: Site) -> r.SiteRow:
    return r.SiteRow(
        site=site.code,
        name=site.name,
        kind=site.kind,
        timezone=site.timezone,
        language=site.language,
        country=site.country,
        address=site.address,
        phone=site.phone,
        contact=site.contact,
        paper=site.paper,
        turnaround_days=site.turnaround_days,
        shifts=site.shifts,
    )


def _part(part: Part, names: Mapping[str, str]) -> r.PartRow:
    return r.PartRow(
        part=part.number,
        name=part.name,
        variant=part.variant,
        colour=part.colour,
        swatch=part.swatch,
        revision=part.revision,
        kind=part.kind,
        unit=UNIT_WORD[part.unit],
        piece_mass_mg=part.piece_mass_mg,
        shelf_life_days=part.shelf_life_days,
        supplier=part.supplier.code if part.supplier else "",
        picture=names.get(part.picture_digest, part.picture_digest),
    )


def _pictures() -> tuple[dict[str, str], dict[str, bytes]]:
    """File name by digest, and content by file name; one file for all parts that share a picture."""
    names: dict[str, str] = {}
    contents: dict[str, bytes] = {}
    for part in Part.objects.exclude(picture_digest="").order_by("number").iterator(chunk_size=50):
        if part.picture_digest in names or part.picture is None:
            continue
        stem = re.sub(r"[^A-Za-z0-9._-]", "_", part.number).lstrip(".")
        name = f"pictures/{stem}.{_EXTENSION.get(part.picture_type, 'png')}"
        if name.casefold() in {other.casefold() for other in contents}:
            name = name.replace("pictures/", f"pictures/{part.picture_digest[:8]}-")
        names[part.picture_digest] = name
        contents[name] = bytes(part.picture)
    return names, contents


def _present_routings() -> dict[int, str]:
    """Part number by the id of the part's latest routing."""
    latest: dict[str, int] = {}
    for number, pk in Routing.objects.order_by("part__number", "revision").values_list("part__number", "pk"):
        latest[number] = pk
    return {pk: number for number, pk in latest.items()}


def _routings(present: Mapping[int, str]) -> tuple[r.RoutingRow, ...]:
    found = Operation.objects.filter(routing_id__in=present).select_related("site")
    rows = [
        r.RoutingRow(
            part=present[operation.routing_id],
            step=operation.number,
            site=operation.site.code,
            verb=operation.verb,
            kind=operation.kind,
            operation=operation.work,
            yield_percent=percent(operation.yield_ppm),
            samples=operation.samples,
            cavities=operation.cavities,
            load_size=operation.load_size,
            startup_shots=operation.startup_shots,
            tool=operation.tool,
            cycle_seconds=operation.cycle_seconds,
            setup_minutes=operation.setup_minutes,
            instruction=operation.instruction,
            scrap_reasons=tuple(operation.scrap_reasons),
        )
        for operation in found
    ]
    return tuple(sorted(rows, key=lambda row: (row.part, row.step)))


def _checks(present: Mapping[int, str]) -> tuple[r.CheckRow, ...]:
    found = Check.objects.filter(operation__routing_id__in=present).select_related("operation").order_by("id")
    rows = [
        r.CheckRow(
            part=present[check.operation.routing_id],
            step=check.operation.number,
            check=check.key,
            kind=check.kind,
            scope=check.scope,
            blocks=check.blocks,
            parameters=tuple(sorted((name, value) for name, value in check.parameters.items() if value)),
            source=check.source,
        )
        for check in found
    ]
    return tuple(sorted(rows, key=lambda row: (row.part, row.step)))


def _orders() -> tuple[r.OrderRow, ...]:
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
            over_percent=percent(line.over_ppm),
            under_percent=percent(line.under_ppm),
        )
        for line in lines
    )


def _stock() -> tuple[r.StockRow, ...]:
    lots = Lot.objects.filter(origin="opening", born_event__kind="stock opened").select_related(
        "part", "born_event", "born_event__site"
    )
    rows: list[r.StockRow] = []
    for lot in lots.defer("part__picture").order_by("part__number", "outside_number", "pk"):
        told: dict[str, Any] = lot.born_event.data["told"]
        site = lot.born_event.site
        if site is None:
            continue
        rows.append(
            r.StockRow(
                part=lot.part.number,
                lot=lot.outside_number,
                site=site.code,
                quantity=Decimal(told["quantity"]),
                unit=UNIT_WORD[lot.part.unit],
                received=lot.born_event.happened_at.astimezone(site.zone).date(),
                expires=dt.date.fromisoformat(told["expires_on"]) if told.get("expires_on") else None,
            )
        )
    return tuple(rows)


def _batches() -> tuple[r.BatchRow, ...]:
    adopted = Batch.objects.filter(released_event__kind="adopted", parent=None).select_related("part", "released_event")
    found = OrderLine.objects.values_list("pk", "order__number", "number")
    lines = {pk: (number, line) for pk, number, line in found}
    rows: list[r.BatchRow] = []
    for batch in adopted.defer("part__picture").order_by("pk"):
        told: dict[str, Any] = batch.released_event.data["told"]
        sites = {step.number: step.site for step in batch.steps.select_related("site")}
        order, line = lines.get(told["line"], ("", None))
        for number, good in sorted((int(step), good) for step, good in told["good"].items()):
            site = sites[number]
            rows.append(
                r.BatchRow(
                    reference=told["reference"],
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
