"""A demo order over HTTP, from the workbook to the shipped carton.

Every shop works by its own pass, every form is filled in as it stands.
"""

from __future__ import annotations

from datetime import datetime
from io import StringIO

import pytest
from django.core.management import call_command

from tests import cast
from tests.stories import shops
from tests.stories.hand import Hand
from tests.stories.phone import Phone, open_pass
from tests.stories.small_order import BENCH, CHIHUAHUA, CUSTOMER, INDIANAPOLIS, Clock, zipped_workbook
from traveller.batches.models import Batch
from traveller.ledger.models import Lot
from traveller.orders.models import Order
from traveller.rules.codes import show_code

pytestmark = pytest.mark.django_db
MOULDER, RUBBER, PRINTER = "Ridgeback Moulding", "Summit Row Rubber", "Tampografía del Álamo"
OWN = "Tamarack Lantern Bench"


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    made = Clock(datetime(2026, 1, 7, 9, 0, tzinfo=BENCH))
    monkeypatch.setattr("django.utils.timezone.now", made)
    return made


def code_of(part: str) -> str:
    """What stands on the traveller of a part's only batch."""
    return show_code(Batch.objects.get(part__number=part).code)


def lot_of(part: str, outside: str) -> str:
    """What stands on a bought lot's label."""
    return show_code(Lot.objects.get(part__number=part, outside_number=outside).code)


@pytest.mark.long
def test_a_demo_order_goes_from_the_workbook_to_the_shipped_carton(clock: Clock) -> None:
    founder = Hand()
    _sign_in(founder)
    _import(founder)
    _release(founder)
    moulder = open_pass(founder, "moulder", "Dale Okafor", clock, zone=INDIANAPOLIS)
    rubber = open_pass(founder, "rubber", "Priya Shah", clock)
    printer = open_pass(founder, "printer", "Inés Robledo", clock, zone=CHIHUAHUA)
    bench = open_pass(founder, "bench", "Tomás Aguirre", clock)
    packer = open_pass(founder, "bench", "Joan Petrie", clock, kind="packing")
    _print_traveller(founder)
    _bring_resin(founder, moulder, clock)
    _globes_come_home(founder, moulder, bench, clock)
    _bands_come_home(rubber, printer, bench, clock)
    _assemble(bench, clock)
    _pack(packer, clock)
    founder.open("/orders/1042")
    founder.says("20 Camp lantern, red, shipped in full.", "Closed Fri 16 Jan, 15:00", "scrap 3")
    _nobody_heard_of_the_customer(moulder, rubber, printer)
    said = StringIO()
    call_command("verify", stdout=said)
    assert "Everything agrees." in said.getvalue()


def _sign_in(founder: Hand) -> None:
    cast.make_founder()
    founder.open("/")
    founder.press("Sign in", {"Name": cast.FOUNDER, "Password": cast.PASSWORD})
    assert founder.path == "/"


def _import(founder: Hand) -> None:
    """Tried first, which changes nothing; then for good."""
    founder.follow("Workbook")
    founder.press("Try it", {"files": zipped_workbook()})
    founder.says("lanterns.zip has no fault", "What it would change")
    assert not Order.objects.exists()
    founder.press("Import it now")
    founder.says("lanterns.zip is imported.", "What was imported")
    assert Order.objects.count() == 3


def _release(founder: Hand) -> None:
    """Twenty lanterns: 21 of each part, and so 24 globes in twelve shots after four to start up."""
    founder.follow("Orders")
    founder.follow("1042")
    founder.follow("Plan and release")
    founder.says(
        "3 batches for 1 order line",
        "21 through its one step",
        "Globe, red 21 24 16",
        "Printed band, red 21 23",
        "1.968 kg · Tamarack Lantern Bench",
    )
    assert Batch.objects.count() == 1, "only what was under way"
    founder.press("Release this plan")
    founder.says("Released: 3 batches are open.")


def _print_traveller(founder: Hand) -> None:
    founder.open(f"/find?code={code_of('GLOBE-RD')}")
    words = founder.paper("Print the traveller")
    assert code_of("GLOBE-RD") in words and "water test every piece" in words


