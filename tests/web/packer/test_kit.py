"""The packer's kit over HTTP: what is wrong, short, untested, held or expired is not packed; put right, it is."""

from __future__ import annotations

from datetime import timedelta
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from PIL import Image

from tests import cast, factory
from tests.factory import CheckRow
from tests.globe import ok
from tests.shipping.packing import make_bench
from tests.web.packer.packing_phone import Phone, make_phone
from traveller.batches.actions.decide import decide
from traveller.batches.actions.hold import hold_lot
from traveller.batches.actions.measure import measure
from traveller.batches.proof.readings import ReadingTold
from traveller.journal.models import Event
from traveller.journal.subjects import code_for
from traveller.ledger.models import Hold, Lot
from traveller.orders.models import BatchShare, OrderLine
from traveller.rules.codes import show_code
from traveller.shipping.models import Carton

pytestmark = pytest.mark.django_db

BORE = CheckRow(
    "bore", "dimension", {"name": "bore", "nominal": "10", "tolerance": "1", "unit": "mm"}, "lot", "packing"
)


def packs(phone: Phone, *lots: Lot, quantity: str = "10") -> Carton:
    """The kit goes through with these lots."""
    phone.kit()
    for lot in lots:
        phone.scan(lot, quantity=quantity)
        assert phone.status == 200 and "Yes" in phone.text, phone.text
    phone.pack()
    assert phone.status == 200 and "packed in this carton" in phone.text, phone.text
    return phone.carton()


def stopped(phone: Phone, lot: Lot | str, why: str) -> None:
    """The scan is a stop with its reason, and nothing of it reaches the kit."""
    phone.scan(lot, quantity="10")
    assert phone.status in (409, 422) and "STOP" in phone.text, phone.text
    assert why in phone.text, phone.text
    phone.kit()
    assert not Carton.objects.exists()


def test_a_kit_is_scanned_lot_by_lot_and_packed_by_the_one_great_button() -> None:
    phone = make_phone()
    phone.kit()
    assert "0 of 50" in phone.text and "Check this lot" in phone.text
    phone.scan(phone.bench.lot, quantity="24")
    assert "Yes" in phone.text and "24 of 24" in phone.text and "0 of 24" in phone.text
    assert "Pack 24 in a carton" not in phone.text, "the leaflets are still missing"
    phone.scan(phone.bench.leaflets)
    assert "Pack 24 in a carton" in phone.text
    phone.pack()
    carton = phone.carton()
    assert phone.url == f"/pack/carton/{carton.code}"
    assert (carton.quantity, carton.packer, carton.line) == (24, "Tomas", phone.bench.line)
    taken = dict(carton.lots.values_list("lot", "quantity"))
    assert taken == {phone.bench.lot.pk: 24, phone.bench.leaflets.pk: 24}
    event = carton.packed_event
    assert (event.person, event.actor_kind, event.on_behalf) == ("Tomas", "packer", False)


def test_the_wrong_part_is_stopped_and_the_right_one_goes_in() -> None:
    phone = make_phone()
    globes = Lot.objects.get(part=phone.bench.lamps.globe)
    stopped(phone, globes, "Globe does not belong in this kit. It takes: Lamp, Leaflet.")
    packs(phone, phone.bench.lot, phone.bench.leaflets)


def test_the_right_thing_in_the_wrong_colour_is_stopped() -> None:
    phone = make_phone()
    lamps = phone.bench.lamps
    lamps.lamp.variant = "amber"
    lamps.lamp.save()
    red = factory.make_part("LAMP-R", name="Lamp", variant="red")
    stopped(phone, factory.make_stock(red, lamps.bench, 40), "This is red; the order wants amber.")
    packs(phone, phone.bench.lot, phone.bench.leaflets)


def test_a_code_of_nothing_and_a_damaged_one_are_stopped_with_what_may_have_been_meant() -> None:
    phone = make_phone()
    stopped(phone, str(code_for(factory.uid("nobody"))), "No lot has the code")
    code = phone.bench.lot.code
    damaged = code[:-1] + ("A" if code[-1] != "A" else "B")
    phone.scan(damaged)
    assert phone.status == 422 and "is not a whole code" in phone.text and show_code(code) in phone.text


