"""What is not proved of a batch: its own checks, and those of what was poured together in it, with their figures.

A source of `traveller.batches.usable`, which says whether goods may be used; nothing else decides by it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from traveller.batches.models import Batch, Step, Verdict
from traveller.ledger.models import Link
from traveller.products.frozen import CheckPlan, checks_of, operations_of
from traveller.rules.checks.base import blocks_purpose
from traveller.rules.purposes import Purpose


@dataclass(frozen=True, slots=True)
class Unproved:
    """A check that has not passed: its step, and the verdict's code and figures."""

    step: int
    verb: str
    check: str
    outcome: str
    code: str
    figures: dict[str, Any]


class Stretch(NamedTuple):
    """A batch, as far as it is asked about: its steps before `before`; None: all of them."""

    batch_id: int
    before: int | None = None


# What is told of lots of one part that become one: the checks of each stay asked.
MERGED = ("mixed", "recombined", "rest moved")


def closed(batch: Batch, purpose: Purpose, *, before: int | None = None) -> list[Unproved]:
    """What stands in the way of `purpose`: checks of all steps, or of those before step `before`."""
    return closed_among([Stretch(batch.pk, before)], purpose).get(Stretch(batch.pk, before), [])


def closed_among(asked: Iterable[Stretch], purpose: Purpose) -> dict[Stretch, list[Unproved]]:
    """Of many batches those with something unproved, each with all that blocks it; as many queries as for one.

    A lot is as good as the worst of all that was poured together in it: where a batch has nothing of its own to
    prove, what those had still to prove is asked, also of what was poured into a batch before this one was split off.
    Each generation of pouring costs the queries anew.
    """
    found: dict[Stretch, list[Unproved]] = {}
    ways = {(stretch, stretch) for stretch in asked}
    seen = set(ways)
    while ways:
        family = _family({at.batch_id for _, at in ways})
        blocks = _own_blocks({at for _, at in ways}, family, purpose)
        for origin, at in sorted(ways, key=lambda way: way[1].batch_id):
            if own := blocks.get(at):
                found.setdefault(origin, own)
        open_ones = [(origin, at) for origin, at in ways if origin not in found]
        poured = _poured_in({at.batch_id for _, at in open_ones}, family)
        ways = {
            (origin, Stretch(link.batch_id, _earlier(link.first_step, at.before)))
            for origin, at in open_ones
            for link in poured[at.batch_id]
        } - seen
        seen |= ways
    return found


@dataclass(frozen=True, slots=True)
class _Member:
    """What is needed of a batch to find what proves it."""

    pk: int
    lot_id: int | None
    parent_id: int | None
    routing_id: int
    released_event_id: int


def _family(batch_ids: Collection[int]) -> dict[int, _Member]:
    """These batches and all that they were split off from, by id; a query for each generation of splits."""
    family: dict[int, _Member] = {}
    missing = set(batch_ids)
    while missing:
        rows = Batch.objects.filter(pk__in=missing)
        for row in rows.values_list("pk", "lot_id", "parent_id", "routing_id", "released_event_id").order_by():
            family[row[0]] = _Member(*row)
        missing = {member.parent_id for member in family.values() if member.parent_id} - set(family)
    return family


def _lineage(batch_id: int, family: Mapping[int, _Member]) -> Iterator[_Member]:
    """A batch, the one that it was split off from, and so on."""
    at = family.get(batch_id)
    while at is not None:
        yield at
        at = family.get(at.parent_id or 0)


def _own_blocks(
    asked: Collection[Stretch], family: Mapping[int, _Member], purpose: Purpose
) -> dict[Stretch, list[Unproved]]:
    """The checks of a batch's own steps, and of its parents' where it was split off later."""
    wanted = {at: _wanted(family[at.batch_id].routing_id, purpose, at.before) for at in asked}
    if not any(wanted.values()):
        return {}
    holders = _Holders({at.batch_id for at in asked}, family)
    passed = _passed(family)
    open_ones: dict[Stretch, list[tuple[int, int, str, CheckPlan]]] = defaultdict(list)
    for at, plans in wanted.items():
        for number, verb, plan in plans:
            holder = holders.of(at.batch_id, number)
            if (holder, number, plan.key) not in passed:
                open_ones[at].append((holder, number, verb, plan))
    said = _said({holder for rows in open_ones.values() for holder, _, _, _ in rows})
    return {
        at: [_block(number, verb, plan, said.get((holder, number, plan.key))) for holder, number, verb, plan in rows]
        for at, rows in open_ones.items()
    }


