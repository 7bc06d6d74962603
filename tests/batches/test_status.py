"""What is this, and what comes next? One answer from the first step to the carton."""

from __future__ import annotations

from datetime import timedelta

import pytest

from sites.models import Site
from tests import factory
from tests.globe import BORE, COOLING, Globe, make_globe, ok
from tests.shipping.packing import make_bench
from traveller.batches.actions.hold import hold_lot
from traveller.batches.status import TELLABLE, LotStatus, status_before_birth, statuses_of
from traveller.ledger.models import Account, Lot
from traveller.rules.purposes import PURPOSE_ORDER
from traveller.rules.statuses import FREE_WORDS, STATUS_WORDS, kind_of_stop, status_word

pytestmark = pytest.mark.django_db

ON = factory.MONDAY.date()


def _said(lot: Lot, on: object = ON) -> dict[tuple[str, str, int], tuple[str, str, str]]:
    """Word, next and where, by site, condition and step."""
    rows = list(Account.objects.filter(lot=lot, balance__gt=0, condition__in=TELLABLE).select_related("lot", "site"))
    statuses: dict[int, LotStatus] = statuses_of(rows, on)  # type: ignore[arg-type]
    return {
        (row.site.code, row.condition, row.step): (said.word, said.verb, said.site)
        for row in rows
        if (said := statuses[row.pk])
    }


def _globe() -> Globe:
    return make_globe(checks={30: (COOLING,), 50: (BORE,)}, start=48)


def test_before_anything_is_made_it_names_its_first_step() -> None:
    globe = _globe()
    said = status_before_birth(globe.batch)
    assert (said.word, said.verb, said.site, said.step) == ("Not made yet", "dry", "Moulder", 10)


def test_each_place_says_its_own_state_and_its_own_next_step() -> None:
    globe = _globe()
    globe.report(20, 48)
    globe.cooled((24, 15))
    assert _said(globe.lot()) == {
        ("moulder", "in_process", 30): ("In process", "cool", "Moulder"),
        ("moulder", "stock", 30): ("Free to send", "test", "Bench"),
    }
    ok(globe.send(24))
    assert _said(globe.lot())["moulder", "on_the_road", 40] == ("On the road", "test", "Bench")


def test_pieces_that_are_done_and_not_proved_wait_for_proof() -> None:
    globe = _globe()
    globe.report(20, 24)
    globe.report(30, 24)
    assert _said(globe.lot())["moulder", "stock", 30] == ("Waits for proof", "test", "Bench")


def test_what_is_held_says_so_wherever_it_lies_and_still_names_its_own_next_step() -> None:
    globe = _globe()
    globe.report(20, 48)
    globe.cooled((24, 15))
    hold_lot(event_context=globe.event_context(), lot_id=globe.lot().pk, reason="wet resin")
    assert _said(globe.lot()) == {
        ("moulder", "in_process", 30): ("HELD: do not use", "cool", "Moulder"),
        ("moulder", "stock", 30): ("HELD: do not use", "test", "Bench"),
    }


def test_finished_goods_wait_for_the_use_that_their_part_has() -> None:
    bench = make_bench()
    lamps = bench.lamps
    assert _said(bench.lot) == {("bench", "stock", 0): ("Free to pack", "packing", "Bench")}
    puck = Lot.objects.get(part=lamps.puck)
    assert _said(puck) == {("bench", "stock", 0): ("Free to use", "use", "Bench")}
    Lot.objects.filter(pk=puck.pk).update(expires_on=ON)
    assert _said(puck)["bench", "stock", 0][0] == "Free to use"
    assert _said(puck, ON + timedelta(days=1))["bench", "stock", 0][0] == "EXPIRED: do not use"


def test_a_carton_waits_to_be_shipped() -> None:
    bench = make_bench()
    bench.carton(1, 10)
    assert _said(bench.lot)["bench", "packed", 0] == ("Free to ship", "shipping", "Bench")
    hold_lot(event_context=factory.event_context("h"), lot_id=bench.lot.pk, reason="scratched")
    assert _said(bench.lot)["bench", "packed", 0][0] == "HELD: do not use"


def test_finished_elsewhere_is_free_to_be_sent_to_where_it_is_wanted() -> None:
    bench = make_bench()
    elsewhere: Site = bench.lamps.moulder
    bench.batch.destination = elsewhere
    bench.batch.save(update_fields=["destination"])
    assert _said(bench.lot)["bench", "stock", 0] == ("Free to send", "stock", "Moulder")


def test_a_word_for_every_kind_and_purpose_and_no_two_alike() -> None:
    words = [*FREE_WORDS.values(), *(word for kind, word in STATUS_WORDS.items() if kind != "free")]
    assert len(set(words)) == len(words) and set(FREE_WORDS) == set(PURPOSE_ORDER)
    assert {status_word("free", purpose) for purpose in PURPOSE_ORDER} == set(FREE_WORDS.values())
    assert kind_of_stop("component_not_proved") == "unproved"
    with pytest.raises(KeyError):
        kind_of_stop("reserved")
