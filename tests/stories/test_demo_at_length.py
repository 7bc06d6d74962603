"""The demo once more, looked at after each of its events: worlds of their own, apart from the one that others share."""

from __future__ import annotations

import os
import secrets
from datetime import timedelta
from random import Random

import pytest
from django.db.models import Sum

from tests.stories.reckoned import Reckoned
from tests.stories.test_status_of_demo import FIGURES_A_DAY, NOW, Watch, play
from traveller.ledger.models import Lot

pytestmark = pytest.mark.django_db


@pytest.mark.long
@pytest.mark.sqlite
def test_after_each_event_of_three_drawn_days_each_figure_is_what_the_rows_make_it() -> None:
    seed = int(os.environ.get("RECKONING_SEED") or secrets.randbelow(10**6))
    weeks = [NOW.date() - timedelta(days=n) for n in range(1, 31)]
    days = Random(seed).sample([day for day in weeks if day.weekday() < 5], 3)
    print(f"seed {seed}: {', '.join(str(day) for day in sorted(days))}")
    pages = Reckoned(closely=days, every_day=False)
    play(None, pages)
    assert not pages.differences, "\n".join([f"RECKONING_SEED={seed}", *pages.differences])
    assert all(book.compared >= FIGURES_A_DAY for _now, book in pages.looks), seed


# One transaction of a thousand looks, each spoilt and taken back: PostgreSQL plans ever worse in it, without its
# housekeeping between. The drawn day is looked at on both.
@pytest.mark.long
@pytest.mark.sqlite
def test_after_every_event_of_the_demo_nothing_is_called_free_that_may_not_be_used() -> None:
    watch = Watch(None)
    play(watch)
    assert watch.looks > 300 and watch.free and watch.stopped, vars(watch)
    assert Lot.objects.aggregate(n=Sum("accounts__balance"))["n"] == 0
