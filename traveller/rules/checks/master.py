"""Was the tester good? What a test master, tried at the start and the end of each shift, says of pieces tested.

The test master (a known leak) belongs to the tester, not to a batch: a try that failed makes suspect what was tested
on it between the last good try before and the next good try after, in any batch. A count says when it was told, not
when each piece was tested: its pieces may have been tested at any time since the telling before it, so a count that
reaches into that time is suspect as a whole.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from traveller.rules.checks.base import CheckFigure, CheckVerdict, Evidence, ReadingEvidence, TestedEvidence, elapsed
from traveller.rules.shift_periods import Period

__all__ = ["GRACE", "MASTER", "WORDS", "judge_master"]

MASTER = "master"
# "Start" is tapped when work begins, and the last count is typed when it ends: the test master is tried within these
# minutes (common practice, no source).
GRACE = timedelta(minutes=15)

WORDS = {
    "every_piece.master_failed": "{name}: the known leak was not found at {failed_at}, last found at {since}. "
    "Suspect are {suspect} pieces of {tellings} counts, tested between {suspect_from} and {suspect_to}.",
    "every_piece.master_failed_from_start": "{name}: the known leak was not found at {failed_at} and never before. "
    "Suspect are {suspect} pieces of {tellings} counts, tested between {suspect_from} and {suspect_to}.",
    "every_piece.master_failed_in_loads": "{name}: the known leak was not found at {failed_at}, last found at {since}. "
    "Suspect are {suspect} pieces of load {loads}, tested between {suspect_from} and {suspect_to}.",
    "every_piece.no_master": "{name}: the tester was not tried on the known leak.",
    "every_piece.no_master_in_shift": "{name}: in the shift from {shift} the tester was not tried on the known leak; "
    "{pieces} pieces were tested in it.",
    "every_piece.no_master_at_start": "{name}: the tester was tried on the known leak only at {first}, "
    "after the first pieces ({started}).",
    "every_piece.no_master_at_end": "{name}: the tester was not tried on the known leak at the end of the shift; "
    "last at {last}.",
}


_MOMENT = timedelta(seconds=1)
_Span = tuple[datetime, datetime]


@dataclass(frozen=True, slots=True)
class _Bad:
    """The time in which the tester may have missed leaks: from the last good try to the next one."""

    failed_at: datetime
    since: datetime | None
    until: datetime | None

    def touches(self, begun: datetime, ended: datetime, worked: Sequence[_Span]) -> bool:
        """Whether some of it lies in both: what was tested from `begun` to `ended`, and time that was worked."""
        froms = [_utc(begun), *([_utc(self.since)] if self.since else [])]
        tos = [_utc(ended), *([_utc(self.until)] if self.until else [])]
        return any(max(*froms, start) < min(*tos, end) for start, end in worked)


_Touched = tuple[_Bad, list[TestedEvidence]]


def judge_master(evidence: Evidence, figures: dict[str, CheckFigure]) -> CheckVerdict | None:
    """None where the test master was found whenever it had to be, or where nothing was tested yet."""
    tries = sorted(evidence.tries or evidence.named(MASTER), key=lambda one: one.taken_at.timestamp())
    if not tries:
        return CheckVerdict("missing", "every_piece.no_master", figures)
    tested = _tested(evidence, tries)
    if found := _suspect(evidence, tries, tested):
        return _reported(found, figures)
    return _uncovered(evidence.periods, tries, tested, figures)


def _found(one: ReadingEvidence) -> bool:
    """A try that said nothing readable proves nothing, which is the same as a failed one for what went before."""
    return one.number == 1


def _utc(moment: datetime) -> datetime:
    return moment.astimezone(UTC)


def _tested(evidence: Evidence, tries: Sequence[ReadingEvidence]) -> list[TestedEvidence]:
    """What was tested when; where nobody knows, all that was counted may have been tested at any time."""
    if evidence.tested or not evidence.counts.counted:
        return list(evidence.tested)
    begun = evidence.started_at or tries[0].taken_at
    return [TestedEvidence(begun, max(begun, tries[-1].taken_at, key=datetime.timestamp), evidence.counts.counted)]


def _bad_times(tries: Sequence[ReadingEvidence]) -> Iterator[_Bad]:
    since: datetime | None = None
    failed: datetime | None = None
    for one in tries:
        if not _found(one):
            failed = failed or one.taken_at
            continue
        if failed is not None:
            yield _Bad(failed, since, one.taken_at)
            failed = None
        since = one.taken_at
    if failed is not None:
        yield _Bad(failed, since, None)


def _after_first_try(begun: datetime, good: Sequence[datetime]) -> datetime:
    """Work opens with the test master: no piece is tested before the good try that comes right with its start."""
    opening = next((at for at in good if abs(elapsed(begun, at)) <= GRACE), begun)
    return max(_utc(begun), _utc(opening))


def _before_last_try(end: datetime, tries: Sequence[ReadingEvidence]) -> datetime:
    """Work closes with it, too: none is tested after the good try that comes right with its end."""
    closing = [one for one in tries if abs(elapsed(end, one.taken_at)) <= GRACE]
    return min(_utc(end), _utc(closing[-1].taken_at)) if closing and _found(closing[-1]) else _utc(end)


def _worked(
    periods: Sequence[Period], tries: Sequence[ReadingEvidence], tested: Sequence[TestedEvidence]
) -> list[_Span]:
    """When pieces may have been tested: in shifts, and as far beyond them as anything was told of."""
    if not periods:
        return [(_utc(datetime.min.replace(tzinfo=UTC)), _utc(datetime.max.replace(tzinfo=UTC)))]
    good = [one.taken_at for one in tries if _found(one)]
    moments = [one.taken_at for one in tries] + [at for one in tested for at in (one.since, one.until) if at]
    found = []
    for period in periods:
        own = [_utc(moment) for moment in moments if period.holds(moment)]
        end = max([period.end, *own])
        found.append((_after_first_try(min([period.start, *own]), good), _before_last_try(end, tries)))
    return found


def _begun(one: TestedEvidence, good: Sequence[datetime]) -> datetime:
    if one.since is None:
        return _utc(one.until) - _MOMENT
    begun = _after_first_try(one.since, good) if one.opens else _utc(one.since)
    return min(begun, _utc(one.until) - _MOMENT)


def _suspect(evidence: Evidence, tries: Sequence[ReadingEvidence], tested: Sequence[TestedEvidence]) -> list[_Touched]:
    """What was tested while the tester may have missed leaks; every time counts, a later good try heals none."""
    good = [one.taken_at for one in tries if _found(one)]
    worked = _worked(evidence.periods, tries, tested)
    found = []
    for bad in _bad_times(tries):
        touched = [one for one in tested if bad.touches(_begun(one, good), one.until, worked)]
        if touched:
            found.append((bad, touched))
    return found


def _reported(found: Sequence[_Touched], figures: dict[str, CheckFigure]) -> CheckVerdict:
    """The first time that matters, and all that is suspect: how many, in which counts or loads, between when."""
    first = found[0][0]
    suspects = list(dict.fromkeys(one for _, touched in found for one in touched))
    loads = sorted({one.load for one in suspects if one.load is not None})
    reported: dict[str, CheckFigure] = {
        **figures,
        "failed_at": first.failed_at.isoformat(),
        "suspect": sum(one.pieces for one in suspects),
        "tellings": len(suspects),
        "suspect_from": min((one.since or one.until for one in suspects), key=datetime.timestamp).isoformat(),
        "suspect_to": max((one.until for one in suspects), key=datetime.timestamp).isoformat(),
        "loads": [str(number) for number in loads],
    }
    if first.since is None:
        return CheckVerdict("failed", "every_piece.master_failed_from_start", reported)
    reported["since"] = first.since.isoformat()
    in_loads = loads and all(one.load is not None for one in suspects)
    return CheckVerdict(
        "failed", "every_piece.master_failed_in_loads" if in_loads else "every_piece.master_failed", reported
    )


def _uncovered(
    periods: Sequence[Period],
    tries: Sequence[ReadingEvidence],
    tested: Sequence[TestedEvidence],
    figures: dict[str, CheckFigure],
) -> CheckVerdict | None:
    """The first shift in which pieces were tested without a good try at its start and another at its end."""
    good = [one.taken_at for one in tries if _found(one)]
    if not tested:
        return None
    if not periods:
        return _lacks(None, good, tested, figures)
    for period in periods:
        own = [one for one in tested if period.holds(_reported_of(one))]
        found = _lacks(period, good, own, figures) if own else None
        if found:
            return found
    return None


def _reported_of(one: TestedEvidence) -> datetime:
    """A moment at which its pieces were tested: what is counted right after the change of shifts was before it."""
    latest = one.until - GRACE
    return max(_utc(latest), _begun(one, ())) if one.since else _utc(one.until)


def _lacks(
    period: Period | None, good: Sequence[datetime], own: Sequence[TestedEvidence], figures: dict[str, CheckFigure]
) -> CheckVerdict | None:
    """What is missing of one shift; a try at the change of shifts ends one and starts the other."""
    if period is not None:
        good = [
            at for at in good if elapsed(period.from_ - GRACE, at) >= timedelta() <= elapsed(at, period.until + GRACE)
        ]
    if not good:
        if period is None:
            return CheckVerdict("missing", "every_piece.no_master", figures)
        reported: dict[str, CheckFigure] = {
            **figures,
            "shift": period.start.isoformat(),
            "pieces": sum(t.pieces for t in own),
        }
        return CheckVerdict("missing", "every_piece.no_master_in_shift", reported)
    first = min(own, key=lambda one: (one.since or one.until).timestamp())
    begun = first.since or first.until
    if period is not None and begun < period.from_:
        # Begun on an earlier shift: nobody knows when it went on, at the latest when it was counted.
        begun = first.until
    if elapsed(begun + GRACE, good[0]) > timedelta():
        return CheckVerdict(
            "missing",
            "every_piece.no_master_at_start",
            {**figures, "first": good[0].isoformat(), "started": begun.isoformat()},
        )
    ended = max(own, key=lambda one: one.until.timestamp()).until
    if len(good) < 2 or elapsed(good[-1], ended - GRACE) > timedelta():
        return CheckVerdict("missing", "every_piece.no_master_at_end", {**figures, "last": good[-1].isoformat()})
    return None
