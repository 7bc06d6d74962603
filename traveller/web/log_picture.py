"""From a log and the checks of its step to the picture and the table beside it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from django.db.models import Q
from django.utils import formats, timezone
from django.utils.translation import gettext as _

from traveller.batches.models import Attachment, AttachmentKind, Load, Step, Verdict
from traveller.batches.proof.cores import cores_for
from traveller.products.frozen import CheckPlan, checks_of
from traveller.rules.checks.base import LoadEvidence
from traveller.rules.checks.degrees import as_celsius
from traveller.rules.checks.kind import Computed
from traveller.rules.checks.logged import gap_allowed
from traveller.rules.cure import Rate, equivalent_minutes
from traveller.rules.logs import Log
from traveller.rules.moments import on_clocks
from traveller.rules.soak import Trace, part_of, trace
from traveller.web.pictures.log_chart import LimitDrawn, LogChart, Moment, Span, Words
from traveller.web.templatetags.look import moment_words
from traveller.web.words import limit_words, say

# Readings in the table: enough to follow the curve by, few enough to read.
_ROWS = 20
GAPS_SHOWN = 12
# A log of a whole shift is cut to the load it was sent for, with as much before and behind again.
_LONGER = 4


@dataclass(frozen=True, slots=True)
class _Row:
    """A reading of the table, with why it stands there where it is no regular one."""

    words_at: str
    celsius: str
    words: str = ""
    middle: str = ""


@dataclass(frozen=True)
class Shown:
    """All that a page needs beside the file itself."""

    chart: LogChart
    rows: list[_Row]
    verdicts: list[Verdict]
    plans: list[CheckPlan]
    # By what the middle was computed, once where it is the same for several loads.
    models: list[str]
    model_notes: frozenset[str]

    @property
    def limits(self) -> list[tuple[str, str]]:
        """Each check with its limits in words."""
        return [(plan.key.replace("-", " "), limit_words(plan)) for plan in self.plans]


def log_plans(step: Step) -> list[CheckPlan]:
    """The checks of a step that are judged by a log."""
    return [plan for plan in checks_of(step.operation_id) if "log" in plan.kind.needs]


def loads_in(found: Attachment) -> list[Load]:
    """The load that a log was sent for, or all of its step, those that were split off since too."""
    if found.load:
        return [found.load]
    family = Q(step=found.step_id) | Q(step__batch__parent=found.step.batch_id, step__number=found.step.number)
    return list(Load.objects.filter(family, struck_by=found.struck_by_id).order_by("started_at", "number"))


def verdicts_of(found: Attachment, plans: Sequence[CheckPlan], loads: Sequence[Load]) -> list[Verdict]:
    """What the checks say now of what the log was sent for."""
    keys = [plan.key for plan in plans]
    rows = Verdict.objects.filter(check_key__in=keys, latest=True).select_related("load", "step__batch")
    return list(rows.filter(load__in=loads).order_by("load__number", "id"))


def log_shown(found: Attachment, log: Log, zone: ZoneInfo) -> Shown:
    """The picture, the table and the verdicts; times on the site's clock."""
    with timezone.override(zone):
        loads, plans = loads_in(found), log_plans(found.step)
        log = _cut(log, loads)
        verdicts = verdicts_of(found, plans, loads)
        heats = [plan.heat for plan in plans if plan.heat is not None]
        longest = min((gap_allowed(log, heat.gap, heat.proves_s) for heat in heats if heat.gap), default=None)
        # Where no check says what it allows, twice and a half the usual pause is one worth seeing.
        allowed = longest if longest is not None else 2.5 * max(log.said.interval_s, 1.0)
        whole = trace(log.times, log.celsius, allowed)
        reached, reached_words, cured = _reached(plans, loads, whole, verdicts)
        middles = middles_of(found, log, loads, plans)
        chart = LogChart(
            seconds=log.times.tolist(),
            celsius=log.celsius.tolist(),
            sentence=_sentence(found, log, verdicts),
            limits=tuple(limit for plan in plans for limit in _limits(plan)),
            moments=(*_moments(_near(loads, log), many=len(loads) > 1), *cured),
            reached=tuple(reached),
            reached_words=reached_words,
            gaps=tuple(Span(a, b, _("nothing read for %(long)s") % {"long": _long(b - a)}) for a, b in whole.gaps),
            verdict=" ".join(words_without(row) for row in verdicts),
            zone=zone,
            words=chart_words(),
            middles=tuple(list(zip(one.seconds.tolist(), one.celsius.tolist(), strict=True)) for one in middles),
            middle_words=_("middle of a part, computed") if middles else "",
        )
        models = dict.fromkeys(_model(one) for one in middles)
        notes = frozenset(code for one in middles for code in one.notes)
        return Shown(chart, _rows(log, whole, middles), verdicts, plans, list(models), notes)


