"""May these pieces go on? What still blocks a batch, with the figures that say why."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db.models import F

from traveller.batches.models import Batch, Step, Verdict
from traveller.batches.proof import evidence
from traveller.batches.proof.first_piece import asked_of
from traveller.journal.refusal import Refused
from traveller.ledger import genealogy, holds
from traveller.ledger.models import Account, Condition, Hold, Link, Lot
from traveller.products.frozen import CheckPlan, bill_at, checks_of, operations_of
from traveller.rules.checks import approval
from traveller.rules.checks.base import StoppedPurpose, blocks_purpose


@dataclass(frozen=True, slots=True)
class _Block:
    """A check that has not passed: its step, and the verdict's code and figures."""

    step: int
    verb: str
    check: str
    outcome: str
    code: str
    figures: dict[str, Any]


def closed(batch: Batch, purpose: StoppedPurpose, *, before: int | None = None) -> list[_Block]:
    """What stands in the way of `purpose`: checks of all steps, or of those before step `before`."""
    wanted = _wanted(batch.routing_id, purpose, before)
    if not wanted:
        return []
    steps = _own_or_inherited(batch, {number for number, _, _ in wanted})
    rows = _verdicts(step.pk for step in steps.values())
    own = (
        _block(number, verb, plan, rows.get((steps[number].pk, plan.key)) if number in steps else None)
        for number, verb, plan in wanted
    )
    return [block for block in own if block] or _closed_in_parents(batch, purpose, before)


def _verdicts(steps: Iterable[int]) -> dict[tuple[int, str], Verdict]:
    """What each check of these steps says now, by step and key."""
    rows = Verdict.objects.filter(step__in=list(steps), load=None, latest=True)
    return {(row.step_id, row.check_key): row for row in rows}


def _block(number: int, verb: str, plan: CheckPlan, row: Verdict | None) -> _Block | None:
    """None for a check that has passed or was conceded."""
    if row is None:
        return _Block(number, verb, plan.key, "missing", "nothing_recorded", {})
    if row.outcome == "passed" or row.conceded_event_id:
        return None
    return _Block(number, verb, plan.key, row.outcome, row.code, row.figures)


# What is told of lots of one part that become one: the gates of each stay asked.
MERGED = ("mixed", "recombined", "rest moved")


def _closed_in_parents(batch: Batch, purpose: StoppedPurpose, before: int | None) -> list[_Block]:
    """A lot is as good as the worst of all that was poured together in it: what they had still to prove is asked too.

    Also of what was poured into a batch before this one was split off from it.
    """
    at: Batch | None = batch
    until: int | None = None
    while at is not None:
        links = Link.objects.filter(child=at.lot_id or 0, event__kind__in=MERGED, quantity__gt=0).exclude(
            parent__batch=at.parent_id or 0
        )
        if until is not None:
            links = links.filter(event__lt=until)
        for link in links.select_related("event", "parent__batch__parent").order_by("id"):
            # The steps from there on, these pieces have gone through together.
            ends = [number for number in (link.event.data.get("first_step"), before) if number is not None]
            if blocks := closed(link.parent.batch, purpose, before=min(ends, default=None)):
                return blocks
        until, at = at.released_event_id, at.parent
    return []


def cap_of(step: Step, at: datetime) -> int | None:
    """How many more pieces may be made at a step before the founder approves its first piece, as it stands at `at`.

    None: as many as are wanted. Said and asked about before news; the news itself is taken all the same.
    """
    asked = [plan.params for plan in asked_of(step.operation_id)]
    if not any(params.cap is not None for params in asked):
        return None
    known = evidence.of_step(step, hangs_on_before=False, first_pieces=asked)
    if known.started_at is None:
        known = replace(known, started_at=at)
    caps = [approval.allowed(params, known) for params in asked]
    return min((cap for cap in caps if cap is not None), default=None)


def closed_among(batches: Iterable[Batch], purpose: StoppedPurpose) -> dict[int, _Block]:
    """Of many batches those that may not go on, by id, with the first block; as many queries as for one."""
    asked = {batch.pk: batch for batch in batches}
    family = dict(asked)
    while missing := {b.parent_id for b in family.values() if b.parent_id} - set(family):
        family |= {batch.pk: batch for batch in Batch.objects.filter(pk__in=missing)}
    steps = {(step.batch_id, step.number): step.pk for step in Step.objects.filter(batch__in=family)}
    rows = _verdicts(steps.values())
    found: dict[int, _Block] = {}
    for batch in asked.values():
        for number, verb, plan in _wanted(batch.routing_id, purpose, None):
            step = next((steps[at.pk, number] for at in _lineage(batch, family) if (at.pk, number) in steps), 0)
            if block := _block(number, verb, plan, rows.get((step, plan.key))):
                found[batch.pk] = block
                break
    open_ones = [asked[pk] for pk in sorted(asked.keys() - found.keys())]
    return found | _closed_by_what_merged(open_ones, family, purpose)


