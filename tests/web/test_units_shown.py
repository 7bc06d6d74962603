"""No page shows a figure of a part in grams, millilitres or millimetres without its unit, and none shows its code."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from typing import TYPE_CHECKING, Any

import pytest
from django.test import Client

from tests import cast, factory
from tests.factory import MONDAY
from tests.globe import ok
from tests.kept import standing
from tests.web.one_line import one_line
from tests.web.route_table import TABLE
from tests.web.route_world import World, make_world
from traveller.batches.actions.hold import hold_lot
from traveller.batches.actions.receive import arrived_unannounced, receive
from traveller.batches.actions.send import send
from traveller.batches.actions.unknown import arrived_unknown
from traveller.batches.actions.write_off import write_off
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import ConsignmentLine
from traveller.ledger.models import Account, Condition, Hold, Lot
from traveller.ledger.post import Move, Place, post
from traveller.orders.actions.purchase import purchase
from traveller.orders.actions.receive_purchase import receive_purchase
from traveller.orders.models import Need, OrderLine, Purchase
from traveller.products.models import Part
from traveller.rules.units import show_quantity

if TYPE_CHECKING:
    from pytest_django.plugin import DjangoDbBlocker

pytestmark = pytest.mark.django_db

# Prime, so that no figure of pieces can be one of them by chance.
HELD, ORDERED, CAME, NEEDED, SENT, COUNTED, SHELF, UNKNOWN, UNEXPLAINED = (
    28_229, 17_839, 4_421, 13_901, 6_011, 4_871, 9_733, 3_217, 1_117,
)  # fmt: skip


def _goods(world: World) -> None:
    """Gum and resin wherever goods can be: held, bought, on the road, counted short, unknown, unexplained."""
    globe = world.globe
    resin = Part.objects.get(number="RESIN")
    gum = factory.make_part("GUM", "material", unit="GRM", name="Natural rubber gum")
    held = factory.make_stock(gum, globe.bench, HELD)
    ok(hold_lot(event_context=globe.event_context(), lot_id=held.pk, reason="damp"))
    factory.make_stock(resin, globe.moulder, SHELF, name="there")
    supplier = world.bought.supplier_id
    figures: dict[str, Any] = {"supplier_id": supplier, "deliver_to_id": globe.bench.pk, "part_id": gum.pk}
    bought = ok(purchase(event_context=globe.event_context(), quantity=ORDERED, **figures))
    context = globe.event_context()
    ok(receive_purchase(event_context=context, site_id=globe.bench.pk, purchase_id=bought.pk, quantity=CAME))
    event = factory.make_event("need")
    Need.objects.create(line=world.line, needed_on=MONDAY.date(), event=event, part=resin, quantity=NEEDED, left=NEEDED)
    on_road = factory.make_stock(resin, globe.bench, SENT + 2000, name="to count")
    road: dict[str, Any] = {"origin_id": globe.bench.pk, "destination_id": globe.moulder.pk}
    sent = ok(send(event_context=globe.event_context(), lines=[SendLine(on_road.pk, SENT)], **road))
    ok(receive(event_context=globe.event_context(), line_id=sent.lines.get().pk, quantity=COUNTED))
    stray = factory.make_stock(resin, globe.bench, SHELF, name="stray")
    figures = {"lot_id": stray.pk, "site_id": globe.moulder.pk, "quantity": COUNTED}
    ok(arrived_unannounced(event_context=globe.event_context(), **figures))
    figures = {"site_id": globe.bench.pk, "words": "grey bag", "quantity": UNKNOWN, "part_id": gum.pk}
    ok(arrived_unknown(event_context=globe.event_context(), **figures))
    rest = Place(held.pk, globe.bench.pk, Condition.UNEXPLAINED, 0)
    post(factory.make_event("gum rest"), [Move(rest.become(Condition.MADE_FROM), rest, UNEXPLAINED)])
    place = Place(on_road.pk, globe.bench.pk, Condition.STOCK, 0)
    ok(write_off(event_context=globe.event_context(), place=place, quantity=UNEXPLAINED, reason="spilt"))
    cup = factory.make_part("CUP", name="Cup")
    factory.make_bill(cup, gum, per_thousand=HELD, step=20)
    factory.make_bill(cup, resin, per_thousand=1_013, step=0)
    factory.make_routing(cup, [factory.Op(20, globe.moulder, "press", "make")])
    factory.make_line(factory.make_order("1077"), cup, 700)


@pytest.fixture(scope="module")
def kept(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[World]:
    def make() -> World:
        world = make_world()
        _goods(world)
        return world

    yield from standing(django_db_blocker, make)


def odd_figures() -> set[int]:
    """Every quantity of a material that stands in the books, but for those that pieces have too."""
    rows = [*Account.objects.exclude(lot__part__unit="C62").values_list("balance", flat=True)]
    for line in ConsignmentLine.objects.exclude(lot__part__unit="C62"):
        rows += [line.sent, line.received, line.difference, line.remaining]
    for bought in Purchase.objects.exclude(part__unit="C62"):
        rows += [bought.quantity, bought.received, bought.quantity - bought.received]
    rows += Need.objects.exclude(part__unit="C62").values_list("left", flat=True)
    return {abs(row) for row in rows if row and abs(row) >= 1000 and abs(row) % 1000}


def text_of(page: str) -> str:
    """What can be read on a page, the fields that were filled in among it."""
    page = re.sub(r"<head>.*?</head>|<script.*?</script>", " ", one_line(page), flags=re.DOTALL)
    page = re.sub(r'<input(?![^>]*type="hidden")[^>]*\bvalue="([^"]*)"[^>]*>', r" \1 ", page)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def bare(text: str, figures: set[int]) -> list[str]:
    """Each of these figures that stands without a unit behind it, with what stands around it."""
    found = []
    for hit in re.finditer(r"(?<![\d.,])(\d{1,3}(?:,\d{3})+|\d+)(?![.,]?\d)", text):
        if int(hit[1].replace(",", "")) in figures and not re.match(r"\s?(?:g|mg|mm|ml|kg|m|l)\b", text[hit.end() :]):
            found.append(text[max(0, hit.start() - 60) : hit.end() + 40])
    return found


def pages(world: World, reader: str) -> list[str]:
    figures = world.figures()
    return [rule.url(route, figures) for route, rule in TABLE.items() if rule.reader == reader and "POST" not in route]


def more(world: World) -> list[str]:
    """Pages about material, which the table's own things do not reach."""
    lots = Lot.objects.exclude(part__unit="C62")
    line = OrderLine.objects.get(order__number="1077")
    way = f"/consignments/new?origin=bench&to={world.globe.moulder.code}&purpose="
    return [
        *(f"/lots/{lot.code}" for lot in lots),
        *(f"/holds/{hold.pk}" for hold in Hold.objects.filter(lot__in=lots)),
        *(f"/purchases/{bought.code}" for bought in Purchase.objects.exclude(part__unit="C62")),
        *(f"/consignments/{one.consignment.code}" for one in ConsignmentLine.objects.filter(lot__in=lots)),
        *(f"/consignments/rests/{one.pk}" for one in Account.objects.filter(lot__in=lots, condition="unexplained")),
        f"/purchases/new?part=GUM&quantity={ORDERED}", f"/founder/plan?line={line.pk}", "/orders/1077",
        "/stock?find=gum",
        way + "stock", way + "free+issue", way + "return",
    ]  # fmt: skip