def words_without(row: Verdict, notes: Collection[str] | None = None) -> str:
    """A verdict without the sentences behind it that stand beside it anyway: these notes, or all."""
    left = [] if notes is None else [code for code in row.figures.get("notes", ()) if code not in notes]
    return say(row.code, {**row.figures, "notes": left})


def chart_words() -> Words:
    """The drawing's words in the reader's language."""
    return Words(
        degrees="°C",
        silent=_("nothing read"),
        clock=lambda at: formats.date_format(at, "H:i"),
        # Translators: a day; Django date format letters.
        day=lambda at: formats.date_format(at, _("j M")),
    )


def _cut(log: Log, loads: Sequence[Load]) -> Log:
    """Of a log many times as long as its one load, the part around that load; else all of it."""
    if len(loads) != 1 or loads[0].ended_at is None:
        return log
    start, end = loads[0].started_at.timestamp(), loads[0].ended_at.timestamp()
    lasted = max(end - start, 1.0)
    if float(log.times[-1] - log.times[0]) <= _LONGER * lasted:
        return log
    kept = (log.times >= start - lasted) & (log.times <= end + lasted)
    return Log(log.times[kept], log.celsius[kept], log.said, log.faults, log.answers) if kept.sum() > 1 else log


def _near(loads: Sequence[Load], log: Log) -> list[Load]:
    """Loads that the log is about: one of another day would leave nothing of the line to see."""
    first, last = float(log.times[0]), float(log.times[-1])
    wide = last - first
    return [
        load
        for load in loads
        if load.started_at.timestamp() <= last + wide
        and (load.ended_at is None or load.ended_at.timestamp() >= first - wide)
    ]


def middles_of(found: Attachment, log: Log, loads: Sequence[Load], plans: Sequence[CheckPlan]) -> list[Computed]:
    """How hot it was in the middle of a part, load by load, as the checks that judge it compute it."""
    asked = [plan.heat.middle for plan in plans if plan.heat is not None and plan.heat.middle is not None]
    if not asked or found.kind != AttachmentKind.LOG:
        return []
    cores = cores_for(found.step, loads)
    known = [
        LoadEvidence(load.number, load.quantity, load.started_at, load.ended_at, log=log, core=cores.get(load.pk))
        for load in loads
    ]
    computed = (middle(load) for load in known for middle in asked[:1])
    return [one for one in computed if one is not None]


def _model(one: Computed) -> str:
    """In words: from where, by which figures."""
    first, *rest = one.notes
    return say(first, {**one.figures, "notes": rest})


def _limits(plan: CheckPlan) -> list[LimitDrawn]:
    if plan.heat is None:
        return []
    hot, most, unit = plan.heat.limits.least, plan.heat.limits.most, plan.heat.limits.unit
    found = []
    if hot is not None:
        words = _("%(t)s or more") if plan.heat.rate is None else _("reference %(t)s")
        found.append(LimitDrawn(as_celsius(hot, unit), words % {"t": _degrees(hot, unit)}))
    if most is not None:
        words = _("never above %(t)s") % {"t": _degrees(most, unit)}
        found.append(LimitDrawn(as_celsius(most, unit), words, never_above=True))
    return found


def _degrees(number: Any, unit: str) -> str:
    return f"{number:f} °{unit}"


def _moments(loads: Sequence[Load], *, many: bool) -> list[Moment]:
    found = []
    for load in loads:
        for at, words in ((load.started_at, _("in %(at)s")), (load.ended_at, _("out %(at)s"))):
            if at is not None:
                said = words % {"at": formats.date_format(on_clocks(at, timezone.get_current_timezone()), "H:i")}
                found.append(Moment(at.timestamp(), f"{load.number}: {said}" if many else said))
    return found


