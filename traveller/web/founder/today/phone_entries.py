"""What phones told without a signal and could not be booked: both versions side by side, taken or left."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from itertools import islice, product
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST, require_safe

from sites.models import Site
from traveller.batches.actions.leave_news import leave_news
from traveller.batches.history.for_review import KIND, LEFT, TAKEN, waiting
from traveller.batches.models import Batch, Load, Step
from traveller.journal.models import Event, Parked
from traveller.journal.refusal import Refusal
from traveller.rules.moments import later
from traveller.web.door import attempt, new_uid
from traveller.web.founder.desk.entry_words import entry_words, page_words
from traveller.web.founder.desk.frame import Desk, event_context_of, founder_page, link_to, show
from traveller.web.founder.desk.listing import answer_again, back_to
from traveller.web.founder.today.decisions import Decision
from traveller.web.founder.work.names_known import NamesKnown
from traveller.web.founder.work.news import Piece, clock_words, history_of
from traveller.web.founder.work.places import code_words
from traveller.web.parts import inside
from traveller.web.parts.resubmitting import WAITS, retell, tell_waiting, why_for_review
from traveller.web.question_words import ANSWERS, answers_to
from traveller.web.templatetags.look import whole

_SHOWN = 20
_MEANINGS_MOST = 16
RECORDED_MOST = 5
# Judgements follow from news; what was set aside is not recorded.
NOT_SHOWN = (KIND, TAKEN, LEFT, "judged")


class LeaveForm(forms.Form):
    """Not booked: why."""

    reason = forms.CharField(
        max_length=300,
        label=lazy("Why it is not booked"),
        help_text=lazy("The shop reads it on its phone, and it stays in the record."),
    )


@dataclass(frozen=True)
class _Row:
    """One entry: what the phone says, what is recorded, and the forms of both decisions."""

    parked: Parked
    about: str
    link: str
    says: list[tuple[str, str]]
    page: str
    why: str
    waits: bool
    # What may be decided of it, one button a meaning: book it, leave it.
    book: str
    left: str
    clock: str
    recorded: list[Piece]
    leave: forms.Form
    meanings: list[tuple[str, str]]
    take_id: str
    leave_id: str


def needs_you() -> list[Decision]:
    """The line on the founder's first page."""
    n = waiting().count()
    if not n:
        return []
    text = ngettext(
        "%(n)s entry from a phone waits: it conflicts with what is recorded, or what it is about was never told.",
        "%(n)s entries from phones wait: they conflict with what is recorded, or what they are about was never told.",
        n,
    ) % {"n": whole(n)}
    return [Decision("doubt", _("Phone entries"), text, link_to("phone_entries"), _("Look at them"), n)]


@founder_page
@require_safe
def phone_entries(request: HttpRequest, desk: Desk) -> HttpResponse:
    return show(request, desk, "today/phone_entries.html", _context())


@founder_page
@require_POST
def decide(request: HttpRequest, desk: Desk, for_review_id: int) -> HttpResponse:
    """Book it as the phone told it, or leave it with a reason."""
    for_review = Event.objects.filter(pk=for_review_id, kind=KIND).select_related("site").first()
    if for_review is None or for_review.site is None:
        raise Http404
    event_context = event_context_of(request, desk)
    form = LeaveForm(request.POST) if request.POST.get("deed") != "take" else None
    if form is not None and not form.is_valid():
        return answer_again(request, desk, "today/phone_entries.html", _context({for_review_id: form}))
    if isinstance(event_context, Refusal):
        return answer_again(request, desk, "today/phone_entries.html", _context(), event_context)
    answer = (
        attempt(
            retell,
            request=request,
            for_review=for_review,
            event_context=event_context,
            taken=True,
            meant=[line for line in request.POST.get("as", "").split("\n") if line],
        )
        if form is None
        else attempt(
            leave_news, event_context=event_context, for_review_id=for_review_id, reason=form.cleaned_data["reason"]
        )
    )
    if isinstance(answer, Refusal):
        kept: dict[int, forms.Form] | None = {for_review_id: form} if form else None
        return answer_again(request, desk, "today/phone_entries.html", _context(kept), answer)
    tell_waiting(request, for_review.site)
    messages.success(request, _("It is booked.") if form is None else _("It is left, with your reason."))
    return back_to("phone_entries", reported=answer.uid)


