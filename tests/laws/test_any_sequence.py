"""Whatever people do, in whatever order: the books balance, and the journal tells the same story as the columns."""

from __future__ import annotations

import pytest
from django.db.models import Sum
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests import factory
from tests.globe import BORE, COOLING, TESTING, Globe, everything_agrees, make_globe
from tests.laws.acts import ACTS, Act, fresh, perform
from traveller.ledger.models import PHYSICAL, Account, Condition, Posting

pytestmark = [pytest.mark.django_db, pytest.mark.both]

CHECKS = {30: (COOLING,), 40: (TESTING,), 50: (BORE,)}


def _balanced(globe: Globe) -> None:
    """Zero per lot over all postings, nothing physical below nothing, and what was counted is what was born."""
    assert factory.sums_to_zero()
    sums = Posting.objects.order_by().values("account__lot").annotate(total=Sum("quantity"))
    assert all(row["total"] == 0 for row in sums)
    assert not Account.objects.filter(condition__in=PHYSICAL, balance__lt=0).exists()
    globe.batch.refresh_from_db()
    if globe.batch.lot and not globe.children():
        step = globe.step(20)
        born = -globe.at(globe.moulder, Condition.MADE_FROM, 20)
        assert born == step.good + step.scrap + step.rework + step.samples


@settings(max_examples=24, suppress_health_check=list(HealthCheck))
@given(acts=st.lists(ACTS, min_size=3, max_size=16))
def test_any_sequence_of_actions_keeps_the_laws_and_leaves_verify_clean(acts: list[Act]) -> None:
    with fresh():
        globe = make_globe(checks=CHECKS, insert=True)
        factory.make_stock(globe.insert, globe.bench, 60)
        globe.report(20, 60)
        for act in acts:
            perform(globe, act)
            _balanced(globe)
        assert everything_agrees()
