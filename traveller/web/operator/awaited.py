"""What each task on the list waits for, in words: a time, a log, a count, a proof. A few queries for any number."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from traveller.batches.files.decoded import USABLE
from traveller.batches.models import Attachment, Load, Step, StepState
from traveller.batches.proof.load_counts import counted_loads
from traveller.batches.proof.stops import Stop
from traveller.batches.reads.queries import Task
from traveller.batches.usable import usable_to_start
from traveller.products.models import OperationKind
from traveller.rules.moments import later, on_clocks
from traveller.web.operator.deeds import load_seconds
from traveller.web.operator.proof import asks_log
from traveller.web.templatetags.look import moment_words
from traveller.web.words import say


def awaited(tasks: Sequence[Task], zone: ZoneInfo, now: datetime) -> dict[int, list[str]]:
    """Sentences by the id of the step; none where pieces simply wait to be worked on."""
    steps = [task.step for task in tasks]
    loads: dict[int, list[Load]] = defaultdict(list)
    for load in Load.objects.filter(step__in=steps, struck_by=None).order_by("number"):
        loads[load.step_id].append(load)
    ids = [load.pk for rows in loads.values() for load in rows]
    counted = counted_loads(ids)
    logs: set[tuple[int, int | None]] = set(
        Attachment.objects.filter(USABLE, step__in=steps, kind="log", struck_by=None).values_list("step_id", "load_id")
    )
    waiting = [step for step in steps if step.state == StepState.WAITING]
    stops = usable_to_start(waiting, on_clocks(now, zone).date())
    found: dict[int, list[str]] = {}
    for task in tasks:
        step = task.step
        words = _of_loads(step, loads[step.pk], counted, logs, zone, now)
        if stop := stops.get(step.pk):
            words.append(_stopped(stop))
        found[step.pk] = words
    return found


def _of_loads(
    step: Step,
    loads: Sequence[Load],
    counted: set[int],
    logs: set[tuple[int, int | None]],
    zone: ZoneInfo,
    now: datetime,
) -> list[str]:
    seconds, said = load_seconds(step), list[str]()
    wants_log = asks_log(step) and (step.pk, None) not in logs
    for load in loads:
        if load.ended_at is None:
            said.append(_until(step, load, seconds, zone, now))
        elif wants_log and (step.pk, load.pk) not in logs:
            said.append(_("waits for the log of load %(n)d") % {"n": load.number})
        elif step.operation.kind != OperationKind.PREPARE and load.quantity and load.pk not in counted:
            said.append(_("waits for the count of load %(n)d") % {"n": load.number})
    return said


def _until(step: Step, load: Load, seconds: int, zone: ZoneInfo, now: datetime) -> str:
    if not seconds:
        return _("load %(n)d is in") % {"n": load.number}
    until = later(load.started_at, timedelta(seconds=seconds))
    if until <= now:
        return _("load %(n)d: time is up") % {"n": load.number}
    local, today = on_clocks(until, zone), on_clocks(now, zone)
    shown = f"{local:%H:%M}" if local.date() == today.date() else moment_words(until)
    return _("%(verb)s until %(time)s") % {"verb": step.operation.verb, "time": shown}


def _stopped(stop: Stop) -> str:
    """What keeps a step from being started, as short as a list wants it."""
    if stop.code == "not_proved":
        return _("waits for the proof of step %(n)d, %(verb)s") % {
            "n": stop.figures["step"],
            "verb": stop.figures["verb"],
        }
    return say(stop.code, stop.figures)