def test_a_held_lot_is_stopped_with_the_reason_until_the_founder_releases_it() -> None:
    phone = make_phone()
    ok(hold_lot(event_context=factory.event_context("hold"), lot_id=phone.bench.lot.pk, reason="cracked rims"))
    assert "10 of 10" not in phone.get("/pack/"), "known before anybody starts"
    stopped(phone, phone.bench.lot, "Held by the founder: cracked rims. Set it apart and ask the founder.")
    hold = Hold.objects.get()
    ok(
        decide(
            event_context=factory.event_context("free"),
            hold_id=hold.pk,
            disposition="concession",
            reason="rims are inside",
        )
    )
    packs(phone, phone.bench.lot, phone.bench.leaflets)


def test_a_lot_held_after_its_scan_is_not_packed_and_the_page_says_so() -> None:
    phone = make_phone()
    phone.scan(phone.bench.lot, quantity="10")
    phone.scan(phone.bench.leaflets)
    ok(hold_lot(event_context=factory.event_context("hold"), lot_id=phone.bench.lot.pk, reason="cracked rims"))
    phone.pack()
    assert phone.status == 409 and "is held. Held by the founder: cracked rims." in phone.text
    assert "Pack 10 in a carton" not in phone.text
    assert not Carton.objects.exists()
    ok(
        decide(
            event_context=factory.event_context("free"),
            hold_id=Hold.objects.get().pk,
            disposition="concession",
            reason="fine",
        )
    )
    phone.kit()
    assert "Pack 10 in a carton" in phone.text, "the scans are still there"
    phone.pack()
    assert phone.carton().quantity == 10


def test_an_untested_lot_is_stopped_until_its_check_has_passed() -> None:
    phone = make_phone(checks=(BORE,))
    Hold.objects.update(closed_at=factory.MONDAY)
    stopped(phone, phone.bench.lot, "is not proved")
    reading = ReadingTold("bore", "bore", "10.2", "mm")
    step = phone.bench.batch.steps.get()
    ok(measure(event_context=factory.event_context("measured"), step_id=step.pk, readings=[reading]))
    packs(phone, phone.bench.lot, phone.bench.leaflets)


def test_an_expired_lot_is_stopped_and_a_fresh_one_goes_in() -> None:
    phone = make_phone()
    today = timezone.localtime(timezone.now(), phone.bench.lamps.bench.zone).date()
    Lot.objects.filter(pk=phone.bench.leaflets.pk).update(expires_on=today - timedelta(days=1))
    stopped(phone, phone.bench.leaflets, f"expired on {today - timedelta(days=1):%Y-%m-%d}")
    Lot.objects.filter(pk=phone.bench.leaflets.pk).update(expires_on=today)
    packs(phone, phone.bench.lot, phone.bench.leaflets)


def test_a_short_kit_is_known_before_starting_and_cannot_be_packed() -> None:
    phone = make_phone(ordered=90, finished=90)
    phone.kit()
    assert "80" in phone.form()["quantity"], "as many as the leaflets reach for are proposed"
    phone.scan(phone.bench.lot, quantity="85")
    phone.scan(phone.bench.leaflets)
    assert "85 of 85" in phone.text and "80 of 85" in phone.text and "5 short here" in phone.text
    assert "Pack 85" not in phone.text
    phone.pack()
    assert phone.status == 409 and "Still missing: Leaflet: 5." in phone.text
    more = factory.make_stock(phone.bench.lamps.leaflet, phone.bench.lamps.bench, 20, name="more")
    phone.scan(more)
    phone.pack()
    taken = dict(phone.carton().lots.values_list("lot", "quantity"))
    assert taken == {phone.bench.lot.pk: 85, phone.bench.leaflets.pk: 80, more.pk: 5}


