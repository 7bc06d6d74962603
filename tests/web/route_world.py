"""One of everything, so that every address of the URL table leads to something real: site A is the moulder."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import uuid4

from django.urls import URLResolver, get_resolver

from sites.models import PassKind, SitePass
from tests import cast, factory
from tests.globe import Globe, make_globe, ok
from tests.web.oven import photo
from traveller.batches.actions.attach import attach
from traveller.batches.actions.hold import hold_lot
from traveller.batches.actions.keep_for_review import keep_for_review
from traveller.batches.actions.send import send
from traveller.batches.actions.unknown import arrived_unknown
from traveller.batches.models import Attachment, Load
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import Consignment
from traveller.journal.models import Event, Parked
from traveller.ledger.models import Account, Condition, Hold, Lot
from traveller.ledger.post import Move, Place, post
from traveller.orders.actions.purchase import purchase
from traveller.orders.models import BatchShare, OrderLine, Purchase
from traveller.shipping.actions.pack import pack
from traveller.shipping.actions.ship import ship
from traveller.shipping.models import Carton, Shipment

CUSTOMER = "Quillfeather Outfitters"
SHIP_TO = "Nightjar Lane 77"
OTHER_REMARK = "bore gauge was borrowed from Odalys"


@dataclass
class World:
    people: cast.Cast
    globe: Globe
    load: Load
    reported: Any
    outgoing: Consignment
    incoming: Consignment
    hold: Hold
    line: OrderLine
    carton: Carton
    shipment: Shipment
    bought: Purchase
    spare_pass: SitePass
    token: str
    lamps: Lot
    proof: Attachment
    for_review: Event
    unknown_tote: Parked
    rest: Account

    def figures(self) -> dict[str, object]:
        """What may stand in an address, by the name that the table uses."""
        return {
            "batch": self.globe.batch.code,
            "lot": self.lamps.code,
            "step": self.globe.step(20).pk,
            "load": self.load.pk,
            "event": self.reported.pk,
            "uid": self.reported.uid,
            "outgoing": self.outgoing.code,
            "incoming": self.incoming.code,
            "outgoing_line": self.outgoing.lines.get().pk,
            "incoming_line": self.incoming.lines.get().pk,
            "hold": self.hold.pk,
            "order": self.line.order.number,
            "order_id": self.line.order_id,
            "line": self.line.pk,
            "carton": self.carton.code,
            "shipment": self.shipment.code,
            "purchase": self.bought.code,
            "site": self.globe.moulder.code,
            "pass": self.spare_pass.pk,
            "token": self.token,
            "part": self.globe.part.pk,
            "digest": self.globe.part.picture_digest,
            "proof": self.proof.pk,
            "aside": self.for_review.pk,
            "unknown_tote": self.unknown_tote.pk,
            "rest": self.rest.pk,
            "thirty": 30,
            "move": "split",
            "zip": "zip",
        }


def make_world() -> World:
    globe = make_globe(start=48)
    globe.part.picture, globe.part.picture_type, globe.part.picture_digest = b"\x89PNG", "image/png", "d" * 64
    globe.part.save()
    printer = factory.make_site("printer")
    people = cast.make_cast(moulder=globe.moulder, printer=printer, bench=globe.bench)
    reported = globe.report(20, 40).event
    globe.cooled((20, 15))
    load = globe.put_in(10)
    outgoing = ok(globe.send(10))
    resin = factory.make_part("RESIN", "material", unit="GRM")
    incoming = _issued(globe, factory.make_stock(resin, globe.bench, 5000))
    line, carton, shipment, lamps = _packed(globe)
    BatchShare.objects.create(batch=globe.batch, line=line, quantity=40)
    hold = _held(globe)
    supplier = factory.make_site("supplier", "supplier")
    bought = ok(
        purchase(
            event_context=globe.event_context(),
            supplier_id=supplier.pk,
            deliver_to_id=globe.bench.pk,
            part_id=globe.insert.pk,
            quantity=500,
        )
    )
    spare_pass, token = cast.make_pass(globe.moulder, PassKind.OPERATOR)
    return World(
        people, globe, load, reported, outgoing, incoming, hold, line, carton, shipment, bought, spare_pass, token,
        lamps,
        _photo(globe), _aside(globe), _tote(globe), _rest(globe),
    )  # fmt: skip


def _issued(globe: Globe, lot: Lot) -> Consignment:
    """Resin on its way from the bench to the moulder."""
    return ok(
        send(
            event_context=globe.event_context(),
            origin_id=globe.bench.pk,
            destination_id=globe.moulder.pk,
            lines=[SendLine(lot.pk, 4000)],
        )
    )


def _packed(globe: Globe) -> tuple[OrderLine, Carton, Shipment, Lot]:
    """An order of a customer whose name no shop may see: one carton here, one shipped."""
    lamp = factory.make_part("LAMP")
    lot = factory.make_stock(lamp, globe.bench, 40)
    order = factory.make_order("1001/A", CUSTOMER, ship_to=f"{CUSTOMER}\n{SHIP_TO}")
    line = factory.make_line(order, lamp, 30)
    cartons = [
        ok(
            pack(
                event_context=globe.event_context(),
                line_id=line.pk,
                site_id=globe.bench.pk,
                quantity=10,
                lots=[(lot.pk, 10)],
                packer="Tomas",
            )
        )
        for _ in range(2)
    ]
    shipment = ok(
        ship(
            event_context=globe.event_context(),
            order_id=order.pk,
            site_id=globe.bench.pk,
            carton_ids=[cartons[1].pk],
            carrier="x",
        )
    )
    line.refresh_from_db()
    return line, cartons[0], shipment, lot


def _photo(globe: Globe) -> Attachment:
    """A photo of the moulder's."""
    step = globe.step(20)
    event = ok(
        attach(event_context=globe.event_context(), step_id=step.pk, content=photo(), name="globe.jpg", kind="photo")
    ).event
    return Attachment.objects.get(event=event)


