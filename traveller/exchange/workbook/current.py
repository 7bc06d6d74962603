"""The database as a workbook: what an export writes, and what an import compares with.

Stock and batches are given as they were taken over, not as they lie today: importing an export changes nothing.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from sites.models import Closure, Lane, Person, Site
from sites.people import sounds
from traveller.exchange.workbook import rows as r
from traveller.exchange.workbook.canonical import UNIT_WORD, bill_row, percent_written
from traveller.exchange.workbook.current_orders import batch_rows, order_rows, stock_sheet
from traveller.exchange.workbook.known import Known, KnownPart
from traveller.exchange.workbook.sheets import SHEETS
from traveller.products.models import BillLine, Check, Operation, Part
from traveller.products.queries import present_routings

__all__ = ["from_database", "known_from"]

_EXTENSION = {"image/png": "png", "image/jpeg": "jpg"}


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
                over_percent=None if lane.over_ppm is None else percent_written(lane.over_ppm),
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
                present[line.routing_id],
                line.component.number,
                UNIT_WORD[line.component.unit],
                line.per_thousand,
                line.step,
            )
            for line in BillLine.objects.filter(routing__in=present)
            .select_related("component")
            .defer("component__picture")
            .order_by("routing__part__number", "step", "component__number")
        ),
        routings=_routings(present),
        checks=_checks(present),
        orders=order_rows(),
        stock=stock_sheet(),
        batches=batch_rows(),
        pictures=contents,
        given=frozenset(SHEETS),
    )


def known_from(workbook: r.Workbook) -> Known:
    """What references of another workbook may point at."""
    steps: dict[str, dict[int, str]] = {}
    for row in workbook.routings:
        steps.setdefault(row.part, {})[row.step] = row.site
    components: dict[str, list[str]] = {}
    for bill in workbook.bills:
        components.setdefault(bill.part, []).append(bill.component)
    people: dict[tuple[str, str], list[str]] = {}
    for person in workbook.people:
        people.setdefault((person.site, sounds(person.name)), []).append(person.name)
    return Known(
        sites={row.site: row.kind for row in workbook.sites},
        parts={
            row.part: KnownPart(row.kind, row.unit, steps.get(row.part, {}), tuple(components.get(row.part, ())))
            for row in workbook.parts
        },
        order_lines={(row.order, row.line): row.part for row in workbook.orders},
        lanes=frozenset((row.from_site, row.to_site) for row in workbook.lanes),
        people=people,
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
    return dict(present_routings().values_list("pk", "part__number"))


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
            yield_percent=percent_written(operation.yield_ppm),
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