def test_no_more_is_packed_than_the_customer_takes() -> None:
    phone = make_phone(ordered=50)
    phone.scan(phone.bench.lot, quantity="51")
    phone.scan(phone.bench.leaflets)
    phone.pack()
    assert phone.status == 409 and "0 of 50 are packed, and 50 is the most" in phone.text
    OrderLine.objects.update(over_ppm=20_000)
    phone.pack()
    assert phone.carton().quantity == 51


def test_the_packer_says_how_many_of_each_lot() -> None:
    phone = make_phone()
    other = factory.make_stock(phone.bench.lamps.leaflet, phone.bench.lamps.bench, 30, name="other")
    for lot in (phone.bench.lot, phone.bench.leaflets, other):
        phone.scan(lot, quantity="24")
    phone.pack(**{f"take:{other.pk}": "4"})
    taken = dict(phone.carton().lots.values_list("lot", "quantity"))
    assert taken == {phone.bench.lot.pk: 24, phone.bench.leaflets.pk: 20, other.pk: 4}


def test_too_many_of_a_lot_are_refused_in_words_and_stay_typed() -> None:
    phone = make_phone()
    phone.scan(phone.bench.lot, quantity="24")
    phone.scan(phone.bench.leaflets)
    phone.pack(**{f"take:{phone.bench.leaflets.pk}": "25"})
    assert phone.status == 409 and "Take out: Leaflet: 1." in phone.text
    assert 'value="25"' in phone.seen


def test_the_scans_survive_a_reload_and_another_page() -> None:
    phone = make_phone()
    phone.scan(phone.bench.lot, quantity="12")
    phone.get("/pack/")
    phone.kit()
    assert phone.hidden("lot") == [str(phone.bench.lot.pk)]
    assert phone.form()["quantity"] == "12" and "12 of 12" in phone.text


def test_a_stop_leaves_what_was_typed_and_scanned() -> None:
    phone = make_phone()
    phone.scan(phone.bench.lot, quantity="12")
    phone.scan("nonsense", quantity="13")
    assert "STOP" in phone.text
    phone.kit()
    assert phone.form()["quantity"] == "13" and phone.hidden("lot") == [str(phone.bench.lot.pk)]


def test_a_lot_is_put_back_by_its_own_button() -> None:
    phone = make_phone()
    phone.scan(phone.bench.lot, quantity="12")
    phone.scan(phone.bench.leaflets)
    phone.post(phone.url.split("?")[0], phone.form(drop=phone.bench.lot.pk))
    assert phone.hidden("lot") == [str(phone.bench.leaflets.pk)] and phone.form()["quantity"] == "12"


@pytest.mark.parametrize("typed", ["", "0", "-3", "2.5", "many", "99999999999"])
def test_a_quantity_that_is_none_is_told_at_its_field_and_stays_typed(typed: str) -> None:
    phone = make_phone()
    phone.scan(phone.bench.lot, quantity="12")
    phone.scan(phone.bench.leaflets)
    phone.pack(quantity=typed)
    assert phone.status == 422 and 'id="quantity-wrong"' in phone.seen
    if typed:
        assert phone.form()["quantity"] == typed
    assert not Carton.objects.exists()


def test_a_code_that_is_typed_is_looked_at_before_anything_is_packed() -> None:
    phone = make_phone()
    globes = Lot.objects.get(part=phone.bench.lamps.globe)
    phone.scan(phone.bench.lot, quantity="12")
    phone.scan(phone.bench.leaflets)
    phone.pack(code=globes.code)
    assert "STOP" in phone.text and not Carton.objects.exists()


def test_the_same_form_sent_twice_packs_one_carton() -> None:
    phone = make_phone(ordered=50, finished=12)
    phone.scan(phone.bench.lot, quantity="12")
    phone.scan(phone.bench.leaflets)
    form = phone.form(do="pack")
    first = phone.post("/pack/line/" + str(phone.bench.line.pk), form)
    url = phone.url
    second = phone.post("/pack/line/" + str(phone.bench.line.pk), form)
    assert "12 packed in this carton" in first and phone.url == url and "12 packed in this carton" in second
    assert Carton.objects.count() == 1
    assert Event.objects.filter(kind="packed").count() == 1


