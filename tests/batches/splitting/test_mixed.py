"""Two lots in one tote: one count, one lot with both as parents, as good as the worse of them."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests import factory
from tests.globe import COOLING, Globe, everything_agrees, make_globe, ok, refused
from traveller.batches.actions.hold import hold_lot
from traveller.batches.actions.receive_mixed import in_ratio, receive_mixed
from traveller.batches.actions.send import send
from traveller.batches.models import Batch
from traveller.batches.proof import gates
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import Consignment
from traveller.ledger import genealogy
from traveller.ledger.models import Condition, Hold, Lot

pytestmark = pytest.mark.django_db


def _two(**route: object) -> tuple[Globe, Batch, Consignment]:
    """Two batches of globes on the road to the bench on one note: 60 and 40."""
    globe = make_globe(**route)  # type: ignore[arg-type]
    other = factory.make_batch(globe.part, wanted=100, name="other")
    for batch, quantity in ((globe.batch, 60), (other, 40)):
        globe.report(20, quantity, batch=batch)
        load = globe.cool(quantity, batch=batch) if route else None
        globe.report(30, quantity, batch=batch, **({"load": load.uid} if load else {}))
    lines = [SendLine(globe.lot(globe.batch).pk, 60, from_step=30), SendLine(globe.lot(other).pk, 40, from_step=30)]
    sent = send(
        event_context=globe.event_context(), lines=lines, origin_id=globe.moulder.pk, destination_id=globe.bench.pk
    )
    return globe, other, ok(sent)


def _ids(consignment: Consignment) -> list[int]:
    return list(consignment.lines.order_by("id").values_list("pk", flat=True))


def test_one_count_makes_a_lot_of_both_that_goes_on_as_one_batch() -> None:
    globe, other, consignment = _two()
    event_context = globe.event_context()
    for _ in range(2):
        ok(receive_mixed(event_context=event_context, line_ids=_ids(consignment), quantity=100))
    mixed = Batch.objects.get(lot__origin="mixed")
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40, batch=mixed) == 100
    parents = {globe.lot().pk, globe.lot(other).pk}
    assert genealogy.ancestors(mixed.lot_id or 0) == parents
    assert [line.closed for line in consignment.lines.all()] == [True, True]
    assert [step.number for step in mixed.steps.order_by("number")] == [40, 50]
    globe.report(40, 100, batch=mixed)
    assert globe.at(globe.bench, Condition.IN_PROCESS, 50, batch=mixed) == 100
    assert everything_agrees()


def test_a_difference_is_shared_out_in_the_ratio_sent_and_nothing_is_lost() -> None:
    globe, other, consignment = _two()
    ok(receive_mixed(event_context=globe.event_context(), line_ids=_ids(consignment), quantity=95))
    assert [line.received for line in consignment.lines.order_by("id")] == [57, 38]
    assert globe.at(globe.moulder, Condition.UNEXPLAINED, 40) == 3
    assert globe.at(globe.moulder, Condition.UNEXPLAINED, 40, batch=other) == 2
    assert everything_agrees()


def test_the_worst_status_the_earliest_expiry_and_a_recall_reach_the_mixed_lot() -> None:
    globe, other, consignment = _two()
    for lot, day in ((globe.lot(), date(2027, 5, 1)), (globe.lot(other), date(2026, 9, 1))):
        lot.expires_on = day
        lot.save()
    ok(hold_lot(event_context=globe.event_context(), lot_id=globe.lot(other).pk, reason="wet resin"))
    ok(receive_mixed(event_context=globe.event_context(), line_ids=_ids(consignment), quantity=100))
    mixed = Lot.objects.get(origin="mixed")
    assert mixed.expires_on == date(2026, 9, 1)
    assert Hold.objects.filter(lot=mixed, closed_at=None).count() == 1
    # A recall of either reaches it; a later hold on the other one too.
    assert mixed.pk in genealogy.descendants(globe.lot().pk) and mixed.pk in genealogy.descendants(globe.lot(other).pk)
    ok(hold_lot(event_context=globe.event_context(), lot_id=globe.lot().pk, reason="specks"))
    assert Hold.objects.filter(lot=mixed, closed_at=None).count() == 2
    assert everything_agrees()


def test_the_gates_ask_every_parent_of_a_mixed_lot() -> None:
    globe, other, consignment = _two(checks={30: (COOLING,)})
    ok(receive_mixed(event_context=globe.event_context(), line_ids=_ids(consignment), quantity=100))
    mixed = Batch.objects.select_related("lot").get(lot__origin="mixed")
    assert not gates.closed(mixed, "send")
    # The second parent's proof is struck: the first one's does not cover its pieces.
    other.steps.get(number=30).verdicts.update(latest=False)
    assert [block.check for block in gates.closed(mixed, "send")] == ["cooling"]


def test_what_was_used_before_the_tote_was_counted_is_not_mixed() -> None:
    globe, other, consignment = _two()
    globe.report(40, 60)
    ok(receive_mixed(event_context=globe.event_context(), line_ids=_ids(consignment), quantity=100))
    assert not Lot.objects.filter(origin="mixed").exists()
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40, batch=other) == 40
    assert everything_agrees()


def test_material_of_two_lots_is_mixed_without_a_batch() -> None:
    globe = make_globe()
    part = factory.make_part("RESIN", "material", unit="GRM")
    lots = [factory.make_stock(part, globe.bench, 5_000, name=name) for name in ("a", "b")]
    ends = (globe.bench.pk, globe.moulder.pk)
    lines = [SendLine(lot.pk, 5_000) for lot in lots]
    sent = send(
        event_context=globe.event_context(),
        lines=lines,
        purpose="free issue",
        origin_id=ends[0],
        destination_id=ends[1],
    )
    consignment = ok(sent)
    ok(receive_mixed(event_context=globe.event_context(), line_ids=_ids(consignment), quantity=10_000))
    mixed = Lot.objects.get(origin="mixed")
    assert factory.balance(mixed, globe.moulder) == 10_000
    assert everything_agrees()


def test_parts_that_can_be_told_apart_and_a_single_lot_are_not_mixed() -> None:
    globe, _other, consignment = _two()
    bench, moulder = globe.bench, globe.moulder
    puck = factory.make_stock(factory.make_part("PUCK", "bought"), bench, 10)
    disc = factory.make_stock(factory.make_part("DISC", "bought"), bench, 10)
    lines = [SendLine(lot.pk, 10) for lot in (puck, disc)]
    stock = ok(
        send(
            event_context=globe.event_context(),
            origin_id=bench.pk,
            destination_id=moulder.pk,
            lines=lines,
            purpose="stock",
        )
    )
    for line_ids, quantity, code in (
        (_ids(stock), 20, "mix_other_part"),
        (_ids(consignment)[:1], 60, "mix_needs_two"),
        (_ids(consignment), 0, "not_a_quantity"),
        ([*_ids(consignment), *_ids(stock)], 20, "mix_other_step"),
    ):
        assert (
            refused(receive_mixed(event_context=globe.event_context(), line_ids=line_ids, quantity=quantity)).code
            == code
        )
    globe.event_context()
    ok(receive_mixed(event_context=globe.event_context(), line_ids=_ids(consignment), quantity=100))
    again = receive_mixed(event_context=globe.event_context(), line_ids=_ids(consignment), quantity=100)
    assert refused(again).code == "already_received"
    assert everything_agrees()


@given(quantity=st.integers(0, 10_000), ratio=st.lists(st.integers(0, 500), min_size=1, max_size=6))
def test_shares_are_whole_and_together_the_quantity(quantity: int, ratio: list[int]) -> None:
    found = in_ratio(quantity, ratio)
    assert sum(found) == quantity and min(found) >= 0
    if sum(ratio):
        assert all(abs(part * sum(ratio) - quantity * own) < sum(ratio) for part, own in zip(found, ratio, strict=True))
