"""What is missing of made parts, with its way out: a batch of its own for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from traveller.journal.refusal import Refusal, Refused
from traveller.orders.actions.make_again import make_again, plan_again
from traveller.orders.short import FellShort, Short, look_out
from traveller.products.models import Part
from traveller.rules.codes import show_code
from traveller.web.door import attempt
from traveller.web.founder.desk.frame import Desk, event_context_of, founder_page, link_to, show
from traveller.web.founder.desk.listing import answer_again, back_to
from traveller.web.founder.today.decisions import Decision, few
from traveller.web.picture_words import day_words
from traveller.web.templatetags.look import whole
from traveller.web.words import say


@dataclass(frozen=True, slots=True)
class MissingLine:
    """A part of which pieces are missing, as the lists show it."""

    words: str
    link: str
    action: str


def missing_lines(short: Sequence[Short]) -> list[MissingLine]:
    """One a part: how many for which order, which batch brought too little, and where to begin a new one."""
    return [MissingLine(words_of(row), link_to("make_again", row.part.pk), _action(row)) for row in short]


def missing_tags(short: Sequence[Short]) -> list[Decision]:
    """The same as tags of the first page."""
    tags = [Decision("doubt", _("Missing"), line.words, line.link, line.action) for line in missing_lines(short)]
    return few(tags, _("Missing"), "doubt", link_to("plan"))


def words_of(row: Short) -> str:
    figures = {"n": whole(row.missing), "part": row.part.title, "order": row.lines[0][0].order.number}
    if len({line.order_id for line, _n in row.lines}) == 1:
        text = _("%(n)s %(part)s for order %(order)s.") % figures
    else:
        text = _("%(n)s %(part)s: %(lines)s.") % {**figures, "lines": _by_order(row)}
    return " ".join([text, *(_fell_short(batch) for batch in row.batches[:3])])


def _by_order(row: Short) -> str:
    sums: dict[str, int] = {}
    for line, n in row.lines:
        sums[line.order.number] = sums.get(line.order.number, 0) + n
    return ", ".join(_("%(n)s for order %(order)s") % {"n": whole(n), "order": order} for order, n in sums.items())


def _fell_short(batch: FellShort) -> str:
    figures = {"code": show_code(batch.code), "n": whole(batch.brings), "promised": whole(batch.promised)}
    return _("Batch %(code)s yields %(n)s of the %(promised)s it was released for.") % figures


def _action(row: Short) -> str:
    return _("Start a new batch of %(n)s") % {"n": whole(row.missing)}


@founder_page
@require_http_methods(["GET", "POST"])
def again(request: HttpRequest, desk: Desk, part_id: int) -> HttpResponse:
    """Show what a batch for it would be; open it as it was shown, and go to it."""
    part = Part.objects.defer("picture").filter(pk=part_id).first()
    if part is None:
        raise Http404
    if request.method == "GET":
        return show(request, desk, "today/make_again.html", _context(part, desk))
    event_context = event_context_of(request, desk)
    shown = request.POST.get("missing", "")
    missing = int(shown) if shown.isascii() and shown.isdecimal() and len(shown) <= 9 else 0
    answer = (
        event_context
        if isinstance(event_context, Refusal)
        else attempt(make_again, event_context=event_context, part_id=part.pk, missing=missing)
    )
    if isinstance(answer, Refusal):
        return answer_again(request, desk, "today/make_again.html", _context(part, desk), answer)
    figures = {"code": show_code(answer.code), "n": whole(answer.wanted), "part": part.title}
    messages.success(request, _("Batch %(code)s is open, for %(n)s %(part)s. Print its traveller.") % figures)
    return back_to("batch", answer.code, reported=request.POST.get("news_id"))


def _context(part: Part, desk: Desk) -> dict[str, Any]:
    """What is missing of the part as of now, and the batch that would bring it."""
    row = next((row for row in look_out(desk.today).short if row.part.pk == part.pk), None)
    context: dict[str, Any] = {"section": "orders", "title": part.title, "row": row}
    if row is None:
        return {**context, "sentence": _("No %(part)s is missing.") % {"part": part.title}}
    context["sentence"] = _("Missing: %(what)s") % {"what": words_of(row)}
    context["action"] = _action(row)
    try:
        planned = plan_again(row, desk.bench.pk if desk.bench else 0, desk.today)
    except Refused as refused:
        return {**context, "refusal": say(refused.refusal.code, refused.refusal.figures)}
    figures = {"start": whole(planned.start), "n": whole(row.missing), "day": day_words(planned.due_on)}
    context["planned"] = (
        _(
            "%(start)s pieces are started, so that %(n)s come out good at the planned yields. "
            "At each shop's agreed number of days they can be there by %(day)s."
        )
        % figures
    )
    return context