def test_the_same_form_with_other_figures_is_a_conflict_and_nothing_is_lost() -> None:
    phone = make_phone()
    phone.scan(phone.bench.lot, quantity="12")
    phone.scan(phone.bench.leaflets)
    form = phone.form(do="pack")
    phone.post(f"/pack/line/{phone.bench.line.pk}", form)
    phone.post(f"/pack/line/{phone.bench.line.pk}", {**form, "quantity": "13"})
    assert phone.status == 409 and "sent before with other figures" in phone.text
    assert phone.form()["quantity"] == "13" and Carton.objects.count() == 1


def test_after_packing_the_next_carton_starts_empty() -> None:
    phone = make_phone()
    packs(phone, phone.bench.lot, phone.bench.leaflets)
    phone.kit()
    assert phone.hidden("lot") == [] and phone.form()["quantity"] == "40" and "10 of 50 packed" in phone.text


def test_a_lot_kept_for_another_order_is_a_yes_with_a_warning() -> None:
    bench = make_bench(ordered=50, finished=60)
    phone = make_phone(bench)
    other = factory.make_order("2002")
    BatchShare.objects.create(batch=bench.batch, line=factory.make_line(other, bench.lamps.lamp, 60), quantity=60)
    phone.scan(bench.lot, quantity="10")
    assert "Yes" in phone.text and "60 of it are kept for order 2002, line 1." in phone.text


def test_a_photo_of_a_label_is_a_scan_and_a_photo_of_nothing_is_told_in_words() -> None:
    phone = make_phone()
    phone.kit()
    picture = BytesIO()
    Image.new("RGB", (60, 60), "white").save(picture, "PNG")
    photo = SimpleUploadedFile("x.png", picture.getvalue(), "image/png")
    phone.post(f"/pack/line/{phone.bench.line.pk}", phone.form(quantity="17", photo=photo))
    assert phone.status == 422 and "No code was found in the photo" in phone.text
    assert phone.form()["quantity"] == "17"


def test_the_founder_packs_on_behalf_of_the_bench_and_it_is_marked() -> None:
    bench = make_bench()
    phone = Phone(bench, cast.on_behalf(cast.founder_client(), bench.lamps.bench))
    packs(phone, bench.lot, bench.leaflets)
    event = phone.carton().packed_event
    assert (event.actor_kind, event.on_behalf, event.person) == ("founder", True, cast.FOUNDER)
    assert f"By phone, from {bench.lamps.bench.name}" in phone.text


def test_a_form_without_its_number_packs_nothing() -> None:
    phone = make_phone()
    phone.scan(phone.bench.lot, quantity="12")
    phone.scan(phone.bench.leaflets)
    phone.pack(news_id="no number")
    assert phone.status == 422 and "lost its number" in phone.text and not Carton.objects.exists()


def test_the_kits_page_asks_the_database_as_often_for_many_lots_as_for_few() -> None:
    phone = make_phone()
    phone.kit()
    counts = []
    for extra in (3, 30):
        for n in range(extra):
            factory.make_stock(phone.bench.lamps.leaflet, phone.bench.lamps.bench, 5, name=f"{extra}/{n}")
        with CaptureQueriesContext(connection) as queries:
            phone.kit()
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_a_line_that_does_not_exist_is_nowhere() -> None:
    phone = make_phone()
    phone.get("/pack/line/999999")
    assert phone.status == 404


def test_a_lot_that_was_packed_a_minute_ago_is_named_with_its_carton_and_not_asked_of_the_founder() -> None:
    phone = make_phone(make_bench(finished=10))
    carton = packs(phone, phone.bench.lot, phone.bench.leaflets)
    phone.scan(phone.bench.lot, quantity="10")
    assert phone.status == 409 and f"10 of it are in carton {show_code(carton.code)} for order 1001" in phone.text
    assert "Ask the founder" not in phone.text and f'href="/pack/carton/{carton.code}"' in phone.seen