def _bring_resin(founder: Hand, moulder: Phone, clock: Clock) -> None:
    """Two kilograms of free issue, by the link that the plan gives; the moulder weighs them in unseen."""
    founder.open("/consignments/new?origin=bench&to=moulder&purpose=free+issue&find=RESIN-RD")
    founder.press("Send these goods", {"Quantity of lot": "2 kg"})
    founder.says("The goods are on the road.")
    note = founder.paper("Print the dispatch note")
    assert OWN in note
    clock.day(8, "08:00")
    moulder.count_in(OWN, 2, "2 kg")


def _globes_come_home(founder: Hand, moulder: Phone, bench: Phone, clock: Clock) -> None:
    clock.day(8, "15:00")
    shops.mould_globes(moulder, code_of("GLOBE-RD"), "PC-7752", lambda: _approve_first_piece(founder))
    clock.day(8, "17:00")
    shops.finish_globes(moulder, "PPI-3306")
    moulder.follow(f"Next: send to {OWN}")
    moulder.send(OWN)
    clock.day(9, "09:00")
    bench.count_in(MOULDER, 21, "21")


def _approve_first_piece(founder: Hand) -> None:
    """She sees that it waits, what was measured of both cavities, and says yes."""
    founder.open("/")
    founder.follow("Look at it and decide")
    founder.says("rim diameter", "79.405 mm 1", "79.3445 mm 2", "20 more may be made before the decision")
    founder.press("Decide", {"approved": "yes", "Why": "both rims in tolerance"})
    founder.says("approved", "The first-off was approved")


def _bands_come_home(rubber: Phone, printer: Phone, bench: Phone, clock: Clock) -> None:
    clock.day(9, "10:30")
    shops.cure_bands(rubber, code_of("BAND"))
    rubber.follow(f"Next: send to {PRINTER}")
    rubber.send(PRINTER)
    clock.day(13, "11:00")
    printer.count_in(RUBBER, 28, "28")
    clock.day(13, "16:00")
    shops.print_bands(printer, code_of("BAND-RD"), code_of("BAND"))
    printer.follow(f"Next: send to {OWN}")
    printer.send(OWN)
    clock.day(16, "09:30")
    bench.count_in(PRINTER, 21, "21")


def _assemble(bench: Phone, clock: Clock) -> None:
    clock.day(16, "14:00")
    lots = {
        "Globe, red": code_of("GLOBE-RD"),
        "Printed band, red": code_of("BAND-RD"),
        "Foot": "FT-0098",
        "Light puck": "LP-90412",
    }
    shops.assemble(bench, code_of("LANTERN-RD"), lots)


def _pack(packer: Phone, clock: Clock) -> None:
    """Right lots are said yes to, a wrong one is stopped; packed, listed, shipped."""
    clock.day(16, "15:00")
    packer.open("/pack/")
    packer.follow("Pack 20 for order 1042")
    packer.press("Check this lot", {"code": code_of("LANTERN-RD")})
    packer.says("Yes", "20 of 20")
    packer.press("Check this lot", {"code": lot_of("PUCK", "LP-90412")}, status=409)
    packer.says("STOP", "The kit so far is kept.")
    packer.follow("Set it apart; go on")
    for part, outside in (("CARTON", "CT-5521"), ("LEAFLET", "LF-E-07")):
        packer.press("Check this lot", {"code": lot_of(part, outside)})
    packer.press("Pack 20 in a carton")
    packer.says("20 packed in this carton.")
    words = packer.paper("Print the packing list")
    assert "Blue Spruce Trail Shop" in words and "1042" in words
    packer.follow("Ship order 1042")
    packer.press("They have left: ship", {"Carrier": "Longhaul Parcel"})
    packer.says("20 shipped for order 1042.", "The order is complete.")


def _nobody_heard_of_the_customer(*shop: Phone) -> None:
    for phone in shop:
        assert len(phone.heard) > 10
        for words in phone.heard:
            assert not [name for name in CUSTOMER if name in words], words
