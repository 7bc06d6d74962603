"""Something else happened: pieces set apart, scrap found good, a cavity blocked, a number of the shop's own."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _

from traveller.batches.actions.found_good import found_good, scrap_at
from traveller.batches.actions.set_cavities import set_cavities
from traveller.batches.actions.split import split
from traveller.batches.actions.tell_number import tell_number
from traveller.batches.models import Step
from traveller.batches.reads.own_numbers import numbers_of
from traveller.batches.splitting.places import SEPARABLE
from traveller.journal.event_context import EventContext
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Account, Condition
from traveller.ledger.post import Place
from traveller.products.models import OperationKind
from traveller.web.door import attempt
from traveller.web.operator.deeds import Deed
from traveller.web.operator.reporting import event_context_here, reported_url
from traveller.web.operator.shop import at_work, page, step_here
from traveller.web.parts.figures import read_count
from traveller.web.templatetags.look import whole
from traveller.web.words import CONDITIONS


@dataclass
class _Row:
    """One field of a page: its question, what is typed in it, what is offered, what is wrong."""

    name: str
    label: str
    help: str = ""
    count: bool = False
    options: list[tuple[str, str]] = field(default_factory=list)
    value: str = ""
    error: str = ""


@at_work
def something_else(request: HttpRequest, step_id: int) -> HttpResponse:
    """What is rarer than counting, each with a page of its own."""
    row = step_here(request, step_id)
    return page(request, "else.html", {"step": row, "batch": row.batch, "ways": ways_of(row)})


def ways_of(row: Step) -> list[Deed]:
    """What may have happened at this step besides its work."""
    counts = row.operation.kind != OperationKind.PREPARE
    found = []
    if row.operation.cavities and row.operation.kind == OperationKind.MAKE:
        found.append(Deed(_("A cavity is blocked, or free again"), reverse("here_cavities", args=[row.pk])))
    if counts and _lying(row):
        found.append(Deed(_("Set some apart as a batch of their own"), reverse("here_split", args=[row.pk])))
    if counts and scrap_at(row):
        found.append(Deed(_("Scrap was found good"), reverse("here_found", args=[row.pk])))
    found.append(Deed(_("Our own lot number"), reverse("here_own_number", args=[row.pk])))
    found.append(Deed(_("The traveller is lost: print it again"), reverse("here_paper", args=[row.batch.code])))
    return found


@at_work
def apart(request: HttpRequest, step_id: int) -> HttpResponse:
    """Some pieces are treated differently: they get a code and a traveller of their own."""
    row = step_here(request, step_id)
    places = _lying(row)
    rows = [
        _Row("place", _("Which pieces?"), options=places)
        if len(places) != 1
        else _Row("place", "", value=places[0][0]),
        _Row("quantity", _("How many?"), count=True),
        _Row("reason", _("Why?")),
    ]

    def tell(event_context: EventContext) -> Any:
        condition, _colon, number = request.POST.get("place", "").partition(":")
        place = Place(row.batch.lot_id or 0, row.site_id, condition, int(number) if number.isdecimal() else 0)
        return attempt(
            split,
            event_context=event_context,
            batch_id=row.batch_id,
            place=place,
            quantity=_counted(request, "quantity"),
            reason=_said(request, "reason"),
        )

    return _ask(request, row, _("Set some apart"), _("They get a code of their own."), rows, tell)


@at_work
def found(request: HttpRequest, step_id: int) -> HttpResponse:
    """Told as scrap, and good after all."""
    row = step_here(request, step_id)
    there = scrap_at(row)
    help_words = _("%(n)s were told as scrap here.") % {"n": whole(there)}
    rows = [_Row("quantity", _("How many are good?"), help=help_words, count=True), _Row("reason", _("Why?"))]

    def tell(event_context: EventContext) -> Any:
        return attempt(
            found_good,
            event_context=event_context,
            step_id=row.pk,
            quantity=_counted(request, "quantity"),
            reason=_said(request, "reason"),
        )

    words = _("They wait for this step again, apart from the others, and are counted and tested again.")
    return _ask(request, row, _("Scrap found good"), words, rows, tell)


@at_work
def cavities(request: HttpRequest, step_id: int) -> HttpResponse:
    """From this shot on, the mould runs with another number of cavities."""
    row = step_here(request, step_id)
    most = row.operation.cavities
    now = row.open_cavities or most
    options = [(str(n), whole(n)) for n in range(most, 0, -1)]
    rows = [
        _Row("open_cavities", _("How many cavities run from now on?"), options=options, value=str(now)),
        _Row("shots", _("Shots since the last count, until now"), help=_("0 if they are counted already"), count=True),
        _Row("reason", _("What is wrong, or mended?")),
    ]

    def tell(event_context: EventContext) -> Any:
        return attempt(
            set_cavities,
            event_context=event_context,
            step_id=row.pk,
            open_cavities=_counted(request, "open_cavities"),
            shots=_counted(request, "shots") if request.POST.get("shots", "").strip() else 0,
            reason=_said(request, "reason"),
        )

    words = _("%(now)s of %(most)s run now. The first pieces are to be approved again.") % {"now": now, "most": most}
    return _ask(request, row, _("A cavity is blocked, or free again"), words, rows, tell)


@at_work
def own_number(request: HttpRequest, step_id: int) -> HttpResponse:
    """What this shop calls the lot."""
    row = step_here(request, step_id)
    known = ", ".join(numbers_of(row.batch.lot_id, row.site_id))
    rows = [_Row("number", _("Number in your own books"))]

    def tell(event_context: EventContext) -> Any:
        number = request.POST.get("number", "")
        return attempt(
            tell_number, event_context=event_context, batch_id=row.batch_id, site_id=row.site_id, number=number
        )

    words = _("It can be typed or scanned here instead of our code.")
    if known:
        words += " " + _("Told before: %(known)s.") % {"known": known}
    return _ask(request, row, _("Our own lot number"), words, rows, tell)


def _ask(request: HttpRequest, row: Step, title: str, words: str, rows: list[_Row], tell: Any) -> HttpResponse:
    """The page with its questions; what is told leads back to the step."""
    context = {"step": row, "batch": row.batch, "asked": title, "words": words, "rows": rows}
    if request.method != "POST":
        return page(request, "else_ask.html", context)
    for one in rows:
        one.value = request.POST.get(one.name, one.value)
    wrong = {one.name: _wrong(one.value) for one in rows if one.count and _wrong(one.value)}
    for one in rows:
        one.error = wrong.get(one.name, "")
    if wrong:
        return page(request, "else_ask.html", {**context, "wrong": wrong}, status=422)
    event_context = event_context_here(request)
    answer = event_context if isinstance(event_context, Refusal) else tell(event_context)
    if isinstance(answer, Refusal):
        return page(request, "else_ask.html", context, refusal=answer)
    children = answer.children
    if children:
        return redirect(reported_url("here_code", children[0].code, reported=str(answer.event.uid)))
    return redirect(reported_url("here_step", row.pk, reported=str(answer.event.uid)))


def _wrong(text: str) -> str:
    """What is wrong with a count that was typed; an empty field is refused or taken by the action."""
    found = read_count(text) if text.strip() else 0
    return found if isinstance(found, str) else ""


def _counted(request: HttpRequest, name: str) -> int:
    """What was typed, or a figure that every action refuses in words."""
    typed = read_count(request.POST.get(name, ""))
    return typed if isinstance(typed, int) else -1


def _said(request: HttpRequest, name: str) -> str:
    return request.POST.get(name, "").strip()[:200]


def _lying(row: Step) -> list[tuple[str, str]]:
    """Where pieces of the batch lie at this site, as the form names them."""
    rows = Account.objects.filter(lot=row.batch.lot_id or 0, site=row.site_id, condition__in=SEPARABLE, balance__gt=1)
    verbs = dict(Step.objects.filter(batch=row.batch_id).values_list("number", "operation__verb"))
    return [
        (f"{account.condition}:{account.step}", _where(account, verbs.get(account.step, "")))
        for account in rows.order_by("condition", "step")
    ]


def _where(account: Account, verb: str) -> str:
    figures = {"n": whole(account.balance), "condition": CONDITIONS[account.condition], "verb": verb}
    if account.condition == Condition.STOCK:
        return _("%(n)s on the shelf") % figures
    return _("%(n)s %(condition)s, before: %(verb)s") % figures if verb else _("%(n)s %(condition)s") % figures
