"""A batch: what became of its pieces, where they lie, what was proved, what it was made of, what was told."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.views.decorators.http import require_safe

from traveller.batches.history.step_law import step_accounts
from traveller.batches.models import Batch
from traveller.batches.reads.begun import is_unfinished, on_visit
from traveller.batches.reads.queries import Lie, Whereabouts, find_batch, history, whereabouts
from traveller.batches.status import statuses_of
from traveller.ledger.models import Account, Condition
from traveller.web.founder.desk.amounts import AmountField, of_unit
from traveller.web.founder.desk.frame import Desk, founder_page, show
from traveller.web.founder.desk.listing import amount
from traveller.web.founder.orders.order_reads import day, orders_of
from traveller.web.founder.parts.unknown import unknown_material
from traveller.web.founder.work import batch_facts as facts
from traveller.web.founder.work.label_form import LabelForm
from traveller.web.founder.work.move_forms import MoveForm, move_forms
from traveller.web.founder.work.names_known import NamesKnown
from traveller.web.founder.work.news import history_of
from traveller.web.founder.work.places import idle_words, place_words, said_of, then_words
from traveller.web.founder.work.usual import Usual, days_words, every_site, usual_words
from traveller.web.pictures.ribbon import yield_ribbon
from traveller.web.status_words import said_in_words
from traveller.web.words import say

_SEPARABLE = (Condition.IN_PROCESS, Condition.REWORK, Condition.STOCK)


class HoldForm(forms.Form):
    """Stop the whole batch."""

    reason = forms.CharField(max_length=300, label=lazy("Why"), help_text=lazy("It stays in the record."))


class PartForm(forms.Form):
    """Stop some of its pieces: they become a batch of their own."""

    place = forms.ChoiceField(label=lazy("Which pieces"))
    quantity = AmountField(least=1, label=lazy("How many"))
    part_reason = forms.CharField(max_length=300, label=lazy("Why"))

    def __init__(self, row: Whereabouts, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        of_unit(self, row.batch.part.unit)
        self.fields["place"].choices = [  # type: ignore[attr-defined]
            (
                f"{lie.site_id}:{lie.condition}:{lie.step}",
                f"{place_words(row, lie)}, {amount(lie.quantity, row.batch.part.unit)}",
            )
            for lie in row.lies
            if lie.condition in _SEPARABLE
        ]


def batch_or_404(code: str) -> Batch:
    batch = find_batch(code.upper())
    if batch is None:
        raise Http404
    return batch


@founder_page
@require_safe
def batch(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """The page of one batch."""
    found = batch_or_404(code)
    return show(request, desk, "work/batch.html", context_of(found, desk))


def context_of(
    found: Batch, desk: Desk, *, move_form: MoveForm | None = None, **forms_sent: forms.Form
) -> dict[str, Any]:
    """Everything on the page; a form that was sent and refused comes back as it was typed."""
    row = whereabouts([found])[0]
    accounts = step_accounts(found, row.steps)
    opening = sentence(row, desk)
    ribbon = facts.ribbon_of(found, accounts, opening)
    verbs = {step.number: step.operation.verb for step in row.steps}
    usual = every_site(desk.now)
    statuses = _statuses(found, desk)
    return {
        "section": "home",
        "title": _("Batch %(code)s") % {"code": found.code},
        "sentence": opening,
        "batch": found,
        "row": row,
        "shares": orders_of([found])[found.pk],
        "children": found.children.select_related("part").order_by("id"),
        "ribbon": yield_ribbon(ribbon, 1120) if ribbon else "",
        "ribbon_narrow": yield_ribbon(ribbon, 340, "ribbonn") if ribbon else "",
        "steps": facts.step_lines(accounts),
        "lies": [
            {
                **_place(row, lie, usual[lie.site_id], desk),
                "status": statuses.get((lie.site_id, lie.condition, lie.step)),
            }
            for lie in row.lies
        ],
        "checks": facts.check_lines(row.steps),
        "loads": facts.loads_of(found),
        "readings": facts.readings_of(found),
        "files": facts.files_of(found),
        "concessions": facts.concessions_of(found),
        "holds": facts.hold_lines(found.lot),
        "made_of": facts.kin(found.lot, down=False),
        "unknown": unknown_material([found.lot_id] if found.lot_id else []),
        "went_into": facts.kin(found.lot, down=True),
        "prints": found.prints.select_related("event").order_by("-serial"),
        "shops": list({step.site_id: step.site for step in row.steps}.values()),
        "news": history_of(history([found.subject_id]), NamesKnown(verbs, found.lot_id), correct=True),
        "hold_form": HoldForm(),
        "part_form": PartForm(row),
        "label_form": LabelForm(found, desk),
        "moves": move_forms(row, move_form),
        **forms_sent,
    }


def _place(row: Whereabouts, lie: Lie, usual: Usual, desk: Desk) -> dict[str, Any]:
    """A place where its pieces lie: since when, how long that is in the site's working days, and what is usual."""
    visit = on_visit(row, lie)
    since = usual.here_since(row.batch.lot_id, lie.since) if visit else lie.since
    return {
        "lie": lie,
        "where": place_words(row, lie),
        "then": then_words(row, lie),
        "since": since,
        "here_for": days_words(usual.worked(since, desk.now)) if since else "",
        "usually": usual_words(usual.stay) if visit else "",
    }


def sentence(row: Whereabouts, desk: Desk) -> str:
    """Where the batch is, whether it is held and why, and whether its day is past."""
    part, unit = row.batch.part.title, row.batch.part.unit
    if row.lies:
        most = sorted(row.lies, key=lambda lie: -lie.quantity)
        places = [said_of(row, lie) for lie in most[:2]]
        if len(most) > 2:
            places.append(_("%(n)s elsewhere") % {"n": amount(sum(lie.quantity for lie in most[2:]), unit)})
        where = "; ".join(places)
    else:
        where = idle_words(row)
    text = _("%(part)s: %(where)s.") % {"part": part, "where": where}
    if row.holds:
        first = row.holds[0].root or row.holds[0]
        text += " " + _("All of it is held: %(why)s") % {"why": say(first.code, first.figures)}
    elif row.unreported:
        text += " " + _("%(n)s were counted before anybody told that they came.") % {"n": amount(-row.unreported, unit)}
    if row.batch.due_on and row.batch.due_on < desk.today and is_unfinished(row):
        text += " " + _("It was due %(day)s.") % {"day": day(row.batch.due_on, desk.today)}
    return text


def _statuses(found: Batch, desk: Desk) -> dict[tuple[int, str, int], dict[str, Any]]:
    """What its pieces are, by where they lie."""
    rows = list(Account.objects.filter(lot=found.lot_id, balance__gt=0).select_related("lot", "site"))
    statuses = statuses_of(rows, desk.today) if found.lot_id else {}
    return {
        (row.site_id, row.condition, row.step): said_in_words(statuses[row.pk]) for row in rows if row.pk in statuses
    }
