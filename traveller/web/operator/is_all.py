"""A step is said to be done far below plan: "223 planned, 80 recorded: is that all?", asked once, with two answers."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.utils.translation import gettext as _

from traveller.batches.models import Step
from traveller.batches.steps.short_of_plan import short_of_plan
from traveller.web.door import Asked
from traveller.web.operator.reporting import SURE, unanswered
from traveller.web.question_words import Buttons, answers_to
from traveller.web.words import say

ANSWER = f"{SURE}is_that_all"
# The answer that more will come: the step stays open.
MORE = "more"


def is_that_all(step: Step, *, good: int = 0, through: int = 0, lost: int = 0) -> Asked | None:
    """The question, where the step would be done far below plan; its pieces as in `short_of_plan`."""
    short = short_of_plan(step, good=good, through=through, lost=lost)
    return None if short is None else Asked("is_that_all", {"planned": short.planned, "recorded": short.recorded})


def said_all(request: HttpRequest) -> bool:
    """It was asked, and it is all."""
    return request.POST.get(ANSWER) == "yes"


def more_will_come(request: HttpRequest) -> bool:
    """It was asked, and more will come."""
    return request.POST.get(ANSWER) == MORE


def unanswered_all(request: HttpRequest, asked: Asked) -> bool:
    """Still to be asked? Of news that waited on a phone nobody is: it is taken as done, and the record says so."""
    return not more_will_come(request) and unanswered(request, [asked]) is not None


def all_context(request: HttpRequest, asked: Asked | None) -> dict[str, Any]:
    """The question on the page that says "done", so that it is answered with the same tap, without a signal too.

    A page that is kept on a phone does not know what the phone counts meanwhile: there no recorded figure is named.
    """
    if asked is None:
        return {}
    answers = answers_to(asked.code, asked.figures)
    if getattr(request, "kept", False):
        question = _("%(planned)s planned. Is all of it recorded?") % {"planned": asked.figures["planned"]}
        return {"is_all": question, "answers": Buttons(_("Yes, that is all"), answers.no, answers.same)}
    return {"is_all": say(asked.code, asked.figures), "answers": answers}
