"""Readings: what the checks of a step ask for, with the limit shown before typing."""

from __future__ import annotations

from dataclasses import dataclass
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
from traveller.web.door import attempt, stamp_from
from traveller.web.operator.figures import read_measure
from traveller.web.operator.shop import actor_of, at_work, page, site_of, step_here
from traveller.web.words import say

# What only the founder may say, and what the count itself tells, is not asked here.
NOT_HERE = ("approval", "every_piece")


@dataclass(frozen=True, slots=True)
class Wanted:
    """One field: which check asks it, in which words, for which cavity or piece."""

    check_key: str
    question: Question
    limits: str
    cavity: int | None = None
    piece: int | None = None

    @property
    def field(self) -> str:
        return f"r:{self.check_key}:{self.question.name}:{self.cavity or 0}:{self.piece or 0}"

    @property
    def prompt(self) -> str:
        words = say(self.question.prompt_code, {"name": self.question.name})
        if self.cavity:
            words = _("%(question)s Cavity %(n)d") % {"question": words, "n": self.cavity}
        if self.piece:
            words = _("%(question)s, piece %(n)d") % {"question": words, "n": self.piece}
        return words


def wanted_readings(step: Step) -> list[Wanted]:
    found = []
    for plan in checks_of(step.operation_id):
        if plan.kind.name in NOT_HERE:
            continue
        limits = ", ".join(limit_texts(plan))
        for question in plan.kind.questions(plan.params):
            if question.kind == "time":
                continue
            cavities: list[int | None] = [None]
            if question.each == "cavity":
                cavities = list(range(1, (step.open_cavities or step.operation.cavities or 1) + 1))
            pieces: list[int | None] = [None] if question.count == 1 else list(range(1, question.count + 1))
            found += [
                Wanted(plan.key, question, limits, cavity, piece) for cavity in cavities for piece in pieces
            ]
    return found


def read_answers(
    request: HttpRequest, wanted: list[Wanted], load: Load | None = None
) -> tuple[list[ReadingTold], dict[str, str]]:
    """The readings that were typed; fields left empty are simply not told yet."""
    told, wrong = [], {}
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


@at_work
def measure_step(request: HttpRequest, step_id: int) -> HttpResponse:
    step = step_here(request, step_id)
    wanted = [item for item in wanted_readings(step) if item.question.each != "load"]
    loads = list(Load.objects.filter(step=step, struck_by=None).order_by("number"))
    if not wanted:
        wanted = wanted_readings(step)
    context: dict[str, Any] = {"step": step, "batch": step.batch, "wanted": wanted, "values": request.POST}
    if request.method != "POST":
        return page(request, "measure.html", context)
    of_load = loads[-1] if loads and all(item.question.each == "load" for item in wanted) else None
    told, wrong = read_answers(request, wanted, of_load)
    if not told and not wrong:
        wrong["none"] = _("Nothing was typed. Type at least one value.")
    if wrong:
        return page(request, "measure.html", {**context, "wrong": wrong}, status=422)
    stamp = stamp_from(request, actor_of(request), site_of(request).zone)
    if isinstance(stamp, Refusal):
        return page(request, "measure.html", context, refusal=stamp)
    answer = attempt(measure, stamp=stamp, step_id=step.pk, readings=told)
    if isinstance(answer, Refusal):
        return page(request, "measure.html", context, refusal=answer)
    return redirect("here_told", answer.event.uid)
