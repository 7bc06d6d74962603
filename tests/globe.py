"""A globe's way through two shops, for tests of journal, ledger, batches and consignments.

The moulder dries resin (10), moulds (20, two cavities) and cools on a fixture (30, load by load); the bench
tests every piece (40), measures the bore and fits an insert (50). Limits are those of tests, not of a data sheet.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, TypeVar

from sites.actor import Actor
from sites.models import Site
from tests import factory
from traveller.batches.actions.finish_step import finish_step
from traveller.batches.actions.loads import end_load, start_load
from traveller.batches.actions.receive import receive
from traveller.batches.actions.report import report
from traveller.batches.actions.send import send
from traveller.batches.history import verify as batches_verify
from traveller.batches.history.step_law import step_accounts
from traveller.batches.models import Batch, Load, Step
from traveller.batches.steps.answer import Answer
from traveller.dispatches import verify as consignments_verify
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.actions.receive import Received
from traveller.dispatches.models import Consignment
from traveller.journal import verify as journal_verify
from traveller.journal.event_context import EventContext
from traveller.journal.refusal import Refusal
from traveller.ledger import verify as ledger_verify
from traveller.ledger.models import Account, Condition, Hold, Lot
from traveller.products.models import Part

T = TypeVar("T")

DRYING = factory.CheckRow("drying", "drying", {"least": "4", "unit": "h"}, scope="load", blocks="step")
COOLING = factory.CheckRow("cooling", "window", {"least": "15", "unit": "min"}, scope="load", blocks="sending")
TESTING = factory.CheckRow("water", "every_piece", {"name": "water test"}, scope="piece", blocks="consuming")
BORE = factory.CheckRow(
    "bore",
    "dimension",
    {"name": "bore", "nominal": "2", "tolerance": "0.005", "unit": "in"},
    scope="lot",
    blocks="packing",
)


def ok(answer: T | Refusal) -> T:
    """The answer, which must not be a refusal."""
    assert not isinstance(answer, Refusal), answer
    return answer


def refused(answer: object) -> Refusal:
    """The refusal, which it must be."""
    assert isinstance(answer, Refusal), answer
    return answer


@dataclass
class Globe:
    """One batch of globes and the two shops that make it."""

    moulder: Site
    bench: Site
    part: Part
    insert: Part
    batch: Batch
    reported: Iterator[int] = field(default_factory=lambda: iter(range(1, 100_000)))
    # Who reports; the founder unless it matters.
    actor: Actor | None = None

    def event_context(self, at: datetime | None = None) -> EventContext:
        """The next telling, a minute after the one before."""
        name = f"globe {next(self.reported)}"
        when = at or factory.MONDAY + timedelta(minutes=next(self.reported))
        return factory.event_context(name, at=when, actor=self.actor)

    def step(self, number: int, batch: Batch | None = None) -> Step:
        return Step.objects.get(batch=batch or self.batch, number=number)

    def lot(self, batch: Batch | None = None) -> Lot:
        lot = Batch.objects.get(pk=(batch or self.batch).pk).lot
        assert lot is not None
        return lot

    def report(self, number: int, good: int = 0, *, batch: Batch | None = None, **reported: Any) -> Answer:
        event_context = reported.pop("event_context", None) or self.event_context()
        return ok(report(event_context=event_context, step_id=self.step(number, batch).pk, good=good, **reported))

    def finish(self, number: int, *, batch: Batch | None = None, **reported: Any) -> Answer:
        return ok(finish_step(event_context=self.event_context(), step_id=self.step(number, batch).pk, **reported))

    def cool(self, quantity: int, minutes: float = 15, *, step: int = 30, batch: Batch | None = None) -> Load:
        """A filling of the cooling fixture, in and out."""
        load = self.put_in(quantity, step=step, batch=batch)
        self.take_out(load, load.started_at + timedelta(minutes=minutes))
        load.refresh_from_db()
        return load

    def put_in(self, quantity: int, *, step: int = 30, batch: Batch | None = None) -> Load:
        answer = ok(
            start_load(event_context=self.event_context(), step_id=self.step(step, batch).pk, quantity=quantity)
        )
        return Load.objects.get(uid=answer.event.uid)

    def take_out(self, load: Load, at: datetime, **reported: Any) -> Answer:
        return ok(end_load(event_context=self.event_context(at), load_id=load.pk, **reported))

    def cooled(self, *loads: tuple[int, float]) -> None:
        """Loads of so many pieces for so many minutes, counted good."""
        for quantity, minutes in loads:
            load = self.cool(quantity, minutes)
            self.report(30, quantity, load=load.uid)

    def send(
        self, quantity: int, *, batch: Batch | None = None, from_step: int = 30, **reported: Any
    ) -> Consignment | Refusal:
        line = SendLine(self.lot(batch).pk, quantity, from_step=from_step)
        return send(
            event_context=reported.pop("event_context", None) or self.event_context(),
            origin_id=self.moulder.pk,
            destination_id=self.bench.pk,
            lines=[line],
            **reported,
        )

    def receive(self, consignment: Consignment, quantity: int, **reported: Any) -> Received:
        line = consignment.lines.get()
        return ok(
            receive(
                event_context=reported.pop("event_context", None) or self.event_context(),
                line_id=line.pk,
                quantity=quantity,
                **reported,
            )
        )

    def moved(self, quantity: int) -> Consignment:
        """Sent from the moulder after cooling, counted whole at the bench."""
        consignment = ok(self.send(quantity))
        self.receive(consignment, quantity)
        return consignment

    def at(self, site: Site, condition: str, step: int = 0, *, batch: Batch | None = None) -> int:
        return factory.balance(self.lot(batch), site, condition, step)

    def lies(self, batch: Batch | None = None) -> dict[tuple[str, str, int], int]:
        """Every account of the batch's lot that is not empty."""
        rows = Account.objects.filter(lot=self.lot(batch)).exclude(balance=0).select_related("site")
        return {(row.site.code, row.condition, row.step): row.balance for row in rows}

    def children(self) -> list[Batch]:
        return list(Batch.objects.filter(parent=self.batch).order_by("id"))

    def open_holds(self, batch: Batch | None = None) -> list[Hold]:
        return list(Hold.objects.filter(lot=self.lot(batch), closed_at=None).order_by("id"))


