"""The variant is confirmed by a tap, a typed word, or the code of a label or a traveller that is scanned."""

from __future__ import annotations

import pytest

from tests import factory
from tests.web.operator.floor import Floor, moved
from traveller.batches.models import Verdict
from traveller.products import frozen
from traveller.products.models import Check, Part
from traveller.rules.codes import show_code
from traveller.web.operator.scanned_variant import confirmed

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("how", ["word", "code", "address"])
def test_a_scanned_label_of_the_right_colour_confirms_and_another_one_does_not(floor: Floor, how: str) -> None:
    operation = floor.step(40).operation_id
    Check.objects.create(
        operation_id=operation, key="art", kind="variant", scope="step", blocks="sending", parameters={"name": "Amber"}
    )
    frozen.forget()
    floor.moulded(24)
    red = factory.make_batch(_red(floor), name="red")
    for batch, outcome in ((floor.batch, "passed"), (red, "failed")):
        colour = "amber" if batch == floor.batch else "red"
        typed = {"word": colour, "code": show_code(batch.code), "address": f"https://maker.example/t/{batch.code}/30"}[
            how
        ]
        moved(floor.post(floor.path(40, "measure"), {"r:art:variant:0:0": typed, "sure:outside_limits": "yes"}))
        assert Verdict.objects.get(step=floor.step(40), check_key="art", latest=True).outcome == outcome


def _red(floor: Floor) -> Part:
    red = factory.make_part("GLOBE-RD", name="Globe", variant="red", colour="red", revision="C")
    factory.make_routing(red, [factory.Op(10, floor.moulder, "mould", "make")])
    return red


@pytest.mark.parametrize(
    ("plan", "said"), [("red", "red"), ("GLOBE-RD C", "GLOBE-RD C"), ("GLOBE-RD B", "red"), ("amber", "red")]
)
def test_the_plan_may_name_variant_or_revision(floor: Floor, plan: str, said: str) -> None:
    lot = factory.make_stock(_red(floor), floor.moulder, 5)
    assert confirmed(show_code(lot.code), plan) == said


def test_what_is_no_code_of_ours_stays_as_it_was_typed(floor: Floor) -> None:
    assert confirmed("12", "12") == "12"
    assert confirmed("artwork B", "artwork C") == "artwork B"
