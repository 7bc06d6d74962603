"""What can be packed and what is short, before anybody starts; what a scanned code means to the packer."""

from __future__ import annotations

from datetime import timedelta
from io import BytesIO

import pytest
import zxingcpp
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from PIL import Image

from sites.models import PassKind
from tests import cast, factory
from tests.factory import CheckRow
from tests.globe import ok
from tests.web.packer.packing_phone import make_phone
from traveller.batches.actions.hold import hold_lot
from traveller.batches.proof import gates
from traveller.batches.splitting.divide import divide
from traveller.journal.subjects import code_for
from traveller.ledger.models import Condition, Lot
from traveller.ledger.post import Place
from traveller.rules.codes import show_code
from traveller.shipping.models import Carton
from traveller.shipping.queries import lines_to_pack

pytestmark = pytest.mark.django_db

TESTED = CheckRow("water", "every_piece", {"name": "water test"}, "piece", "packing")


def test_the_list_says_how_many_kits_are_complete_and_what_is_short() -> None:
    phone = make_phone(ordered=90, finished=60)
    phone.get("/pack/")
    assert "One order line can be packed now." in phone.text
    assert "60 of 90" in phone.text
    assert "30 short of Lamp" in phone.text and "10 short of Leaflet" in phone.text
    assert "Pack 60 for order 1001" in phone.text


def test_pieces_that_two_lines_want_are_counted_once_for_the_line_due_first() -> None:
    phone = make_phone(ordered=50, finished=60)
    bench = phone.bench
    due_later = bench.line.due_on + timedelta(days=20)
    later = factory.make_line(factory.make_order("0002"), bench.lamps.lamp, 40, due_on=due_later)
    first, second = lines_to_pack(bench.lamps.bench, on=factory.MONDAY.date())
    assert (first.line, first.now, second.line, second.now) == (bench.line, 50, later, 10)
    assert [(part.part.number, part.missing) for part in second.parts] == [("LAMP", 30), ("LEAFLET", 10)]


def test_held_pieces_do_not_count_and_are_told() -> None:
    phone = make_phone()
    ok(hold_lot(event_context=factory.event_context("hold"), lot_id=phone.bench.leaflets.pk, reason="misprinted"))
    phone.get("/pack/")
    assert "Nothing is complete" in phone.text and "50 short of Leaflet; 80 here are stopped" in phone.text


def test_unproved_pieces_do_not_count_the_same_for_one_batch_as_among_many() -> None:
    phone = make_phone(checks=(TESTED,))
    bench = phone.bench
    site = bench.lamps.bench
    child = divide(
        factory.make_event("s"), bench.batch, Place(bench.lot.pk, site.pk, Condition.STOCK), 10, first_step=20
    )
    batches = [bench.batch, child, factory.make_batch(bench.lamps.lamp, name="untold")]
    among = gates.closed_among([gates.Stretch(batch.pk) for batch in batches], "pack")
    for batch in batches:
        assert among.get(gates.Stretch(batch.pk), []) == gates.closed(batch, "pack")
    assert gates.Stretch(batches[2].pk) in among, "a batch of which nothing was told is not proved"


def test_lines_of_closed_orders_and_lines_that_are_packed_in_full_are_not_listed() -> None:
    phone = make_phone(ordered=50)
    order = phone.bench.line.order
    order.closed_at = timezone.now()
    order.save()
    phone.get("/pack/")
    assert "Nothing is left to pack." in phone.text and order.number not in phone.text


def test_the_list_asks_the_database_as_often_for_thirty_lines_as_for_three() -> None:
    phone = make_phone()
    bench = phone.bench
    phone.get("/pack/")
    counts = []
    for many in (3, 30):
        order = factory.make_order(f"many {many}")
        for n in range(many):
            factory.make_line(order, bench.lamps.lamp, 10, number=n + 1)
            factory.make_stock(bench.lamps.lamp, bench.lamps.bench, 5, name=f"{many}/{n}")
        with CaptureQueriesContext(connection) as queries:
            phone.get("/pack/")
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_a_finished_lot_leads_to_the_line_that_it_fits_and_into_its_kit() -> None:
    phone = make_phone()
    for way in (f"/pack/t/{phone.bench.lot.code}", f"/pack/scan?code={show_code(phone.bench.lot.code).lower()}"):
        phone.get(way)
        assert phone.status == 200 and "It fits order 1001, line 1: Lamp, 50 left to pack." in phone.text
    line = f"/pack/line/{phone.bench.line.pk}"
    phone.post(line, {"more": "1", "do": "look", "code": phone.bench.lot.code})
    assert phone.url.startswith(line) and "Yes" in phone.text and "50 of 50" in phone.text