ROUTE: dict[int, tuple[factory.CheckRow, ...]] = {10: (DRYING,), 30: (COOLING,), 40: (TESTING,), 50: (BORE,)}


def make_globe(
    *, checks: Mapping[int, tuple[factory.CheckRow, ...]] | None = None, start: int = 500, insert: bool = False
) -> Globe:
    """A released batch; `checks` by step (none unless given), `insert`: a component used at step 50."""
    by_step = checks or {}
    moulder, bench = factory.make_site("moulder"), factory.make_bench("bench")
    part = factory.make_part("GLOBE")
    component = factory.make_part("INSERT", "bought")
    ops = [
        factory.Op(10, moulder, "dry", "prepare", checks=by_step.get(10, ())),
        factory.Op(20, moulder, "mould", "make", cavities=2, checks=by_step.get(20, ())),
        factory.Op(30, moulder, "cool", load_size=24, checks=by_step.get(30, ())),
        factory.Op(40, bench, "test", checks=by_step.get(40, ())),
        factory.Op(50, bench, "fit", checks=by_step.get(50, ())),
    ]
    factory.make_routing(part, ops)
    if insert:
        factory.make_bill(part, component, each=1, step=50)
    batch = factory.make_batch(part, wanted=start, start=start)
    return Globe(moulder, bench, part, component, batch)


def physical_total(lot: Lot) -> int:
    """All of a lot that lies somewhere, good or not."""
    lying = (Condition.IN_PROCESS, Condition.REWORK, Condition.STOCK, Condition.ON_THE_ROAD, Condition.PACKED)
    return sum(lot.accounts.filter(condition__in=lying).values_list("balance", flat=True))


def everything_agrees() -> bool:
    """No room's verify names a difference, and the law of each step leaves nothing over."""
    rooms = (journal_verify, ledger_verify, consignments_verify, batches_verify)
    assert [difference for room in rooms for difference in room.differences()] == []
    for batch in Batch.objects.order_by("id"):
        steps = batch.steps.select_related("operation").order_by("number")
        over = {row.step.number: row.left_over for row in step_accounts(batch, steps) if row.left_over}
        assert over == {}, batch
    return True
