"""Objects made by hand, for tests that need a little of the trade: sites, parts, routings, lots, orders.

Nothing here reads the clock: `stamp(n)` is minute n of one Monday morning.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

from django.db.models import Sum

from sites.actor import Actor
from sites.models import Closure, Lane, Site, SiteKind
from traveller.batches.actions.open_batch import open_batch
from traveller.batches.models import Batch
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import record
from traveller.journal.subjects import register
from traveller.ledger import lots
from traveller.ledger.models import Condition, Lot, Posting
from traveller.ledger.post import Move, Place, post
from traveller.orders.models import Order, OrderLine
from traveller.products import frozen
from traveller.products.models import BillLine, Check, Operation, OperationKind, Part, PartKind, Routing

MONDAY = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
NAMES = UUID("5a0f6d2e-7c40-4b8e-9f6a-0d3c1b2a4e5f")


def uid(name: object) -> UUID:
    """The same name gives the same id."""
    return uuid5(NAMES, str(name))


def founder() -> Actor:
    return Actor(kind="founder", person="Mara Lind")


def operator(site: Site, person: str = "Ines") -> Actor:
    return Actor(kind="operator", person=person, site_id=site.pk)


def packer(site: Site, person: str = "Tomas") -> Actor:
    return Actor(kind="packer", person=person, site_id=site.pk)


def event_context(n: int | str, *, at: datetime | None = None, actor: Actor | None = None) -> EventContext:
    """The n-th telling: minute n of MONDAY, by the founder unless said otherwise."""
    when = at or MONDAY + timedelta(minutes=n if isinstance(n, int) else 0)
    return EventContext(uid=uid(f"stamp {n}"), at=when, recorded_at=when, actor=actor or founder())


def make_site(code: str = "moulder", kind: str = SiteKind.SUBCONTRACTOR, **fields: Any) -> Site:
    return Site.objects.create(code=code, name=fields.pop("name", code.capitalize()), kind=kind, **fields)


def make_bench(code: str = "bench", **fields: Any) -> Site:
    return make_site(code, SiteKind.OWN, **fields)


def make_lane(origin: Site, destination: Site, days: int = 1) -> Lane:
    return Lane.objects.create(origin=origin, destination=destination, transit_days=days)


def make_closure(site: Site, first: date, last: date, name: str = "shut") -> Closure:
    return Closure.objects.create(site=site, first_day=first, last_day=last, name=name)


def make_part(number: str = "GLOBE", kind: str = PartKind.MADE, **fields: Any) -> Part:
    return Part.objects.create(number=number, name=fields.pop("name", number.capitalize()), kind=kind, **fields)


def make_bill(
    part: Part, component: Part, *, each: int = 1, per_thousand: int | None = None, step: int = 0
) -> BillLine:
    """`each` of a component in every piece, or `per_thousand`; step 0: added at packing.

    On the bill of the part's present routing; one made before the routing waits for it on an empty one.
    """
    frozen.forget()
    quantity = each * 1000 if per_thousand is None else per_thousand
    routing = part.routings.order_by("-revision").first() or Routing.objects.create(part=part)
    return BillLine.objects.create(routing=routing, component=component, per_thousand=quantity, step=step)


@dataclass(frozen=True)
class CheckRow:
    """A check as a routing's row states it; `parameters` as the kind's columns."""

    key: str
    kind: str
    parameters: Mapping[str, str] = field(default_factory=dict)
    scope: str = "step"
    blocks: str = "sending"


@dataclass(frozen=True)
class Op:
    """One operation of a routing; `yield_` as a share, 0.97."""

    number: int
    site: Site
    verb: str = "work"
    kind: str = OperationKind.WORK
    yield_: float = 1.0
    destroyed: int = 0
    kept: int = 0
    cavities: int = 0
    load_size: int = 0
    checks: Sequence[CheckRow] = ()


def make_routing(part: Part, ops: Iterable[Op], *, revision: int = 1) -> Routing:
    """The routing of a part; the first operation ought to be of kind "make" unless a prepare comes before.

    The bill of a later revision is made anew, like all else of it.
    """
    frozen.forget()
    waiting = part.routings.filter(operations=None).first()
    routing = waiting or Routing(part=part)
    routing.revision, routing.digest = revision, f"{part.number}/{revision}"
    routing.save()
    for op in ops:
        operation = Operation.objects.create(
            routing=routing,
            number=op.number,
            site=op.site,
            verb=op.verb,
            kind=op.kind,
            yield_ppm=round(op.yield_ * 1_000_000),
            destroyed=op.destroyed,
            kept=op.kept,
            cavities=op.cavities,
            load_size=op.load_size,
            scrap_reasons=["short", "dirty"],
        )
        for check in op.checks:
            Check.objects.create(
                operation=operation,
                key=check.key,
                kind=check.kind,
                scope=check.scope,
                blocks=check.blocks,
                parameters=dict(check.parameters),
            )
    return routing


def make_event(n: int | str = "event", *, kind: str = "released", at: datetime | None = None) -> Event:
    """Some event, for rows that must name one; `n` keeps it apart from others."""
    return record(event_context=event_context(f"made {n}", at=at), kind=kind, subjects=[], reported={})


def make_batch(
    part: Part,
    *,
    wanted: int = 100,
    start: int | None = None,
    destination: Site | None = None,
    due_on: date | None = None,
    name: str = "",
) -> Batch:
    """A batch through the part's present routing, opened as a release opens it. `name` tells two apart."""
    routing = part.routings.latest("revision")
    site = destination or routing.operations.latest("number").site
    key = f"batch {part.number} {name}"
    return open_batch(
        make_event(key),
        part,
        uid=uid(key),
        wanted=wanted,
        start=wanted if start is None else start,
        destination_id=site.pk,
        due_on=due_on,
    )


def make_stock(
    part: Part, site: Site, quantity: int, *, name: str = "", expires_on: date | None = None, step: int = 0
) -> Lot:
    """A lot that lies in stock, bought from nowhere in particular."""
    key = f"stock {part.number} {site.code} {name}"
    event = make_event(key, kind="stock opened")
    lot = lots.create(event, part, origin="opening", uid=uid(key), expires_on=expires_on)
    shelf = Place(lot.pk, site.pk, Condition.STOCK, step)
    post(event, [Move(shelf.become(Condition.BOUGHT_FROM, 0), shelf, quantity)])
    return lot


def make_order(number: str = "1001", customer: str = "Harbour Outfitters", **fields: Any) -> Order:
    return Order.objects.create(
        subject=register(uid(f"order {number}"), "order"),
        number=number,
        customer=customer,
        placed_on=fields.pop("placed_on", MONDAY.date()),
        **fields,
    )


def make_line(order: Order, part: Part, quantity: int = 100, *, number: int = 1, **fields: Any) -> OrderLine:
    due_on = fields.pop("due_on", MONDAY.date() + timedelta(days=60))
    return OrderLine.objects.create(order=order, part=part, quantity=quantity, number=number, due_on=due_on, **fields)


def balance(lot: Lot, site: Site, condition: str = Condition.STOCK, step: int = 0) -> int:
    """What an account of the ledger says; 0 when there is none."""
    account = lot.accounts.filter(site=site, condition=condition, step=step).first()
    return account.balance if account else 0


def sums_to_zero() -> bool:
    """Do the postings of every event sum to zero, lot by lot?"""
    sums = Posting.objects.order_by().values("event", "account__lot").annotate(total=Sum("quantity"))
    return all(row["total"] == 0 for row in sums)