def test_a_scan_from_elsewhere_adds_to_the_kit_so_far() -> None:
    phone = make_phone()
    phone.scan(phone.bench.lot, quantity="12")
    phone.post(f"/pack/line/{phone.bench.line.pk}", {"more": "1", "do": "look", "code": phone.bench.leaflets.code})
    assert phone.hidden("lot") == [str(phone.bench.lot.pk), str(phone.bench.leaflets.pk)]
    assert "Pack 12 in a carton" in phone.text


def test_a_lot_that_fits_two_lines_asks_which() -> None:
    phone = make_phone()
    factory.make_line(factory.make_order("2002"), phone.bench.lamps.lamp, 40)
    phone.get(f"/pack/t/{phone.bench.lot.code}")
    assert "It fits 2 order lines" in phone.text and "Order 2002, line 1: Lamp, 40 left" in phone.text


def test_a_held_lot_is_a_stop_wherever_it_is_scanned() -> None:
    phone = make_phone()
    ok(hold_lot(event_context=factory.event_context("hold"), lot_id=phone.bench.lot.pk, reason="cracked rims"))
    phone.get(f"/pack/t/{phone.bench.lot.code}")
    assert phone.status == 409 and "STOP" in phone.text and "cracked rims" in phone.text


def test_a_carton_code_opens_the_carton_and_a_shipment_code_the_shipment() -> None:
    phone = make_phone()
    phone.scan(phone.bench.lot, quantity="10")
    phone.scan(phone.bench.leaflets)
    phone.pack()
    carton = Carton.objects.get()
    phone.get(f"/pack/t/{carton.code}/30")
    assert phone.url == f"/pack/carton/{carton.code}"


def test_what_is_neither_ordered_nor_packed_is_not_known_here() -> None:
    phone = make_phone()
    for code in (Lot.objects.get(part=phone.bench.lamps.puck).code, str(code_for(factory.uid("nobody")))):
        phone.get(f"/pack/t/{code}")
        assert phone.status == 404 and f"No lot has the code {show_code(code)}" in phone.text


def test_a_damaged_code_names_the_nearest_that_lie_here() -> None:
    phone = make_phone()
    code = phone.bench.lot.code
    phone.get(f"/pack/t/{code[:-1]}{'A' if code[-1] != 'A' else 'B'}")
    assert phone.status == 422 and "is not a whole code" in phone.text and f'href="/pack/t/{code}"' in phone.seen


def test_a_photo_without_a_code_and_no_photo_at_all_are_told_in_words() -> None:
    phone = make_phone()
    phone.post("/pack/photo", {})
    assert phone.status == 422 and "There was no photo in it" in phone.text
    phone.post("/pack/photo", {"photo": SimpleUploadedFile("x.jpg", b"not a photo", "image/jpeg")})
    assert phone.status == 422 and "is not a photo" in phone.text


def test_a_photo_of_a_lots_label_opens_the_lot() -> None:
    phone = make_phone()
    drawn = zxingcpp.create_barcode(f"https://trace.example/t/{phone.bench.lot.code}", zxingcpp.BarcodeFormat.QRCode)
    picture = BytesIO()
    Image.fromarray(drawn.to_image(scale=5)).save(picture, "PNG")
    phone.post("/pack/photo", {"photo": SimpleUploadedFile("x.png", picture.getvalue(), "image/png")})
    assert "It fits order 1001" in phone.text


def test_the_packers_pages_exist_only_at_the_own_bench() -> None:
    phone = make_phone()
    moulder = phone.bench.lamps.moulder
    for client in (
        cast.pass_client(moulder, PassKind.PACKING),
        cast.pass_client(moulder),
        cast.on_behalf(cast.founder_client(), moulder),
    ):
        assert client.get("/pack/").status_code == 404


def test_who_has_not_tapped_a_name_is_asked_first_and_then_goes_on() -> None:
    phone = make_phone()
    client = cast.pass_client(phone.bench.lamps.bench, PassKind.PACKING, "")
    answer = client.get(f"/pack/t/{phone.bench.lot.code}")
    assert answer["Location"] == f"/person?next=/pack/t/{phone.bench.lot.code}"
    assert client.post("/pack/photo")["Location"] == "/person?next=/pack/"
