"""What a test bench did: which pieces it tested when, how it did on the test master, and whom a new try concerns.

The test master belongs to the tester, and a tester is known by its site and the name of the test: two routings that
ask for the same test at one site are tested on the same bench, whatever the numbers of their steps.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal, InvalidOperation
from functools import lru_cache
from typing import Any

from django.db.models import Exists, Max, OuterRef, Q, QuerySet

from sites.calendars import calendars_of
from sites.models import Site
from traveller.batches.models import Count, Reading, Step, StepState
from traveller.batches.steps.fetch import lock_batches
from traveller.products.frozen import CheckPlan, checks_of
from traveller.products.models import Check
from traveller.rules.checks import KINDS, names_of
from traveller.rules.checks.base import ReadingEvidence, TestedEvidence
from traveller.rules.checks.master import GRACE, MASTER
from traveller.rules.shift_periods import Period, shift_periods
from traveller.rules.shifts import ShiftError, parse_shifts
from traveller.rules.workdays import SiteCalendar

# The reason by which a test step tells pieces that were scrapped before they could be tested.
BEFORE_TEST = "before test"
# The end of a shift, the next working day after a holiday: further tries are looked for one by one.
_AROUND = timedelta(days=3)
_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Bench:
    """See rules.checks.base.Evidence."""

    tested: tuple[TestedEvidence, ...] = ()
    tries: tuple[ReadingEvidence, ...] = ()
    periods: tuple[Period, ...] = ()


NOTHING = Bench()


def asked_of(operation_id: int) -> CheckPlan | None:
    """The check of an operation whose tester is tried on a test master."""
    return next((plan for plan in checks_of(operation_id) if plan.terms.test), None)


def bench_of(step: Step, plan: CheckPlan, struck: int) -> Bench:
    """What is known of the tester at which a step's pieces were tested; `struck`: the step began anew with it."""
    tested = _tested(step, struck)
    if not tested:
        return Bench(tries=tuple(_last_tries(_tries(step, plan))))
    first = min((one.since or one.until for one in tested), key=datetime.timestamp)
    last = max((one.until for one in tested), key=datetime.timestamp)
    tries = _tries_around(_tries(step, plan), first, last)
    return Bench(tested, tries, _periods(step, first, last))


def _tested(step: Step, struck: int) -> tuple[TestedEvidence, ...]:
    """Counts with their corrections, each from the telling before it; those of a load by the load's own times."""
    rows = Count.objects.filter(Q(step=step, load=None) | Q(load__step=step), event__gt=struck)
    by_event: dict[int, list[Count]] = defaultdict(list)
    for row in rows.select_related("event", "load").order_by("event__happened_at", "id"):
        by_event[row.event.corrects_id or row.event_id].append(row)
    found: list[TestedEvidence] = []
    before: datetime | None = None
    for reported in sorted(by_event.values(), key=lambda reported: _first(reported).event.happened_at):
        pieces = sum(_pieces(row) for row in reported)
        load, until = _first(reported).load, _first(reported).event.happened_at
        if load is not None:
            since = load.started_at
            found.append(TestedEvidence(since, max(since, load.ended_at or until), pieces, load.number))
            continue
        since_then = before or step.started_at
        found.append(TestedEvidence(since_then and min(since_then, until), until, pieces, opens=before is None))
        before = until
    return tuple(one for one in found if one.pieces > 0)


def _first(reported: Sequence[Count]) -> Count:
    """The count itself, before what corrected it."""
    return min(reported, key=lambda row: row.event_id)


def _pieces(row: Count) -> int:
    return row.good + row.scrap + row.rework + row.samples - int(row.by_reason.get(BEFORE_TEST, 0))


def _operations(site_id: int, name: str) -> list[int]:
    """Operations of any routing that are done on this tester."""
    kinds = names_of(lambda kind: "tries" in kind.needs)
    rows = Check.objects.filter(kind__in=kinds, operation__site=site_id).order_by()
    found: Iterable[tuple[int, str, Any]] = rows.values_list("operation_id", "kind", "parameters")
    return [operation for operation, kind, params in found if _test_of(kind, tuple(params.items())) == name]


