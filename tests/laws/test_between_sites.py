"""However goods are sent, taken back, counted twice, mixed, mistaken and sent on: nothing is lost, nothing doubled,
and verify agrees."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from sites.models import Lane, Site
from tests import factory
from tests.globe import everything_agrees, make_globe
from tests.laws.acts import fresh
from traveller.batches.actions.count_again import count_again
from traveller.batches.actions.decide import decide
from traveller.batches.actions.receive import arrived_unannounced, receive
from traveller.batches.actions.receive_mixed import receive_mixed
from traveller.batches.actions.report import report
from traveller.batches.actions.send import send
from traveller.batches.actions.settle_difference import settle_difference
from traveller.batches.actions.settle_unexplained import settle_unexplained
from traveller.batches.actions.take_back_dispatch import take_back_dispatch
from traveller.batches.actions.unknown import arrived_unknown, match_unknown
from traveller.batches.models import Step
from traveller.dispatches.actions.count_again import COUNTS
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import ConsignmentLine
from traveller.journal.models import Event, Parked
from traveller.ledger.models import PHYSICAL, Account, Condition, Hold, Lot

pytestmark = [pytest.mark.django_db, pytest.mark.both]

Act = tuple[Any, ...]
_pick, _pieces = st.integers(0, 9), st.integers(1, 25)
_method = st.sampled_from(["hand", "hand", "weight"])
ACTS: st.SearchStrategy[Act] = st.one_of(
    st.tuples(st.just("send"), _pick, st.lists(_pieces, min_size=1, max_size=3), _method),
    st.tuples(st.just("receive"), _pick, st.integers(-4, 4), st.booleans(), _method),
    st.tuples(st.just("part"), _pick, _pieces),
    st.tuples(st.just("again"), _pick, st.integers(0, 30), _method),
    st.tuples(st.just("take back"), _pick, st.booleans()),
    st.tuples(st.just("unannounced"), _pick, st.integers(0, 2), _pieces),
    st.tuples(st.just("unknown"), _pieces, st.booleans()),
    st.tuples(st.just("match"), _pick, _pick, st.booleans()),
    st.tuples(st.just("mixed"), _pieces),
    st.tuples(st.just("send on"), _pick),
    st.tuples(st.just("back"), _pick, _pieces, st.sampled_from([20, 30])),
    st.tuples(st.just("work"), _pick, st.integers(0, 8), st.booleans()),
    st.tuples(st.just("settle"), _pick, st.sampled_from(["lost", "at_sender", "never_counted"])),
    st.tuples(st.just("explain"), _pick, st.sampled_from(["lost", "found", "never_counted"])),
    st.tuples(st.just("decide"), _pick, st.sampled_from(["release", "scrap"])),
)


class World:
    """Two batches of one part, made and cooled; a printer that is on nobody's way."""

    def __init__(self) -> None:
        self.globe = make_globe(start=40)
        self.printer = factory.make_site("printer")
        Lane.objects.create(origin=self.globe.moulder, destination=self.globe.bench, over_ppm=0)
        other = factory.make_batch(self.globe.part, wanted=40, start=40, name="other")
        for batch in (self.globe.batch, other):
            self.globe.report(20, 60, batch=batch)
            self.globe.report(30, 60, batch=batch)
        self.lots = [self.globe.lot(), self.globe.lot(other)]

    def do(self, act: Act, *, twice: bool) -> None:
        """One act; a phone that got no answer tells the same thing again."""
        kind, *figures = act
        event_context = self.globe.event_context()
        for _ in range(2 if twice else 1):
            getattr(self, "_" + kind.replace(" ", "_"))(event_context, *figures)

    def _sites(self) -> list[Site]:
        return [self.globe.bench, self.printer, self.globe.moulder]

    def _send(self, event_context: Any, pick: int, totes: list[int], method: str) -> None:
        lines = [
            SendLine(
                self.lots[(pick + n) % 2].pk,
                quantity,
                from_step=30,
                method=method,
                sample=10,
                how={"totes": [quantity]},
            )
            for n, quantity in enumerate(totes)
        ]
        send(
            event_context=event_context,
            origin_id=self.globe.moulder.pk,
            destination_id=self.globe.bench.pk,
            lines=lines,
        )

    def _open(self, pick: int) -> ConsignmentLine | None:
        rows = list(ConsignmentLine.objects.filter(closed=False).order_by("id"))
        return rows[pick % len(rows)] if rows else None

    def _receive(self, event_context: Any, pick: int, off: int, more: bool, method: str) -> None:
        reported = Event.objects.filter(uid=event_context.uid).first()
        line = ConsignmentLine.objects.get(pk=reported.data["line"]) if reported else self._open(pick)
        if line:
            quantity = reported.data["told"]["quantity"] if reported else max(0, line.remaining + off)
            receive(
                event_context=event_context,
                line_id=line.pk,
                quantity=quantity,
                more_to_come=more,
                method=method,
                sample=10,
            )

    def _part(self, event_context: Any, pick: int, quantity: int) -> None:
        reported = Event.objects.filter(uid=event_context.uid).first()
        line = ConsignmentLine.objects.get(pk=reported.data["line"]) if reported else self._open(pick)
        if line:
            receive(event_context=event_context, line_id=line.pk, quantity=quantity, more_to_come=True)

    def _again(self, event_context: Any, pick: int, quantity: int, method: str) -> None:
        reported = Event.objects.filter(uid=event_context.uid).first()
        rows = list(ConsignmentLine.objects.filter(closed=True).order_by("id"))
        line = (
            ConsignmentLine.objects.get(pk=reported.data["line"])
            if reported
            else rows[pick % len(rows)]
            if rows
            else None
        )
        if line:
            count_again(event_context=event_context, line_id=line.pk, quantity=quantity, method=method, sample=10)

    def _take_back(self, event_context: Any, pick: int, whole: bool) -> None:
        reported = Event.objects.filter(uid=event_context.uid).first()
        rows = list(ConsignmentLine.objects.order_by("id"))
        if reported or not rows:
            return
        line = rows[pick % len(rows)]
        take_back_dispatch(
            event_context=event_context, consignment_id=line.consignment_id, line_id=None if whole else line.pk
        )

    def _unannounced(self, event_context: Any, pick: int, where: int, quantity: int) -> None:
        site = self._sites()[where]
        arrived_unannounced(
            event_context=event_context, site_id=site.pk, lot_id=self.lots[pick % 2].pk, quantity=quantity
        )

    def _unknown(self, event_context: Any, quantity: int, named: bool) -> None:
        part = self.globe.part.pk if named else None
        arrived_unknown(
            event_context=event_context, site_id=self.globe.bench.pk, words="bare", quantity=quantity, part_id=part
        )

    def _match(self, event_context: Any, pick: int, lot: int, known: bool) -> None:
        rows = list(Parked.objects.filter(reason="lot_unknown").order_by("id"))
        if rows:
            what: dict[str, Any] = {"lot_id": self.lots[lot % 2].pk} if known else {"part_id": self.globe.insert.pk}
            match_unknown(event_context=event_context, parked_id=rows[pick % len(rows)].pk, reason="seen", **what)

    def _mixed(self, event_context: Any, quantity: int) -> None:
        reported = Event.objects.filter(uid=event_context.uid).first()
        lines = list(ConsignmentLine.objects.filter(closed=False, to_step=40).order_by("id")[:3])
        ids = reported.data["told"]["lines"] if reported else [line.pk for line in lines]
        receive_mixed(event_context=event_context, line_ids=ids, quantity=quantity) if ids else None

    def _send_on(self, event_context: Any, pick: int) -> None:
        reported = Event.objects.filter(uid=event_context.uid).first()
        rows = list(Account.objects.filter(site=self.printer, condition=Condition.STOCK, balance__gt=0).order_by("id"))
        if reported or not rows:
            return
        row = rows[pick % len(rows)]
        line = SendLine(row.lot_id, row.balance, from_step=row.step)
        send(event_context=event_context, origin_id=self.printer.pk, destination_id=self.globe.bench.pk, lines=[line])

    def _back(self, event_context: Any, pick: int, quantity: int, to_step: int) -> None:
        waiting = (Condition.IN_PROCESS, Condition.REWORK)
        rows = list(Account.objects.filter(site=self.globe.bench, condition__in=waiting, balance__gt=0).order_by("id"))
        if not rows or Event.objects.filter(uid=event_context.uid).exists():
            return
        row = rows[pick % len(rows)]
        line = SendLine(row.lot_id, quantity, from_step=row.step, to_step=to_step, condition=row.condition)
        ends = (self.globe.bench.pk, self.globe.moulder.pk)
        send(
            event_context=event_context,
            lines=[line],
            purpose="return",
            note="oval",
            origin_id=ends[0],
            destination_id=ends[1],
        )

    def _work(self, event_context: Any, pick: int, good: int, again: bool) -> None:
        steps = list(Step.objects.filter(number=40).order_by("id"))
        step = steps[pick % len(steps)]
        if not Event.objects.filter(uid=event_context.uid).exists():
            report(event_context=event_context, step_id=step.pk, good=good, again=again)

    def _settle(self, event_context: Any, pick: int, finding: Any) -> None:
        rows = list(ConsignmentLine.objects.exclude(difference=0).order_by("id"))
        if rows:
            settle_difference(
                event_context=event_context, line_id=rows[pick % len(rows)].pk, finding=finding, reason="asked"
            )

    def _explain(self, event_context: Any, pick: int, finding: Any) -> None:
        rows = list(Account.objects.filter(condition=Condition.UNEXPLAINED).exclude(lot__origin="provisional"))
        if rows:
            row = rows[pick % len(rows)]
            place = {"lot_id": row.lot_id, "site_id": row.site_id, "step": row.step}
            settle_unexplained(event_context=event_context, finding=finding, reason="asked", **place)

    def _decide(self, event_context: Any, pick: int, disposition: Any) -> None:
        rows = list(Hold.objects.order_by("id"))
        if rows:
            decide(
                event_context=event_context, hold_id=rows[pick % len(rows)].pk, disposition=disposition, reason="seen"
            )

    def holds_together(self) -> None:
        """What lies on each road is what its open lines say; what is unexplained is what counts explain."""
        assert factory.sums_to_zero()
        assert not Account.objects.filter(condition__in=PHYSICAL, balance__lt=0).exists()
        roads: dict[tuple[int, int, int], int] = defaultdict(int)
        rests: dict[tuple[int, int, int], int] = defaultdict(int)
        for line in ConsignmentLine.objects.select_related("consignment", "settled_event"):
            key = (line.lot_id, line.consignment.origin_id, line.to_step)
            if not line.closed:
                roads[key] += max(0, line.remaining)
                rests[key] += min(0, line.remaining)
            elif line.settled_event is None or line.settled_event.kind in COUNTS:
                rests[key] += line.difference
        for event in Event.objects.filter(kind__in=("counted again", "unexplained settled")):
            if event.kind == "unexplained settled":
                told = event.data["told"]
                rests[told["lot"], told["site"], told["step"]] -= event.data["quantity"]
            elif used := event.data.get("used", 0):
                # Used before it was counted again, and fewer: they stand where they were used.
                line = ConsignmentLine.objects.select_related("consignment").get(pk=event.data["line"])
                rests[line.lot_id, line.consignment.destination_id, line.to_step] -= used
        for condition, reported in ((Condition.ON_THE_ROAD, roads), (Condition.UNEXPLAINED, rests)):
            rows = Account.objects.filter(condition=condition).exclude(balance=0).exclude(lot__origin="provisional")
            lying = {(row.lot_id, row.site_id, row.step): row.balance for row in rows}
            assert lying == {key: quantity for key, quantity in reported.items() if quantity}, condition

    def every_piece_is_somewhere(self) -> None:
        """What was born of a part (counted made, found, bought) is what lies, was scrapped or is unexplained."""
        sums: dict[str, int] = defaultdict(int)
        for row in Account.objects.filter(lot__part=self.globe.part):
            sums[row.condition] += row.balance
        # What a lot made of another consumed is what the other gained.
        born = -sums[Condition.MADE_FROM] - sums[Condition.MADE_INTO] - sums[Condition.BOUGHT_FROM]
        lies = sum(sums[condition] for condition in PHYSICAL)
        owed = sums[Condition.UNREPORTED] + sums[Condition.UNREPORTED_REWORK]
        assert born == lies + owed + sums[Condition.UNEXPLAINED]
        assert Lot.objects.filter(part=self.globe.part).exists()


@example(
    acts=[
        (("receive", 0, 0, False, "hand"), False),
        (("work", 0, 8, False), False),
        (("again", 0, 3, "hand"), True),
        (("again", 0, 25, "weight"), False),
        (("again", 0, 0, "hand"), False),
        (("explain", 0, "never_counted"), False),
        (("take back", 1, True), False),
        (("take back", 2, False), True),
    ]
)
@settings(max_examples=20, suppress_health_check=list(HealthCheck))
@given(acts=st.lists(st.tuples(ACTS, st.booleans()), min_size=4, max_size=14))
def test_any_interleaving_loses_nothing_doubles_nothing_and_leaves_verify_clean(acts: list[tuple[Act, bool]]) -> None:
    with fresh():
        world = World()
        world.do(("send", 0, [20, 15, 10], "hand"), twice=True)
        for act, twice in acts:
            world.do(act, twice=twice)
            world.holds_together()
        world.every_piece_is_somewhere()
        assert everything_agrees()