def _context(forms_sent: dict[int, forms.Form] | None = None) -> dict[str, Any]:
    rows = waiting()
    n = rows.count()
    sentence = _("No entry of a phone waits for you.")
    if n:
        sentence = ngettext("%(n)s phone entry needs you.", "%(n)s phone entries need you.", n) % {"n": whole(n)}
    known = dict(Site.objects.values_list("pk", "name"))
    return {
        "section": "home",
        "title": _("Phone entries"),
        "sentence": sentence,
        "rows": [_row(parked, known, forms_sent or {}) for parked in rows[:_SHOWN]],
        "more": max(0, n - _SHOWN),
    }


def _row(parked: Parked, sites: dict[int, str], forms_sent: dict[int, forms.Form]) -> _Row:
    event = parked.event
    reported = event.data["told"]
    step = _step(reported["path"])
    subjects = [about.subject for about in event.about.select_related("subject")]
    code, kind = (subjects[0].code, subjects[0].kind) if subjects else ("", "")
    batch = Batch.objects.filter(code=code).select_related("part").defer("part__picture").first() if code else None
    part = ", ".join(text for text in (batch.part.title if batch else "", code_words(code) if code else "") if text)
    name = "consignment" if kind == "consignment" else "batch"
    number, verbs = (step.number, {step.number: step.operation.verb}) if step else (None, {})
    known = NamesKnown(verbs, batch.lot_id if batch else None, sites)
    return _Row(
        parked=parked,
        about=part,
        link=link_to(name, code) if code else "",
        says=entry_words(reported["fields"], reported["files"]),
        page=page_words(reported["path"], step),
        why=why_for_review(parked.reason, parked.figures),
        waits=parked.reason in WAITS,
        meanings=_meanings(parked),
        **_buttons(parked),
        clock=clock_words(event.device_offset_ms),
        recorded=history_of(_recorded(event, [subject.pk for subject in subjects], number), known),
        leave=forms_sent.get(event.pk) or LeaveForm(auto_id=f"leave{event.pk}_%s"),
        take_id=str(new_uid()),
        leave_id=str(new_uid()),
    )


def _buttons(parked: Parked) -> dict[str, str]:
    if parked.reason in WAITS:
        return {"book": _("Try to book it now"), "left": _("Leave it")}
    said = answers_to(parked.reason, parked.figures) if parked.reason in ANSWERS else None
    if said and said.same:
        return {
            "book": _("%(more)s: book them") % {"more": said.yes},
            "left": _("%(same)s: leave them") % {"same": said.same},
        }
    left = _("Leave it") if parked.reason == "two_meanings" else _("It is the same: leave it")
    return {"book": _("It is something else: book it too"), "left": left}


def _step(path: str) -> Step | None:
    places = inside.matched_view(path).kwargs
    rows = Step.objects.select_related("operation")
    if "step_id" in places:
        return rows.filter(pk=places["step_id"]).first()
    if "load_id" in places:
        load = Load.objects.filter(pk=places["load_id"]).select_related("step__operation").first()
        return load.step if load else None
    return None


def _recorded(for_review: Event, subject_ids: list[int], number: int | None) -> list[Event]:
    """The last that the site told of the same thing and step, up to an hour after the tap: the other version."""
    rows = Event.objects.filter(about__subject__in=subject_ids, site=for_review.site).exclude(kind__in=NOT_SHOWN)
    if number is not None:
        rows = rows.filter(data__number=number)
    near = rows.filter(happened_at__lte=later(for_review.happened_at, timedelta(hours=12)))
    return list(near.select_related("site").order_by("-happened_at", "-id")[:RECORDED_MOST])


def _meanings(parked: Parked) -> list[tuple[str, str]]:
    """All that a form with figures of two meanings can have meant: what the button sends, and its words."""
    asked: dict[str, list[list[str]]] = parked.figures["asked"] if parked.reason == "two_meanings" else {}
    ways = [[(f"{field}={typed}", words) for typed, words in meanings] for field, meanings in asked.items()]
    found = islice(product(*ways), _MEANINGS_MOST) if ways else ()
    return [("\n".join(sent for sent, _words in way), "; ".join(words for _sent, words in way)) for way in found]
