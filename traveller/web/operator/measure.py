"""Readings: what the checks of a step ask for, with the limit shown before typing."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import formats
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from traveller.batches.actions.measure import measure
from traveller.batches.models import Load, Step
from traveller.batches.proof.readings import ReadingTold
from traveller.journal.refusal import Refusal
from traveller.products.models import Part
from traveller.rules.checks.base import Question
from traveller.rules.checks.columns import same_word
from traveller.rules.checks.limits import in_unit
from traveller.rules.checks.plausible import hint
from traveller.rules.mixed_up import meant_unit
from traveller.rules.other_units import other_unit, system_of
from traveller.web.door import Asked, attempt, read_time
from traveller.web.language.numbers import local
from traveller.web.language.reader import units
from traveller.web.operator.reporting import already_recorded, ask, event_context_here, note_of, said_no, unanswered
from traveller.web.operator.scanned_variant import confirmed
from traveller.web.operator.shop import at_work, page, site_of, step_here
from traveller.web.operator.wanted import Key, Wanted, reported_already, wanted_readings
from traveller.web.parts.figures import read_measure
from traveller.web.question_words import answers_to
from traveller.web.shown_figures import DEGREES
from traveller.web.words import say

# Units as they are asked about: "in" alone would be read as another word.
MEANT = {
    "C": gettext_lazy("Celsius"),
    "F": gettext_lazy("Fahrenheit"),
    "mm": gettext_lazy("millimetres"),
    "in": gettext_lazy("inches"),
    "s": gettext_lazy("seconds"),
    "min": gettext_lazy("minutes"),
    "h": gettext_lazy("hours"),
}

# More variants than that are quicker typed or scanned than found.
MOST_CHOICES = 8


def shown_fields(
    request: HttpRequest,
    wanted: list[Wanted],
    wrong: Mapping[str, str] | None = None,
    reported: Mapping[Key, str] | None = None,
) -> list[dict[str, Any]]:
    """The fields as the page draws them, with what was typed; what was told before is not asked on the way."""
    reported = reported or {}
    mark = str(formats.get_format("DECIMAL_SEPARATOR"))
    return [
        {
            "name": item.field,
            "id": f"id_r{place}",
            "question": item.prompt,
            "which": item.which,
            "limits": item.limits,
            "unit": item.question.unit,
            "units": _units(request, item),
            "unit_field": unit_field(item),
            "number": item.question.kind == "number",
            "time": item.question.kind == "time",
            "low": item.question.low if item.question.kind == "number" else None,
            "high": item.question.high if item.question.kind == "number" else None,
            # A dew point and a cold store lie below zero; no other pad needs the key.
            "signed": _below_zero(item.question),
            "mark": mark if item.question.kind == "number" else "",
            "choices": _choices(item),
            "reported": reported.get(item.key, ""),
            "value": request.POST.get(item.field, ""),
            "error": (wrong or {}).get(item.field, ""),
        }
        for place, item in enumerate(wanted)
    ]


def unit_field(item: Wanted) -> str:
    """The name of the field that says in which unit a value was read."""
    return f"u:{item.field}"


def _units(request: HttpRequest, item: Wanted) -> list[tuple[str, str, bool]]:
    """Both units, the reader's first and the chosen one marked, where the check's own is of the other system."""
    own = item.question.unit
    other = other_unit(own)
    if item.question.kind != "number" or other is None or system_of(own) == units():
        return []
    chosen = request.POST.get(unit_field(item), other)
    return [(one, DEGREES.get(one, one), one == chosen) for one in (other, own)]


def _unit_reported(request: HttpRequest, item: Wanted) -> str:
    """The unit that was chosen beside the value: the check's own, or its counterpart in the other system."""
    own = item.question.unit
    reported = request.POST.get(unit_field(item), own)
    return reported if reported == other_unit(own) else own


def _below_zero(question: Question) -> bool:
    bounds = [Decimal(one) for one in (question.low, question.high) if one is not None]
    if bounds and min(bounds) < 0:
        return True
    return question.low is None and question.unit.strip("°").upper() in ("C", "F")


def _choices(item: Wanted) -> list[str]:
    """The variants that there are, to be tapped by what the eye sees; the plan's word is one among them."""
    if not item.question.expected:
        return []
    rows = Part.objects.exclude(variant="").order_by("variant").values_list("variant", flat=True).distinct()
    names = list(rows[:MOST_CHOICES])
    return names if any(same_word(item.question.expected, name) for name in names) else []


