"""What is to be measured at a step: which check asks it, of which cavity, piece or load; and what is told already."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from traveller.batches.models import Load, Reading, Step
from traveller.products.frozen import checks_of
from traveller.rules.checks.base import Question
from traveller.web.words import limit_words, say

Key = tuple[str, str, int | None, int | None]


@dataclass(frozen=True, slots=True)
class Wanted:
    """One field: which check asks it, in which words, for which cavity or piece; `per_load`: of each load."""

    check_key: str
    question: Question
    limits: str
    per_load: bool
    cavity: int | None = None
    piece: int | None = None

    @property
    def field(self) -> str:
        return f"r:{self.check_key}:{self.question.name}:{self.cavity or 0}:{self.piece or 0}"

    @property
    def prompt(self) -> str:
        return say(self.question.prompt_code, {"name": self.question.name.capitalize()})

    @property
    def which(self) -> str:
        """Of which cavity, and the how manieth piece of how many."""
        figures = {"n": self.cavity, "piece": self.piece, "pieces": self.question.count}
        if self.cavity and self.piece:
            return _("Cavity %(n)d, piece %(piece)d of %(pieces)d") % figures
        if self.cavity:
            return _("Cavity %(n)d") % figures
        return _("Piece %(piece)d of %(pieces)d") % figures if self.piece else ""

    @property
    def key(self) -> Key:
        return self.check_key, self.question.name, self.cavity, self.piece


def wanted_readings(step: Step) -> list[Wanted]:
    found = []
    for plan in checks_of(step.operation_id):
        limits = limit_words(plan)
        for question in plan.kind.questions(plan.params):
            # Times of loads and their logs are told with the load, lots used with the count.
            if question.told != "measured":
                continue
            per_load = question.each == "load" or plan.scope == "load"
            cavities: list[int | None] = [None]
            if question.each == "cavity":
                cavities = list(range(1, (step.open_cavities or step.operation.cavities or 1) + 1))
            pieces: list[int | None] = [None] if question.count == 1 else list(range(1, question.count + 1))
            found += [
                Wanted(plan.key, question, _own_limits(question, limits), per_load, cavity, piece)
                for cavity in cavities
                for piece in pieces
            ]
    return found


def _own_limits(question: Question, of_check: str) -> str:
    """A check that asks several things shows each its own limits."""
    if question.kind != "number" or (question.low is None and question.high is None):
        return of_check
    figures = {"least": question.low, "most": question.high, "unit": question.unit}
    if question.high is None:
        return say("limit.at_least", figures)
    return say("limit.at_most" if question.low is None else "limit.between", figures)


def reported_already(step: Step, load: Load | None) -> dict[Key, str]:
    """What was measured before and still stands, as it was typed."""
    rows = Reading.objects.filter(step=step, load=load, struck_by=None).order_by("id")
    return {(row.check_key, row.name, row.cavity, row.piece): f"{row.value} {row.unit}".strip() for row in rows}


def still_asked(step: Step, load: Load | None = None) -> list[Wanted]:
    """What is yet to be measured of the step itself, or of one of its loads."""
    wanted = [item for item in wanted_readings(step) if item.per_load == (load is not None)]
    reported = reported_already(step, load) if wanted else {}
    return [item for item in wanted if item.key not in reported]
