"""What is this, and what comes next? The one answer for pages, labels, travellers, lists, phones and packers.

A kind in a word, why (the stop of `traveller.batches.usable`), the step or purpose that it waits for, and where.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from traveller.batches.models import Batch, Step, StepState
from traveller.batches.proof.stops import Goods, Stop
from traveller.batches.usable import after_step, purposes_at_rest, usable_goods
from traveller.dispatches.queries import destinations_of
from traveller.ledger.models import Account, Condition
from traveller.products.models import OperationKind
from traveller.rules.purposes import Purpose
from traveller.rules.statuses import NEXT_WORDS, StatusKind, kind_of_stop, status_word

_WORKED_AT = (Condition.IN_PROCESS, Condition.REWORK)
# Where goods can be pointed at; what is used up, scrapped or owed has no status.
TELLABLE = (*_WORKED_AT, Condition.STOCK, Condition.ON_THE_ROAD, Condition.PACKED, Condition.UNEXPLAINED)


@dataclass(frozen=True, slots=True)
class LotStatus:
    """What a quantity of a lot at a place is: the kind, what it waits for, and where that is done.

    `stop`: why it may not be used, if so. `step`: the step that comes next, 0 when there is none; `verb` what is done
    there, or in a word what finished goods wait for; `site` where.
    """

    kind: StatusKind
    purpose: Purpose
    verb: str
    site: str
    step: int = 0
    stop: Stop | None = None

    @property
    def word(self) -> str:
        """The kind in English, free goods with what for."""
        return status_word(self.kind, self.purpose)


def statuses_of(accounts: Iterable[Account], on: date) -> dict[int, LotStatus]:
    """By account's id, for accounts in one of `TELLABLE`; `on`: the day at the place where it is asked.

    `lot` and `site` of the accounts are read along. Costs the same number of queries for any number of accounts.
    """
    told = [account for account in accounts if account.condition in TELLABLE]
    ways = _Ways(told)
    purposes = {account.pk: ways.purpose(account) for account in told}
    goods = {account.pk: _goods(account) for account in told}
    found: dict[tuple[Purpose, Goods], Stop | None] = {}
    for purpose in sorted(set(purposes.values())):
        wanted = {goods[pk] for pk, waits_for in purposes.items() if waits_for == purpose}
        found |= {(purpose, each): stop for each, stop in usable_goods(wanted, purpose, on).items()}
    # A hold does not keep a step from being started, and is said all the same.
    worked_at = {goods[account.pk] for account in told if purposes[account.pk] == "start"}
    leaving = usable_goods(worked_at, "send", on)
    statuses = {}
    for account in told:
        purpose = purposes[account.pk]
        stop = found[purpose, goods[account.pk]]
        held = leaving.get(goods[account.pk]) if purpose == "start" else None
        stop = held if held is not None and held.code == "held" else stop
        step, verb, site = ways.next(account, purpose)
        statuses[account.pk] = LotStatus(_kind(account, stop), purpose, verb, site, step, stop)
    return statuses


def status_before_birth(batch: Batch) -> LotStatus:
    """Of a batch of which nothing was made yet: its first step that is not done."""
    steps = batch.steps.select_related("operation", "site").exclude(state=StepState.DONE).order_by("number")
    first = steps.first()
    if first is None:
        return LotStatus("not_made", "start", "", batch.destination.name)
    return LotStatus("not_made", "start", first.operation.verb, first.site.name, first.number)


def _goods(account: Account) -> Goods:
    """How far these pieces have come."""
    if account.condition in _WORKED_AT or (account.condition == Condition.ON_THE_ROAD and account.step):
        return Goods(account.lot_id, account.step)
    return after_step(account.lot_id, account.step) if account.condition == Condition.STOCK else Goods(account.lot_id)


def _kind(account: Account, stop: Stop | None) -> StatusKind:
    if stop is not None and stop.code in ("held", "expired"):
        return kind_of_stop(stop.code)
    if account.condition == Condition.UNEXPLAINED:
        return "disputed"
    if account.condition == Condition.ON_THE_ROAD:
        return "road"
    if stop is not None:
        return kind_of_stop(stop.code)
    if account.condition == Condition.REWORK:
        return "rework"
    return "in_process" if account.condition == Condition.IN_PROCESS else "free"


class _Ways:
    """Where lots go next: the steps of their batches, and what finished goods of their parts wait for."""

    def __init__(self, accounts: Iterable[Account]) -> None:
        rows = list(accounts)
        lots = {account.lot_id for account in rows}
        batches = Batch.objects.filter(lot__in=lots).select_related("destination").defer("part")
        self._batches = {batch.lot_id: batch for batch in batches}
        self._steps: dict[int, list[Step]] = defaultdict(list)
        steps = Step.objects.filter(batch__in=[batch.pk for batch in self._batches.values()])
        for step in steps.exclude(operation__kind=OperationKind.PREPARE).select_related("operation", "site"):
            self._steps[step.batch_id].append(step)
        self._at_rest = purposes_at_rest({account.lot.part_id for account in rows})
        on_the_road = any(account.condition == Condition.ON_THE_ROAD for account in rows)
        self._sent_to = destinations_of(lots) if on_the_road else {}

    def purpose(self, account: Account) -> Purpose:
        """What these pieces wait for."""
        if account.condition == Condition.PACKED:
            return "ship"
        if account.condition in _WORKED_AT or (account.condition == Condition.ON_THE_ROAD and account.step):
            return "start"
        batch = self._batches.get(account.lot_id)
        if account.condition == Condition.STOCK and batch is not None and self._leaves(account, batch):
            return "send"
        return self._at_rest[account.lot.part_id]

    def _leaves(self, account: Account, batch: Batch) -> bool:
        return account.step > 0 or account.site_id != batch.destination_id

    def next(self, account: Account, purpose: Purpose) -> tuple[int, str, str]:
        """The step that comes next (0: none), what is done there, and where."""
        batch = self._batches.get(account.lot_id)
        here = account.site.name
        if account.condition == Condition.ON_THE_ROAD and not account.step:
            to = self._sent_to.get((account.lot_id, account.site_id, account.step), "")
            return 0, NEXT_WORDS[purpose], to or (batch.destination.name if batch else "")
        if batch is None or account.condition in (Condition.PACKED, Condition.UNEXPLAINED):
            return 0, NEXT_WORDS[purpose], here
        step = self._step_after(account, batch)
        if step is not None:
            return step.number, step.operation.verb, step.site.name
        return 0, NEXT_WORDS[purpose], batch.destination.name if purpose == "send" else here

    def _step_after(self, account: Account, batch: Batch) -> Step | None:
        """The step that waits for these pieces, or comes after the one that they have been through."""
        waits = account.condition != Condition.STOCK
        for step in sorted(self._steps[batch.pk], key=lambda row: row.number):
            if step.number == account.step if waits else 0 < account.step < step.number:
                return step
        return None