def _reached(
    plans: Sequence[CheckPlan], loads: Sequence[Load], whole: Trace, verdicts: Sequence[Verdict]
) -> tuple[list[Span], str, list[Moment]]:
    """When it was hot enough for a soak, within each load's own times; when a cure was worth enough."""
    spans: list[Span] = []
    words, cured = "", []
    for load in loads:
        if load.ended_at is None:
            continue
        part = part_of(whole, load.started_at.timestamp(), load.ended_at.timestamp())
        if part is None:
            continue
        for plan in plans:
            if plan.heat is None or plan.heat.limits.least is None:
                continue
            hot, unit = plan.heat.limits.least, plan.heat.limits.unit
            if plan.heat.rate is None:
                spans += spans_above(part, as_celsius(hot, unit))
                warm = _degrees(hot, unit)
                words = _("%(long)s at %(t)s or more") % {"long": _long(sum(s.end - s.start for s in spans)), "t": warm}
            else:
                needed = next((v.figures.get("least_minutes") for v in verdicts if v.check_key == plan.key), None)
                cured += _cured(plan.heat.rate, part, float(needed)) if needed else []
    return spans, words, cured


def spans_above(part: Trace, hot: float) -> list[Span]:
    """From and to when it was at least so hot, the line straight between readings; a gap ends a span."""
    found: list[list[float]] = []
    rows = list(zip(part.seconds.tolist(), part.celsius.tolist(), strict=True))
    for ((a, low), (b, high)), live in zip(pairwise(rows), part.live.tolist(), strict=True):
        if not live or max(low, high) < hot:
            continue
        cross = a + (b - a) * (hot - low) / (high - low) if high != low else a
        start, end = (a if low >= hot else cross), (b if high >= hot else cross)
        if found and start <= found[-1][1] + 1e-6:
            found[-1][1] = end
        else:
            found.append([start, end])
    return [Span(start, end) for start, end in found if end > start]


def _cured(rate: Rate, part: Trace, needed: float) -> list[Moment]:
    """The first reading by which the face was worth enough."""
    if needed <= 0:
        return []
    live = part.live

    def worth(rows: int) -> float:
        return equivalent_minutes(part.seconds[:rows], part.celsius[:rows], rate, live[: rows - 1])

    low, high = 1, int(part.seconds.size)
    if worth(high) < needed:
        return []
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if worth(middle) >= needed else (middle + 1, high)
    at = float(part.seconds[low - 1])
    when = formats.date_format(on_clocks(datetime.fromtimestamp(at, UTC), timezone.get_current_timezone()), "H:i")
    return [Moment(at, _("worth %(n)s min %(at)s") % {"n": f"{needed:g}", "at": when})]


def _rows(log: Log, whole: Trace, middles: Sequence[Computed]) -> list[_Row]:
    """Every nth reading, the extremes, and where nothing was read; beside it the middle, where it was computed."""
    count = int(log.times.size)
    wanted = {*range(0, count, max(1, -(-count // _ROWS))), count - 1}
    lowest, highest = int(np.argmin(log.celsius)), int(np.argmax(log.celsius))
    notes = {lowest: _("lowest"), highest: _("highest")}
    for start, end in whole.gaps[:GAPS_SHOWN]:
        place = int(np.searchsorted(log.times, start))
        notes[place] = _("then nothing read for %(long)s") % {"long": _long(end - start)}
    return [
        _Row(
            moment_words(datetime.fromtimestamp(float(log.times[n]), UTC)),
            formats.number_format(round(float(log.celsius[n]), 1), 1),
            notes.get(n, ""),
            _middle_at(middles, float(log.times[n])),
        )
        for n in sorted(wanted | set(notes))
    ]


def _middle_at(middles: Sequence[Computed], second: float) -> str:
    for one in middles:
        if one.seconds[0] <= second <= one.seconds[-1]:
            return formats.number_format(round(float(np.interp(second, one.seconds, one.celsius)), 1), 1)
    return ""


def _sentence(found: Attachment, log: Log, verdicts: Sequence[Verdict]) -> str:
    figures = {
        "name": found.name,
        "first": moment_words(log.started_at),
        "last": moment_words(log.ended_at),
        "low": f"{float(log.celsius.min()):.1f}",
        "high": f"{float(log.celsius.max()):.1f}",
    }
    words = _("Temperatures of %(name)s from %(first)s to %(last)s: %(low)s to %(high)s °C.") % figures
    return " ".join([words, *(say(row.code, row.figures) for row in verdicts)])


def _long(seconds: float) -> str:
    """A length of time as people say it."""
    if seconds < 120:
        return _("%(n)s s") % {"n": f"{seconds:.0f}"}
    if seconds < 7200:
        return _("%(n)s min") % {"n": f"{seconds / 60:.1f}".removesuffix(".0")}
    return _("%(n)s h") % {"n": f"{seconds / 3600:.1f}".removesuffix(".0")}