def _tote(globe: Globe) -> Parked:
    """A tote without a label at the bench."""
    return ok(
        arrived_unknown(
            event_context=globe.event_context(),
            site_id=globe.bench.pk,
            words="blue lids",
            quantity=5,
            part_id=globe.part.pk,
        )
    )


def _rest(globe: Globe) -> Account:
    """Three globes that nobody can find."""
    rest = Place(globe.lot().pk, globe.bench.pk, Condition.UNEXPLAINED, 50)
    post(factory.make_event("rest"), [Move(rest.become(Condition.MADE_FROM), rest, 3)])
    return Account.objects.get(condition=Condition.UNEXPLAINED, lot=globe.lot(), site=globe.bench)


def _aside(globe: Globe) -> Event:
    """What a phone of the moulder's told without a signal, of a load that nobody knows."""
    step = globe.step(20)
    return ok(
        keep_for_review(
            event_context=globe.event_context(),
            site_id=globe.moulder.pk,
            subject_id=globe.batch.subject_id,
            path=f"/here/step/{step.pk}/count",
            fields=[("good", "5"), ("load", str(uuid4()))],
            reason="unknown_load",
        )
    ).event


def _held(globe: Globe) -> Hold:
    lot = factory.make_stock(globe.insert, globe.bench, 200)
    ok(hold_lot(event_context=globe.event_context(), lot_id=lot.pk, reason=OTHER_REMARK))
    return Hold.objects.get(lot=lot)


def routes(resolver: URLResolver | None = None, before: str = "") -> list[str]:
    """Every address of the URL table as it is written there."""
    found: list[str] = []
    for entry in (resolver or get_resolver()).url_patterns:
        here = before + str(entry.pattern)
        found += routes(entry, here) if isinstance(entry, URLResolver) else [here]
    return found