def walk(client: Client, paths: list[str]) -> tuple[dict[str, list[str]], str]:
    """By page what stands bare on it; and all that was read."""
    figures, wrong, read = odd_figures(), {}, []
    for path in paths:
        answer = client.get(path, follow=True)
        if answer.status_code == 200 and "text/html" in answer.get("Content-Type", ""):
            text = text_of(answer.content.decode())
            read.append(text)
            if found := bare(text, figures):
                wrong[path] = found
    return wrong, "\n".join(read)


def test_the_founder_sees_every_quantity_of_material_with_its_unit(kept: World) -> None:
    wrong, read = walk(kept.people.founder, [*pages(kept, "founder"), *more(kept)])
    assert not wrong, "\n".join(f"{path}: {found}" for path, found in wrong.items())
    for figure in (HELD, ORDERED, CAME, NEEDED, SENT, COUNTED, SHELF, UNKNOWN, UNEXPLAINED):
        assert show_quantity(figure, "GRM") in read, f"{figure} g is shown nowhere, so nothing was tried"


def test_shops_and_packers_see_it_so_too(kept: World) -> None:
    for client, reader in ((kept.people.operator, "shop"), (kept.people.packer, "packer")):
        wrong, read = walk(client, pages(kept, reader))
        assert not wrong, "\n".join(f"{path}: {found}" for path, found in wrong.items())
        assert len(read) > 2000


def test_the_walk_finds_a_figure_that_lost_its_unit() -> None:
    assert bare("Natural rubber gum: 28,229 at Summit Row Rubber", {HELD})
    assert bare("RESIN 28229", {HELD})
    assert not bare("28,229 g of it, 28.229 kg, 128,229, 28,229.5, 282 29", {HELD})


def test_a_plan_names_parts_and_not_their_codes(kept: World) -> None:
    line = OrderLine.objects.get(order__number="1077")
    text = text_of(cast.founder_client().get(f"/founder/plan?line={line.pk}").content.decode())
    kept_rows = text.partition("Stock that would be kept")[2]
    assert "Resin" in kept_rows and "RESIN" not in kept_rows, kept_rows[:400]
