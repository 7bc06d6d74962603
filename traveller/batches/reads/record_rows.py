"""A step's part of the process record: what was counted, loaded, measured, judged and sent, oldest first."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from django.utils import timezone

from traveller.batches.files.decoded import PRINTED_PX, BeingRead, log_of, pages_of, photo_of
from traveller.batches.history.step_law import StepAccount
from traveller.batches.models import Attachment, AttachmentKind, Count, Load, Reading, Step, Verdict
from traveller.batches.reads.papers import limit_texts
from traveller.journal.models import Event
from traveller.paper.log_picture import LogPicture
from traveller.paper.process_record import CheckedLine, FileRow, LoadRow, ReadingRow, StepRecord
from traveller.products.frozen import CheckPlan, checks_of
from traveller.products.models import OperationKind
from traveller.rules.checks.limits import in_unit
from traveller.rules.logs import Log, NotALog, Unclear
from traveller.rules.moments import on_clocks

DIGEST_SHOWN = 10
BUCKETS = 160
# Readings further apart than this many intervals are a gap: no line is drawn across.
GAP_INTERVALS = 3.0
VERDICTS = {"passed": "passed", "failed": "FAILED", "missing": "not shown"}


@dataclass(frozen=True)
class Voice:
    """How codes and logs become sentences: the words belong to whoever prints."""

    say: Callable[[str, Mapping[str, Any]], str]
    understood: Callable[[Log, ZoneInfo], str]


@dataclass
class _Told:
    """All rows of a batch by step, read once."""

    counts: dict[int, list[Count]] = field(default_factory=lambda: defaultdict(list))
    loads: dict[int, list[Load]] = field(default_factory=lambda: defaultdict(list))
    readings: dict[int, list[Reading]] = field(default_factory=lambda: defaultdict(list))
    verdicts: dict[int, list[Verdict]] = field(default_factory=lambda: defaultdict(list))
    files: dict[int, list[Attachment]] = field(default_factory=lambda: defaultdict(list))


def reported_of(batch_id: int) -> _Told:
    """Five queries for any number of steps."""
    reported = _Told()
    own = {"step__batch": batch_id}
    for count in Count.objects.filter(**own).select_related("event").order_by("id"):
        reported.counts[count.step_id].append(count)
    for load in Load.objects.filter(**own).select_related("struck_by").order_by("number"):
        reported.loads[load.step_id].append(load)
    for reading in (
        Reading.objects.filter(**own).select_related("event", "load", "struck_by").order_by("taken_at", "id")
    ):
        reported.readings[reading.step_id].append(reading)
    for verdict in Verdict.objects.filter(**own).select_related("load", "conceded_event").order_by("id"):
        reported.verdicts[verdict.step_id].append(verdict)
    files = Attachment.objects.filter(**own).select_related("event", "load", "struck_by", "file").defer("file__content")
    for file in files.order_by("id"):
        reported.files[file.step_id].append(file)
    return reported


def step_record(account: StepAccount, reported: _Told, voice: Voice) -> StepRecord:
    step = account.step
    zone = step.site.zone
    plans = checks_of(step.operation_id)
    limits = {plan.key: ", ".join(limit_texts(plan)) for plan in plans}
    events = [row.event for row in reported.counts[step.pk]]
    events += [row.event for row in reported.readings[step.pk]] + [row.event for row in reported.files[step.pk]]
    with timezone.override(zone):
        return StepRecord(
            number=step.number,
            verb=step.operation.verb,
            site=step.site.name,
            zone=step.site.timezone,
            reported_by=tuple(dict.fromkeys(by(event) for event in sorted(events, key=lambda event: event.pk))),
            started_at=step.started_at and on_clocks(step.started_at, zone),
            done_at=step.done_at and on_clocks(step.done_at, zone),
            counts=_counts(account, reported.counts[step.pk]),
            loads=tuple(_load(row, zone) for row in reported.loads[step.pk]),
            readings=tuple(_reading(row, limits.get(row.check_key, ""), zone) for row in reported.readings[step.pk]),
            checks=tuple(_checks(plans, reported.verdicts[step.pk], limits, voice)),
            files=tuple(_file(row, plans, zone, voice) for row in reported.files[step.pk]),
        )


def by(event: Event) -> str:
    return f"{event.person}, by phone" if event.on_behalf else event.person


def why_struck(event: Event | None) -> str:
    """Why a row counts no longer, in the words of the decision where there was one."""
    if event is None:
        return ""
    reason = event.data.get("told", {}).get("reason")
    return f"struck: {reason}" if reason else "struck: a later one took its place"


def _counts(account: StepAccount, rows: Sequence[Count]) -> tuple[tuple[str, str], ...]:
    step = account.step
    if step.operation.kind == OperationKind.PREPARE:
        return ()
    reasons: dict[str, int] = defaultdict(int)
    for row in rows:
        for reason, pieces in row.by_reason.items() if not row.again else ():
            reasons[reason] += pieces
    why = ", ".join(f"{reason} {pieces:,}" for reason, pieces in reasons.items() if pieces)
    found = [
        ("in", f"{account.arrived:,}"),
        ("good", f"{step.good:,}"),
        ("scrap", f"{step.scrap:,} ({why})" if why and step.scrap else f"{step.scrap:,}"),
        ("rework", f"{step.rework:,}"),
        ("samples", f"{step.samples:,}"),
    ]
    more = (
        ("good after rework", step.again_good),
        ("scrap after rework", step.again_scrap),
        ("still here", account.here),
        ("set apart", account.set_apart),
        ("decided otherwise", account.decided),
        ("unexplained", account.unexplained),
        ("shots", step.shots),
    )
    return (*found, *((label, f"{pieces:,}") for label, pieces in more if pieces))


def _load(row: Load, zone: ZoneInfo) -> LoadRow:
    late = f"told late: {row.late_reason}" if row.late_reason else ""
    return LoadRow(
        row.number,
        row.quantity,
        row.place,
        on_clocks(row.started_at, zone),
        row.ended_at and on_clocks(row.ended_at, zone),
        "; ".join(part for part in (late, why_struck(row.struck_by)) if part),
        row.struck_by_id is not None,
    )


def _of(row: Reading | Verdict | Attachment) -> str:
    return f"load {row.load.number}" if row.load else "whole step"


def _reading(row: Reading, limit: str, zone: ZoneInfo) -> ReadingRow:
    places = (("load", row.load.number if row.load else None), ("cavity", row.cavity), ("piece", row.piece))
    name = " ".join([row.name, *(f"{word} {number}" for word, number in places if number is not None)])
    value = f"{row.value} {row.unit}".strip()
    return ReadingRow(name, value, limit, by(row.event), on_clocks(row.taken_at, zone), why_struck(row.struck_by))


def _checks(
    plans: Iterable[CheckPlan], rows: Sequence[Verdict], limits: Mapping[str, str], voice: Voice
) -> Iterable[CheckedLine]:
    """Every check: verdicts that stand, failures that a later verdict replaced, and that nothing was judged."""
    for plan in plans:
        name = plan.key.replace("-", " ") + ("" if plan.is_gate else " (advice)")
        own = [row for row in rows if row.check_key == plan.key and (row.latest or row.outcome == "failed")]
        own.sort(key=lambda row: (row.load.number if row.load else 0, row.pk))
        for row in own:
            notes = [] if row.latest else ["an earlier verdict"]
            if row.conceded_event:
                reason = row.conceded_event.data.get("told", {}).get("reason", "")
                notes.append(f"conceded by {by(row.conceded_event)}: {reason}")
            figures = voice.say(row.code, row.figures)
            verdict = VERDICTS.get(row.outcome, row.outcome)
            yield CheckedLine(name, _of(row), verdict, figures, limits[plan.key], "; ".join(notes), not row.latest)
        if not any(row.latest for row in own):
            yield CheckedLine(name, "whole step", "not judged", "Nothing was recorded.", limits[plan.key])


def _file(row: Attachment, plans: Sequence[CheckPlan], zone: ZoneInfo, voice: Voice) -> FileRow:
    understood, picture = "", None
    if row.is_log:
        found = log_of(row)
        if isinstance(found, Log):
            understood, picture = voice.understood(found, zone), picture_of(found, row.load, plans, zone)
        else:
            understood = _not_read(found, voice)
    pages = pages_of(row)
    return FileRow(
        AttachmentKind(row.kind).label,
        row.name,
        _of(row),
        row.file_id[:DIGEST_SHOWN],
        by(row.event),
        on_clocks(row.event.happened_at, zone),
        understood or pages.note,
        why_struck(row.struck_by),
        picture,
        row.file_id,
        photo_of(row, PRINTED_PX),
        pages.pictures,
    )


def _not_read(found: Unclear | NotALog | BeingRead, voice: Voice) -> str:
    words = voice.say(found.code, found.figures)
    return f"Not read yet: {words}" if isinstance(found, Unclear | BeingRead) else words


def picture_of(log: Log, load: Load | None, plans: Sequence[CheckPlan], zone: ZoneInfo) -> LogPicture:
    """The log with lowest and highest of each of BUCKETS stretches kept, so that no peak is lost."""
    first = float(log.times[0])
    window = None
    if load is not None and load.ended_at is not None:
        window = (load.started_at.timestamp() - first, load.ended_at.timestamp() - first)
    return LogPicture(
        start=on_clocks(log.started_at, zone),
        seconds=float(log.times[-1]) - first,
        lines=tuple(_lines(log, first)),
        limits=tuple(limit for plan in plans for limit in _limits_c(plan)),
        load=window,
    )


def _lines(log: Log, first: float) -> Iterable[tuple[tuple[float, float], ...]]:
    seconds, celsius = log.times - first, log.celsius
    breaks = np.flatnonzero(np.diff(seconds) > GAP_INTERVALS * max(log.said.interval_s, 1.0)) + 1
    for part in np.split(np.arange(seconds.size), breaks):
        share = max(2, round(BUCKETS * part.size / seconds.size))
        kept: set[int] = {int(part[0]), int(part[-1])}
        for bucket in np.array_split(part, min(share, part.size)):
            kept |= {int(bucket[celsius[bucket].argmin()]), int(bucket[celsius[bucket].argmax()])}
        yield tuple((float(seconds[at]), float(celsius[at])) for at in sorted(kept))


def _limits_c(plan: CheckPlan) -> Iterable[tuple[str, float]]:
    """A check's temperatures, for what has any: dashed in the picture."""
    if plan.heat is None:
        return
    found = plan.heat.limits
    for word, value in (("least", found.least), ("most", found.most)):
        c = None if value is None else in_unit(Decimal(value), found.unit, "C")
        if c is not None:
            yield f"{word} {float(c):g} °C", float(c)


def steps_of(batch_id: int) -> list[Step]:
    return list(Step.objects.filter(batch=batch_id).select_related("operation", "site").order_by("number"))