class _Holders:
    """Whose step proves a batch: a child batch has the steps from its splitting on; before, its parent had them."""

    def __init__(self, batch_ids: Collection[int], family: Mapping[int, _Member]) -> None:
        children = [pk for pk in batch_ids if family[pk].parent_id]
        self._lineages = {pk: [member.pk for member in _lineage(pk, family)] for pk in children}
        members = {pk for lineage in self._lineages.values() for pk in lineage}
        rows = Step.objects.filter(batch__in=members).values_list("batch_id", "number").order_by() if members else ()
        self._steps = set(rows)

    def of(self, batch_id: int, number: int) -> int:
        """The batch that has this step of it; 0 where none has."""
        lineage = self._lineages.get(batch_id)
        if lineage is None:
            return batch_id
        return next((pk for pk in lineage if (pk, number) in self._steps), 0)


def _passed(batch_ids: Collection[int]) -> set[tuple[int, int, str]]:
    """(batch, step, check) of what has passed or was conceded."""
    rows = Verdict.objects.filter(step__batch__in=batch_ids, load=None, latest=True)
    said = rows.values_list("step__batch_id", "step__number", "check_key", "outcome", "conceded_event_id")
    return {
        (batch_id, number, key)
        for batch_id, number, key, outcome, conceded in said.order_by()
        if outcome == "passed" or conceded
    }


def _said(batch_ids: Collection[int]) -> dict[tuple[int, int, str], Verdict]:
    """What each check of these batches says now."""
    rows = Verdict.objects.filter(step__batch__in=batch_ids, load=None, latest=True).select_related("step")
    return {(row.step.batch_id, row.step.number, row.check_key): row for row in rows}


def _block(number: int, verb: str, plan: CheckPlan, row: Verdict | None) -> Unproved:
    if row is None:
        return Unproved(number, verb, plan.key, "missing", "nothing_recorded", {})
    return Unproved(number, verb, plan.key, row.outcome, row.code, row.figures)


def _wanted(routing_id: int, purpose: Purpose, before: int | None) -> list[tuple[int, str, CheckPlan]]:
    return [
        (operation.number, operation.verb, plan)
        for operation in operations_of(routing_id)
        if before is None or operation.number < before
        for plan in checks_of(operation.pk)
        if blocks_purpose(plan.blocks, purpose)
    ]


class _Poured(NamedTuple):
    """A batch that was poured into another; from `first_step` on, these pieces have gone through together."""

    batch_id: int
    first_step: int | None


def _poured_in(batch_ids: Collection[int], family: Mapping[int, _Member]) -> dict[int, list[_Poured]]:
    """By batch: what was poured into it, or into what it was split off from before it was."""
    by_lot: dict[int, list[tuple[int, int | None, _Poured]]] = defaultdict(list)
    lots = [member.lot_id for pk in batch_ids for member in _lineage(pk, family) if member.lot_id]
    links = Link.objects.filter(child__in=lots, event__kind__in=MERGED, quantity__gt=0, parent__batch__isnull=False)
    for child, event, data, batch_id in links.order_by("id").values_list(
        "child_id", "event_id", "event__data", "parent__batch"
    ):
        by_lot[child].append((event, batch_id, _Poured(batch_id, data.get("first_step"))))
    found: dict[int, list[_Poured]] = defaultdict(list)
    if not by_lot:
        return found
    for pk in batch_ids:
        until: int | None = None
        for member in _lineage(pk, family):
            found[pk] += [
                poured
                for event, batch_id, poured in by_lot.get(member.lot_id or 0, ())
                if batch_id != member.parent_id and (until is None or event < until)
            ]
            until = member.released_event_id
    return found


def _earlier(one: int | None, other: int | None) -> int | None:
    return min((number for number in (one, other) if number is not None), default=None)