def read_answers(
    request: HttpRequest, wanted: list[Wanted], load: Load | None = None
) -> tuple[list[ReadingTold], dict[str, str]]:
    """The readings that were typed; fields left empty are simply not told yet."""
    reported: list[ReadingTold] = []
    wrong: dict[str, str] = {}
    mark = request.POST.get("mark") if request.POST.get("mark") in (".", ",") else None
    for item in wanted:
        text = request.POST.get(item.field, "").strip()[:60]
        if not text:
            continue
        value = text
        if item.question.kind == "number":
            number = read_measure(text, mark)
            if isinstance(number, str):
                wrong[item.field] = number
                continue
            value = f"{number:f}"
        if item.question.expected:
            value = confirmed(text, item.question.expected)
        if item.question.kind == "time":
            moment = read_time(text, site_of(request).zone)
            if isinstance(moment, Refusal):
                wrong[item.field] = say(moment.code, moment.figures)
                continue
            value = moment.isoformat()
        reported.append(
            ReadingTold(
                check_key=item.check_key,
                name=item.question.name,
                value=value,
                unit=_unit_reported(request, item),
                load=load.uid if load else None,
                cavity=item.cavity,
                piece=item.piece,
            )
        )
    return reported, wrong


def outside_limits(wanted: list[Wanted], reported: list[ReadingTold]) -> list[Asked]:
    """A value beyond its limits is asked about once: a slip of the thumb must not hold a lot."""
    limits = {(item.check_key, item.question.name): item for item in wanted}
    for reading in reported:
        item = limits[reading.check_key, reading.name]
        if item.question.kind != "number":
            continue
        mixed_up = hint(item.question, Decimal(reading.value), reading.unit)
        if mixed_up:
            return [Asked(mixed_up[0], dict(mixed_up[1]))]
        value = in_unit(Decimal(reading.value), reading.unit, item.question.unit)
        low, high = item.question.low, item.question.high
        assert value is not None, "a unit is its question's own or turns into it"
        if (low is not None and value < Fraction(low)) or (high is not None and value > Fraction(high)):
            return [_outside(item, reading)]
    return []


def _outside(item: Wanted, reading: ReadingTold) -> Asked:
    """Where the number would fit in a neighbouring unit, that is the likelier slip."""
    shown = f"{local(reading.value)} {DEGREES.get(reading.unit, reading.unit)}".strip()
    figures: dict[str, object] = {"value": shown, "limits": item.limits}
    low, high, own = item.question.low, item.question.high, item.question.unit
    if low is not None and high is not None:
        other = meant_unit(Decimal(reading.value), reading.unit, Fraction(low), Fraction(high), own)
        if other:
            return Asked("other_unit_meant", {**figures, "other": str(MEANT.get(other, other))})
    return Asked("outside_limits", figures)


def outside_asked() -> dict[str, object]:
    """The question that the page asks before it sends, and its answers; their figures are filled in there."""
    figures = {"value": "{value}", "limits": "{limits}"}
    return {
        "outside_words": say("outside_limits", figures),
        "outside_yes": answers_to("outside_limits", figures),
    }


@at_work
def measure_step(request: HttpRequest, step_id: int) -> HttpResponse:
    """What is asked of the step, or with `load` of one of its loads; a load is chosen first where it must be."""
    step = step_here(request, step_id)
    every = wanted_readings(step)
    loads = list(Load.objects.filter(step=step, struck_by=None).order_by("number"))
    load, wanted = _asked_of(request, every, loads)
    context = _context(request, step, load, wanted)
    context["loads"] = loads if load is None and any(item.per_load for item in every) else []
    if request.method != "POST" or said_no(request):
        return page(request, "measure.html", context)
    reported, wrong = read_answers(request, wanted, load)
    if not reported and not wrong:
        wrong["none"] = _("Nothing was typed. Type at least one value.")
    if wrong:
        context["fields"] = shown_fields(request, wanted, wrong)
        return page(request, "measure.html", {**context, "wrong": wrong}, status=422)
    event_context = event_context_here(request)
    if isinstance(event_context, Refusal):
        return page(request, "measure.html", context, refusal=event_context)
    asked = unanswered(request, [] if already_recorded(request) else outside_limits(wanted, reported))
    if asked:
        return ask(request, asked, context, _("Outside, the lot is held until the maker decides."))
    answer = attempt(measure, event_context=event_context, step_id=step.pk, readings=reported, note=note_of(request))
    if isinstance(answer, Refusal):
        return page(request, "measure.html", context, refusal=answer)
    return redirect("here_told", answer.event.uid)


def _asked_of(request: HttpRequest, every: list[Wanted], loads: list[Load]) -> tuple[Load | None, list[Wanted]]:
    """The load that was chosen and what is asked of it, or what is asked of the step; the only load needs no choice."""
    uid = request.POST.get("load") or request.GET.get("load") or ""
    load = next((one for one in loads if str(one.uid) == uid), None)
    wanted = [item for item in every if item.per_load == (load is not None)]
    if not wanted and load is None and len(loads) == 1:
        return loads[0], every
    return load, wanted


def _context(request: HttpRequest, step: Step, load: Load | None, wanted: list[Wanted]) -> dict[str, Any]:
    """What was told before is left out, unless all of it was, or all of it is wanted again."""
    before = reported_already(step, load)
    again = all(item.key in before for item in wanted) or request.GET.get("again") == "1"
    return {
        "step": step,
        "batch": step.batch,
        "load": load,
        "fields": shown_fields(request, wanted, reported={} if again else before),
        "again": not again and any(item.key in before for item in wanted),
        **outside_asked(),
    }
