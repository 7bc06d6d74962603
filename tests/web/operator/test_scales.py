"""Counting by weight on the phone: the scale's step is asked once, and a scale that cannot tell says so."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from tests import cast
from tests.web.operator.floor import Floor, events, field_of, moved, text_of
from traveller.dispatches import verify
from traveller.dispatches.models import Consignment, ConsignmentLine
from traveller.dispatches.weighed import piece_spreads
from traveller.rules.counts import PAIRS_ENOUGH
from traveller.web.founder.subcontractors.count_words import explained

pytestmark = pytest.mark.django_db

# Ten pieces of 0.53 g on a scale of 1 g: it shows 5 g.
COARSE = {"method": "weight", "sample": "10", "sample_weight": "5", "sample_unit": "g", "weight_unit": "g"}
FINE = {"method": "weight", "sample": "50", "sample_weight": "26.5", "sample_unit": "g", "weight_unit": "g"}


@pytest.fixture
def bench(floor: Floor) -> Client:
    return cast.pass_client(floor.bench, person="Tomas")


def sent(floor: Floor, quantity: object, **typed: Any) -> Consignment:
    page: Any = floor.phone.get("/here/send")
    moved(floor.post("/here/send", {page.context["rows"][0]["field"]: quantity, "to": floor.bench.pk, **typed}))
    return Consignment.objects.latest("id")


def arrived(floor: Floor, bench: Client, consignment: Consignment, weight: str, *sure: str, **typed: str) -> Any:
    given = {f"line:{consignment.lines.get().pk}": weight, **{f"sure:{one}": "yes" for one in sure}, **typed}
    return floor.post(f"/here/arrival/{consignment.code}", given, client=bench)


def test_a_coarse_scale_says_that_it_cannot_tell_and_how_many_to_weigh(floor: Floor, bench: Client) -> None:
    floor.tested(480)
    consignment = sent(floor, 480)
    steps = {"sample_step": "1", "step": "1"}
    asked = arrived(floor, bench, consignment, "254", **COARSE, **steps)
    # 254 g of half a gram each. 508 x 0.289/5 = 29.3 by the sample's step; pieces 1.7, goods 0.6: twice 29.4.
    assert "508 pieces, give or take 59: too coarse a scale for the weight of 10." in text_of(asked)
    assert "Weigh at least 60 together" in text_of(asked) and events("received") == 0
    sure = ("scale_cannot_tell", "by_weight")
    page = text_of(bench.get(moved(arrived(floor, bench, consignment, "254", *sure, **COARSE, **steps))))
    assert "They differ by 28; such counts cannot tell less than 58 apart" in page and "480 are booked." in page
    line = consignment.lines.get()
    assert (line.received, line.difference, line.received_scale["counted"]) == (480, 0, 508)
    founder = " ".join(explained(consignment.lines.get()))
    assert "A piece's weight is assumed to vary by 1.0 %." in founder
    assert "Steps of the scale: 1 g for the piece weight, 1 g for the goods." in founder
    assert "That is too coarse for such a count: 60 pieces weighed together would do." in founder
    assert list(verify.differences()) == []


def test_goods_too_light_for_the_scale_want_a_finer_one_or_a_count_by_hand(floor: Floor, bench: Client) -> None:
    floor.tested(48)
    consignment = sent(floor, 40)
    asked = arrived(floor, bench, consignment, "20", **FINE, sample_step="0.1", step="20")
    assert "too coarse a scale. Count them by hand." in text_of(asked)


def test_the_step_is_asked_once_and_filled_in_from_then_on(floor: Floor, bench: Client) -> None:
    floor.tested(480)
    consignment = sent(floor, 300)
    asked = arrived(floor, bench, consignment, "159.2", **FINE)
    said = "By the weights as typed it is 0.1 g for the pieces weighed together and 0.1 g for the totes."
    assert said in text_of(asked) and events("received") == 0
    moved(arrived(floor, bench, consignment, "159.2", "scale_step", "by_weight", **FINE))
    assert consignment.lines.get().received_scale["sample_step"] == "0.1 g"
    again = sent(floor, 100)
    page = bench.get(f"/here/arrival/{again.code}")
    assert (field_of(page, "sample_step"), field_of(page, "step")) == ("0.1 g", "0.1 g")
    # A step typed for one scale only is that of both.
    moved(arrived(floor, bench, again, "53.2", "by_weight", **FINE, sample_step="0.2 g"))
    assert again.lines.get().received_scale["step"] == "0.2 g"
    assert field_of(bench.get(f"/here/arrival/{sent(floor, 20).code}"), "step") == "0.2 g"
    # The shop that has not weighed anything yet is still to be asked.
    assert field_of(floor.phone.get("/here/send"), "step") == ""


def test_a_step_that_is_no_weight_or_nothing_is_refused_in_words(floor: Floor, bench: Client) -> None:
    floor.tested(48)
    consignment = sent(floor, 40)
    for typed, sentence in (("fine", "is no weight that can be read"), ("0", "A scale has a step")):
        answer = arrived(floor, bench, consignment, "21.2", **FINE, sample_step=typed)
        assert answer.status_code == 422 and sentence in text_of(answer), typed
        assert field_of(answer, "sample_step") == typed


def test_the_spread_of_a_piece_is_learned_from_goods_that_were_counted_and_weighed(floor: Floor, bench: Client) -> None:
    floor.tested(480)
    ten = {**FINE, "sample": "10", "sample_weight": "5.3", "sample_step": "0.1", "step": "0.1"}
    # Every one shows 49 pieces of 50: more than pieces that differ by 1 % would.
    for _ in range(PAIRS_ENOUGH):
        moved(arrived(floor, bench, sent(floor, 50), "25.97", "by_weight", **ten))
    spread = piece_spreads([floor.part.pk])[floor.part.pk]
    # Of the square of 1 the steps explain 49^2/(12 x 53^2) + 1/(12 x 5.3^2) = 0.074, whole pieces 1/12; the rest is
    # spread over 49^2/10 + 49 = 289: 5.4 %, widened by sqrt(8/6).
    assert spread.pairs == PAIRS_ENOUGH and spread.cv_ppm == pytest.approx(62_300, rel=0.01)
    assert ConsignmentLine.objects.latest("id").received_scale["pairs"] == 0, "as it was known when it was judged"
    consignment = sent(floor, 50)
    page: Any = bench.get(f"/here/arrival/{consignment.code}")
    assert f'data-cv="{spread.cv_ppm}"' in page.content.decode()
    asked = arrived(floor, bench, consignment, "26.5", **ten)
    assert "50 pieces, give or take 3" in text_of(asked)
    moved(arrived(floor, bench, consignment, "26.5", "scale_cannot_tell", "scale_too_coarse", "by_weight", **ten))
    founder = " ".join(explained(consignment.lines.get()))
    assert "A piece's weight varies by 6.2 %, by 8 counts of such goods." in founder
    assert list(verify.differences()) == []
