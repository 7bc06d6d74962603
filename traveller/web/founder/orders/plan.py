"""The plan before release: what would start, where, by when, for whom, from what; then release as it was shown."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods

from sites.models import Site
from traveller.journal.refusal import Refusal
from traveller.orders import queries
from traveller.orders.actions.release import release
from traveller.orders.models import OrderLine
from traveller.orders.plan import make_plan
from traveller.orders.planned import Issue, Plan, Shortage
from traveller.orders.short import look_out
from traveller.products.models import Part
from traveller.web.door import attempt
from traveller.web.founder.desk.frame import Desk, event_context_of, founder_page, link_to, show
from traveller.web.founder.desk.listing import AmountColumn, amount, amount_or_none, answer_again, back_to
from traveller.web.founder.orders import plan_words
from traveller.web.founder.today.missing_parts import missing_lines
from traveller.web.picture_words import day_words
from traveller.web.tables import CodeColumn, DayColumn, NumberColumn, PaperTable, TableColumn
from traveller.web.templatetags.look import whole

# Above this a plan could not be read, only believed.
LINES_MOST = 50


class LineTable(PaperTable):
    """What each line gets from where."""

    order = TableColumn(verbose_name=gettext_lazy("Order"))
    number = TableColumn(verbose_name=gettext_lazy("Line"))
    title = TableColumn(verbose_name=gettext_lazy("Part"))
    quantity = NumberColumn(verbose_name=gettext_lazy("To plan"))
    from_free = NumberColumn(verbose_name=gettext_lazy("From stock"))
    from_under_way = NumberColumn(verbose_name=gettext_lazy("Under way"))
    to_make_or_buy = NumberColumn(verbose_name=gettext_lazy("To make"))
    due_on = DayColumn(verbose_name=gettext_lazy("Due"))


class ShortageTable(PaperTable):
    """Bought parts that are not there."""

    title = TableColumn(verbose_name=gettext_lazy("Part"))
    needed = AmountColumn(verbose_name=gettext_lazy("Needed"))
    from_free = AmountColumn(verbose_name=gettext_lazy("From stock"))
    waiting = AmountColumn(verbose_name=gettext_lazy("On order"))
    short = AmountColumn(verbose_name=gettext_lazy("Short"))
    needed_on = DayColumn(verbose_name=gettext_lazy("By"))
    deliver = TableColumn(verbose_name=gettext_lazy("Deliver"))
    supplier = TableColumn(verbose_name=gettext_lazy("Supplier"))


class IssueTable(PaperTable):
    """What must be brought to whom; the name leads to the sending of it."""

    title = TableColumn(verbose_name=gettext_lazy("Part"), linkify=lambda record: record["link"])
    site = TableColumn(verbose_name=gettext_lazy("To"))
    purpose = TableColumn(verbose_name=gettext_lazy("As"))
    needed = AmountColumn(verbose_name=gettext_lazy("Needed"))
    there = AmountColumn(verbose_name=gettext_lazy("There"))
    to_send = AmountColumn(verbose_name=gettext_lazy("To send"))
    sources = TableColumn(verbose_name=gettext_lazy("From"))
    to_come = AmountColumn(verbose_name=gettext_lazy("To be bought or made"))
    needed_on = DayColumn(verbose_name=gettext_lazy("By"))


class KeepTable(PaperTable):
    """Stock that the release would keep for these lines, first expired first."""

    part = TableColumn(verbose_name=gettext_lazy("Part"))
    lot = CodeColumn(verbose_name=gettext_lazy("Lot"), linkify=lambda record: link_to("lot", record["lot"]))
    site = TableColumn(verbose_name=gettext_lazy("Site"))
    quantity = AmountColumn(verbose_name=gettext_lazy("Kept"))
    line = TableColumn(verbose_name=gettext_lazy("For"))
    expires_on = DayColumn(verbose_name=gettext_lazy("Use by"))


@founder_page
@require_http_methods(["GET", "POST"])
def plan(request: HttpRequest, desk: Desk) -> HttpResponse:
    asked = request.POST if request.method == "POST" else request.GET
    line_ids = [pk for text in asked.getlist("line") if (pk := _line_id(text)) is not None][:LINES_MOST]
    if not line_ids:
        return _choose(request, desk)
    if request.method == "GET":
        return show(request, desk, "orders/plan.html", _context(make_plan(line_ids, on=desk.today), line_ids))
    event_context = event_context_of(request, desk)
    digest = request.POST.get("digest", "")
    answer = (
        event_context
        if isinstance(event_context, Refusal)
        else attempt(release, event_context=event_context, line_ids=line_ids, plan_digest=digest)
    )
    if isinstance(answer, Refusal):
        # The plan as it stands now: whoever releases must have seen it.
        return answer_again(
            request, desk, "orders/plan.html", _context(make_plan(line_ids, on=desk.today), line_ids), answer
        )
    batches = len(answer.plan["batches"])
    messages.success(
        request,
        ngettext("Released: %(n)s batch is open.", "Released: %(n)s batches are open.", batches) % {"n": batches}
        + " "
        + _("Print the travellers and send them with the material."),
    )
    order = OrderLine.objects.select_related("order").get(pk=line_ids[0]).order
    return back_to("order", order.number, reported=request.POST.get("news_id"))


def _line_id(text: str) -> int | None:
    """A line's number in the address; what no database could hold is none."""
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= 18 else None