@lru_cache(maxsize=4096)
def _test_of(kind: str, parameters: tuple[tuple[str, str], ...]) -> str:
    """The test whose tester a check tries; empty for one that tries none. Remembered: it is asked at each count."""
    params = KINDS[kind].parse(dict(parameters))
    return "" if isinstance(params, list) else KINDS[kind].terms(params).test


def _tries(step: Step, plan: CheckPlan) -> QuerySet[Reading]:
    """Tries on the test master, with whatever batch they were told; rework of that batch unsays none of them."""
    stands = Q(struck_by=None) | Q(struck_by__kind="decided")
    operations = _operations(step.site_id, plan.terms.test)
    return Reading.objects.filter(stands, name=MASTER, step__operation__in=operations).order_by("taken_at", "id")


def latest_tries(step: Step, plan: CheckPlan, most: int) -> list[Reading]:
    """The last tries on this tester, the newest first."""
    return list(_tries(step, plan).reverse()[:most])


def is_due(step: Step, *, all_counted: bool) -> bool:
    """Is the test master to be tried now: before the first piece of a step, or after its last one?"""
    plan = asked_of(step.operation_id)
    if plan is None or step.started_at is None:
        return False
    last = next(iter(latest_tries(step, plan, 1)), None)
    wanted = step.started_at
    if all_counted:
        reported = Count.objects.filter(Q(step=step) | Q(load__step=step), event__corrects=None)
        wanted = reported.aggregate(last=Max("event__happened_at"))["last"] or wanted
    return last is None or last.taken_at < wanted - GRACE


def _last_tries(rows: QuerySet[Reading]) -> list[ReadingEvidence]:
    last = rows.last()
    return [_evidence(last)] if last else []


def _tries_around(rows: QuerySet[Reading], first: datetime, last: datetime) -> tuple[ReadingEvidence, ...]:
    """All near, the last good one before them and the first one after: between them lies what may be suspect."""
    low, high = first - _DAY, last + _AROUND
    near = list(rows.filter(taken_at__gte=low, taken_at__lte=high))
    good_before = rows.filter(taken_at__lt=low, value="1").last()
    # Bad ones after that good one are what makes suspect.
    between = list(rows.filter(taken_at__lt=low, taken_at__gte=good_before.taken_at)) if good_before else []
    before = between or list(rows.filter(taken_at__lt=low).reverse()[:1])
    after = list(rows.filter(taken_at__gt=high)[:1])
    return tuple(_evidence(row) for row in (*before, *near, *after))


def _evidence(row: Reading) -> ReadingEvidence:
    try:
        value = Decimal(row.value)
    except InvalidOperation:
        value = Decimal(0)
    return ReadingEvidence(name=row.name, value=value, unit=row.unit, taken_at=row.taken_at, text=row.value)


def _periods(step: Step, first: datetime, last: datetime) -> tuple[Period, ...]:
    """The site's shifts; by its days where none are written or they cannot be read."""
    site = Site.objects.get(pk=step.site_id)
    shifts = parse_shifts(site.shifts)
    calendar = calendars_of([site])[site.pk]
    if isinstance(shifts, ShiftError):
        calendar = SiteCalendar(site.timezone, {}, calendar.closed)
    return shift_periods(calendar, first, last)


def concerned(step: Step, since: datetime) -> list[Step]:
    """Other steps on the same tester whose pieces a try at `since` may make suspect, or prove; locked in order.

    From the last good try before it: a day more, since the end of a shift is judged by its last try.
    """
    plan = asked_of(step.operation_id)
    if plan is None:
        return []
    good = _tries(step, plan).filter(taken_at__lt=since, value="1").last()
    reported = Count.objects.filter(Q(step=OuterRef("pk")) | Q(load__step=OuterRef("pk")))
    if good is not None:
        reported = reported.filter(event__happened_at__gte=good.taken_at - _DAY)
    steps = Step.objects.filter(operation__in=_operations(step.site_id, plan.terms.test))
    steps = steps.exclude(pk=step.pk).exclude(state=StepState.WAITING).filter(Exists(reported))
    lock_batches(steps.values_list("batch_id", flat=True))
    named = steps.select_related("batch__part", "batch__lot", "batch__subject", "operation")
    return list(named.order_by("batch_id", "number"))
