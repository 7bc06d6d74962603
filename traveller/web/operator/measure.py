"""Readings: what the checks of a step ask for, with the limit shown before typing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from traveller.batches.actions.measure import measure
from traveller.batches.models import Load, Step
from traveller.batches.papers import limit_texts
from traveller.batches.readings import ReadingTold
from traveller.journal.refusal import Refusal
from traveller.products.frozen import checks_of
from traveller.rules.checks.base import Question
from traveller.rules.checks.reading import ReadingParams, hint
from traveller.web.door import Asked, attempt, read_time
from traveller.web.operator.figures import read_measure
from traveller.web.operator.shop import at_work, page, site_of, step_here
from traveller.web.operator.telling import ask, note_of, retold, said_no, stamp_here, unanswered
from traveller.web.words import say

# What only the founder may say, and what the count itself tells, is not asked here.
NOT_HERE = ("approval", "every_piece")


@dataclass(frozen=True, slots=True)
class Wanted:
    """One field: which check asks it, in which words, for which cavity or piece; `per_load`: of each load."""

    check_key: str
    question: Question
    limits: str
    per_load: bool
    params: Any
    cavity: int | None = None
    piece: int | None = None

    @property
    def field(self) -> str:
        return f"r:{self.check_key}:{self.question.name}:{self.cavity or 0}:{self.piece or 0}"

    @property
    def prompt(self) -> str:
        words = say(self.question.prompt_code, {"name": self.question.name.capitalize()})
        if self.cavity and self.piece:
            return _("%(question)s Cavity %(n)d, piece %(piece)d") % {
                "question": words,
                "n": self.cavity,
                "piece": self.piece,
            }
        if self.cavity:
            return _("%(question)s Cavity %(n)d") % {"question": words, "n": self.cavity}
        if self.piece:
            return _("%(question)s Piece %(n)d") % {"question": words, "n": self.piece}
        return words


def wanted_readings(step: Step) -> list[Wanted]:
    found = []
    for plan in checks_of(step.operation_id):
        if plan.kind.name in NOT_HERE:
            continue
        limits = ", ".join(limit_texts(plan))
        for question in plan.kind.questions(plan.params):
            if _told_elsewhere(plan.kind.name, question):
                continue
            per_load = question.each == "load" or plan.scope == "load"
            cavities: list[int | None] = [None]
            if question.each == "cavity":
                cavities = list(range(1, (step.open_cavities or step.operation.cavities or 1) + 1))
            pieces: list[int | None] = [None] if question.count == 1 else list(range(1, question.count + 1))
            found += [
                Wanted(plan.key, question, _own_limits(question, limits), per_load, plan.params, cavity, piece)
                for cavity in cavities
                for piece in pieces
            ]
    return found


def _told_elsewhere(kind: str, question: Question) -> bool:
    """Times of loads and their logs are told with the load, lots used with the count; when a mix was made, here."""
    if kind == "age":
        return question.name == "lot"
    return question.kind in ("time", "log")


def _own_limits(question: Question, of_check: str) -> str:
    """A check that asks several things shows each its own limits."""
    if question.kind != "number" or (question.low is None and question.high is None):
        return of_check
    figures = {"low": question.low, "high": question.high, "unit": question.unit}
    if question.high is None:
        return _("%(low)s %(unit)s or more") % figures
    if question.low is None:
        return _("%(high)s %(unit)s or less") % figures
    return _("%(low)s to %(high)s %(unit)s") % figures


def shown_fields(
    request: HttpRequest, wanted: list[Wanted], wrong: Mapping[str, str] | None = None
) -> list[dict[str, Any]]:
    """The fields as the page draws them, with what was typed."""
    return [
        {
            "name": item.field,
            "id": f"id_r{place}",
            "prompt": item.prompt,
            "limits": item.limits,
            "unit": item.question.unit,
            "number": item.question.kind == "number",
            "time": item.question.kind == "time",
            "value": request.POST.get(item.field, ""),
            "error": (wrong or {}).get(item.field, ""),
        }
        for place, item in enumerate(wanted)
    ]


def read_answers(
    request: HttpRequest, wanted: list[Wanted], load: Load | None = None
) -> tuple[list[ReadingTold], dict[str, str]]:
    """The readings that were typed; fields left empty are simply not told yet."""
    told: list[ReadingTold] = []
    wrong: dict[str, str] = {}
    for item in wanted:
        text = request.POST.get(item.field, "").strip()[:60]
        if not text:
            continue
        value: str | None = text
        if item.question.kind == "number":
            value = read_measure(text)
        if value is None:
            wrong[item.field] = _("“%(text)s” is not a number. Type it like 12.7.") % {"text": text}
            continue
        if item.question.kind == "time":
            moment = read_time(text, site_of(request).zone)
            if moment is None:
                wrong[item.field] = say("time_unreadable", {"found": text})
                continue
            value = moment.isoformat()
        told.append(
            ReadingTold(
                check_key=item.check_key,
                name=item.question.name,
                value=value,
                unit=item.question.unit,
                load=load.uid if load else None,
                cavity=item.cavity,
                piece=item.piece,
            )
        )
    return told, wrong


def outside_limits(wanted: list[Wanted], told: list[ReadingTold]) -> list[Asked]:
    """A value beyond its limits is asked about once: a slip of the thumb must not hold a lot."""
    limits = {(item.check_key, item.question.name): item for item in wanted}
    for reading in told:
        item = limits[reading.check_key, reading.name]
        if item.question.kind != "number":
            continue
        if isinstance(item.params, ReadingParams):
            mixed_up = hint(item.params, Decimal(reading.value), reading.unit)
            if mixed_up:
                return [Asked(mixed_up[0], dict(mixed_up[1]))]
        value, low, high = Decimal(reading.value), item.question.low, item.question.high
        if (low is not None and value < Decimal(low)) or (high is not None and value > Decimal(high)):
            shown = f"{reading.value} {reading.unit}".strip()
            return [Asked("outside_limits", {"value": shown, "limits": item.limits})]
    return []


@at_work
def measure_step(request: HttpRequest, step_id: int) -> HttpResponse:
    """What is asked of the step, or with `load` of one of its loads; a load is chosen first where it must be."""
    step = step_here(request, step_id)
    every = wanted_readings(step)
    loads = list(Load.objects.filter(step=step, struck_by=None).order_by("number"))
    uid = request.POST.get("load") or request.GET.get("load") or ""
    load = next((one for one in loads if str(one.uid) == uid), None)
    wanted = [item for item in every if item.per_load == (load is not None)]
    if not wanted and load is None and len(loads) == 1:
        load, wanted = loads[0], every
    context: dict[str, Any] = {
        "step": step,
        "batch": step.batch,
        "load": load,
        "fields": shown_fields(request, wanted),
        "loads": loads if load is None and any(item.per_load for item in every) else [],
    }
    if request.method != "POST" or said_no(request):
        return page(request, "measure.html", context)
    told, wrong = read_answers(request, wanted, load)
    if not told and not wrong:
        wrong["none"] = _("Nothing was typed. Type at least one value.")
    if wrong:
        context["fields"] = shown_fields(request, wanted, wrong)
        return page(request, "measure.html", {**context, "wrong": wrong}, status=422)
    stamp = stamp_here(request)
    if isinstance(stamp, Refusal):
        return page(request, "measure.html", context, refusal=stamp)
    asked = unanswered(request, [] if retold(request) else outside_limits(wanted, told))
    if asked:
        return ask(request, asked, context, _("Outside, the lot is held until the maker decides."))
    answer = attempt(measure, stamp=stamp, step_id=step.pk, readings=told, note=note_of(request))
    if isinstance(answer, Refusal):
        return page(request, "measure.html", context, refusal=answer)
    return redirect("here_told", answer.event.uid)