def _choose(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Which lines? All that nobody has released yet, to be ticked."""
    lines = queries.unreleased_lines()[:LINES_MOST]
    sentence = _("Which order lines are to be planned?") if lines else _("Every order line has been released.")
    short = missing_lines(look_out(desk.today).short)[:LINES_MOST]
    if short:
        sentence += " " + _("Pieces are missing for lines that are released.")
    context = {"section": "orders", "title": _("Plan"), "sentence": sentence, "lines": lines, "missing": short}
    return show(request, desk, "orders/plan_choose.html", context)


def _context(made: Plan, line_ids: list[int]) -> dict[str, Any]:
    sites = dict(Site.objects.values_list("code", "name"))
    lines = {line.line_id: line for line in made.lines}
    numbers = {row.part for row in made.reservations}
    parts = {part.number: part for part in Part.objects.filter(number__in=numbers).defer("picture")}
    return {
        "section": "orders",
        "title": _("Plan"),
        "plan": made,
        "line_ids": line_ids,
        "sentence": plan_words.sentence(made),
        "problems": plan_words.problems(made),
        "assumptions": plan_words.assumptions(made, sites),
        "lines": LineTable(made.lines, orderable=False, prefix="l-"),
        "batches": [_batch(batch, sites) for batch in made.batches],
        "late": [batch for batch in made.batches if batch.late],
        "to_buy": [_to_buy(row) for row in made.shortages if row.short],
        "shortages": ShortageTable([_shortage(row, sites) for row in made.shortages], orderable=False, prefix="s-"),
        "issues": IssueTable([_issue(row, sites) for row in made.issues], orderable=False, prefix="i-"),
        "kept": KeepTable([_kept(row, sites, lines, parts) for row in made.reservations], orderable=False, prefix="k-"),
        "under_way": [(row, lines[row.line_id]) for row in made.under_way if row.line_id in lines],
    }


def _batch(batch: Any, sites: dict[str, str]) -> dict[str, Any]:
    return {
        "batch": batch,
        "destination": sites.get(batch.destination, batch.destination),
        "shares": plan_words.shares(batch.shares),
        "steps": [(step, sites.get(step.site, step.site)) for step in batch.steps],
    }


def _to_buy(row: Shortage) -> tuple[str, str]:
    figures = {"n": amount(row.short, row.unit), "part": row.title, "day": day_words(row.needed_on)}
    words = _("%(n)s %(part)s are neither here nor on order; needed by %(day)s.") % figures
    asked = {"part": row.part, "quantity": str(row.short), "due_on": row.needed_on.isoformat()}
    if row.deliver:
        asked["deliver_to"] = row.deliver[0][0]
    return f"{link_to('new_purchase')}?{urlencode(asked)}", words


def _shortage(row: Shortage, sites: dict[str, str]) -> dict[str, Any]:
    return {
        "title": row.title,
        "needed": amount(row.needed, row.unit),
        "from_free": amount_or_none(row.from_free, row.unit),
        "waiting": amount_or_none(row.waiting, row.unit),
        "short": amount_or_none(row.short, row.unit),
        "needed_on": row.needed_on,
        "deliver": ", ".join(f"{amount(n, row.unit)} · {sites.get(code, code)}" for code, n in row.deliver),
        "supplier": sites.get(row.supplier, row.supplier),
    }


def _issue(row: Issue, sites: dict[str, str]) -> dict[str, Any]:
    origin = row.sources[0][0] if row.sources else ""
    way = urlencode({"origin": origin, "to": row.site, "purpose": row.purpose, "find": row.part})
    return {
        "title": row.title,
        "link": f"{link_to('send_goods')}?{way}" if origin else None,
        "site": sites.get(row.site, row.site),
        "purpose": _("free issue") if row.purpose == "free issue" else _("stock"),
        "needed": amount(row.needed, row.unit),
        "there": amount_or_none(row.there, row.unit),
        "to_send": amount_or_none(row.to_send, row.unit),
        "sources": ", ".join(f"{amount(n, row.unit)} · {sites.get(code, code)}" for code, n in row.sources),
        "to_come": amount_or_none(row.to_come, row.unit),
        "needed_on": row.needed_on,
    }


def _kept(row: Any, sites: dict[str, str], lines: dict[int, Any], parts: dict[str, Part]) -> dict[str, Any]:
    line, part = lines.get(row.line_id), parts.get(row.part)
    return {
        "part": part.title if part else row.part,
        "lot": row.lot,
        "site": sites.get(row.site, row.site) + (_(" (on the road)") if row.coming else ""),
        "quantity": amount(row.quantity, part.unit) if part else whole(row.quantity),
        "line": _("order %(order)s line %(line)s") % {"order": line.order, "line": line.number} if line else "",
        "expires_on": row.expires_on,
    }