def _closed_by_what_merged(
    batches: Iterable[Batch], family: Mapping[int, Batch], purpose: StoppedPurpose
) -> dict[int, _Block]:
    """Of batches with nothing of their own to prove, those in which something unproved was poured."""
    lots = [batch.lot_id for batch in family.values() if batch.lot_id]
    merged = set(Link.objects.filter(child__in=lots, event__kind__in=MERGED).values_list("child__batch", flat=True))
    found: dict[int, _Block] = {}
    for batch in batches:
        poured = any(at.pk in merged for at in _lineage(batch, family))
        if poured and (blocks := _closed_in_parents(batch, purpose, None)):
            found[batch.pk] = blocks[0]
    return found


def _lineage(batch: Batch, family: Mapping[int, Batch]) -> Iterator[Batch]:
    """A batch, the one that it was split off from, and so on."""
    at: Batch | None = batch
    while at is not None:
        yield at
        at = family.get(at.parent_id or 0)


def refuse_if_none_usable(step: Step) -> None:
    """A request to begin a step whose components lie here, but all of one kind held or not proved: refused.

    Where some lot of it is free, that one may be used; which it was is news, asked about on the page and taken.
    """
    bill = [component for component, _ in bill_at(step.batch.routing_id, step.number)]
    if not bill:
        return
    lying = Account.objects.filter(
        lot__part__in=bill, site=step.site_id, condition=Condition.STOCK, step=0, balance__gt=0
    )
    lots: dict[int, list[Lot]] = defaultdict(list)
    for lot in Lot.objects.filter(pk__in=lying.values("lot")).select_related("part").order_by("pk"):
        lots[lot.part_id].append(lot)
    every = [lot.pk for found in lots.values() for lot in found]
    held = set(Hold.objects.filter(lot__in=every, closed_at=None).values_list("lot_id", flat=True))
    batches = {batch.lot_id: batch for batch in Batch.objects.filter(lot__in=every)}
    blocks = closed_among(batches.values(), "consuming")
    for found in lots.values():
        unproved = [lot for lot in found if lot.pk in batches and batches[lot.pk].pk in blocks]
        if all(lot.pk in held or lot in unproved for lot in found):
            holds.refuse_if_held(found[0], "consume")
            refuse_if_closed(batches[(unproved or found)[0].pk], "consuming")


def closed_in_components(lot_id: int, purpose: StoppedPurpose) -> tuple[Batch, _Block] | None:
    """The first unproved batch among all that was used up in making a lot, whatever news let it be used.

    A lot that was only split is proved by its own batch, which knows what its parent had proved. What was regraded
    was decided by a person; what had been used in it is still looked at.
    """
    family = genealogy.ancestors(lot_id)
    used = Link.objects.filter(parent__in=family, child__in=family | {lot_id}).exclude(parent__part=F("child__part"))
    used = used.exclude(child__origin="regrade")
    batches = {b.pk: b for b in Batch.objects.filter(lot__in=used.values("parent")).order_by("id")}
    blocks = closed_among(batches.values(), purpose)
    return next(((batches[pk], block) for pk, block in sorted(blocks.items())), None)


def refuse_if_closed(batch: Batch, purpose: StoppedPurpose, *, before: int | None = None) -> None:
    blocks = closed(batch, purpose, before=before)
    if blocks:
        first = blocks[0]
        raise Refused(
            "not_proved",
            batch=batch.code,
            purpose=purpose,
            step=first.step,
            verb=first.verb,
            why_code=first.code,
            why={key: str(value) for key, value in first.figures.items()},
            more=len(blocks) - 1,
        )


def _wanted(routing_id: int, purpose: StoppedPurpose, before: int | None) -> list[tuple[int, str, CheckPlan]]:
    return [
        (operation.number, operation.verb, plan)
        for operation in operations_of(routing_id)
        if before is None or operation.number < before
        for plan in checks_of(operation.pk)
        if blocks_purpose(plan.blocks, purpose)
    ]


def _own_or_inherited(batch: Batch, numbers: Iterable[int]) -> dict[int, Step]:
    """A child batch has the steps from its splitting on; what came before was proved by its parent."""
    found: dict[int, Step] = {}
    at: Batch | None = batch
    while at is not None:
        for step in at.steps.filter(number__in=set(numbers) - set(found)):
            found.setdefault(step.number, step)
        at = at.parent if set(numbers) - set(found) else None
    return found
