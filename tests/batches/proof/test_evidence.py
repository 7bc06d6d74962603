"""What a step's evidence says to the rules."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests import factory
from tests.globe import make_globe
from traveller.batches.models import Verdict
from traveller.batches.proof.evidence import of_step
from traveller.batches.proof.readings import ReadingTold

pytestmark = pytest.mark.django_db

ARTWORK = factory.CheckRow("artwork", "variant", {"name": "007"}, scope="step", blocks="sending")


@pytest.mark.parametrize(("reported", "outcome"), [("007", "passed"), ("7", "failed")])
def test_a_variant_that_reads_as_a_number_keeps_its_noughts(reported: str, outcome: str) -> None:
    globe = make_globe(checks={30: (ARTWORK,)})
    globe.report(20, 10)
    globe.report(30, 10, readings=[ReadingTold("artwork", "variant", reported, "")], done=True)
    assert Verdict.objects.get(step=globe.step(30), latest=True).outcome == outcome
    (reading,) = of_step(globe.step(30), hangs_on_before=False).readings
    assert (reading.text, reading.value) == (reported, Decimal(7))
