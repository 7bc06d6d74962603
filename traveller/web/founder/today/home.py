"""The founder's first page: where everything is, and what needs a decision."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from traveller.batches.reads.begun import starts_at
from traveller.batches.reads.queries import whereabouts
from traveller.orders.kits import KitRow, kits_now
from traveller.orders.queries import OrderOverview
from traveller.orders.short import Lookout, look_out
from traveller.web.founder.desk.frame import Desk, founder_page, link_to, show
from traveller.web.founder.orders.order_line import end_of, order_graph, stays
from traveller.web.founder.orders.order_reads import day, open_orders, telling_batches, title_of
from traveller.web.founder.today import clock, decisions, phone_entries, ready
from traveller.web.founder.today.missing_parts import missing_tags
from traveller.web.founder.today.opening import home_sentence, why_not_shipped
from traveller.web.founder.work import arrivals, first_piece
from traveller.web.founder.work.batch_table import PAGE, BatchTable, Filter, chosen, rows_of, site_asked
from traveller.web.founder.work.usual import Usual, every_site, heard_line
from traveller.web.pictures.kit_rule import kit_rule
from traveller.web.pictures.line_graph import line_graph


@require_safe
@founder_page
def home(request: HttpRequest, desk: Desk) -> HttpResponse:
    """A sentence, tags, the most urgent order's line graph and kit rule, then every batch."""
    usual = every_site(desk.now)
    orders = open_orders()
    kits = kits_now(on=desk.today)
    lookout = look_out(desk.today)
    asks = [
        *missing_tags(lookout.short),
        *clock.tags(desk),
        *decisions.root_holds(),
        *decisions.differences(),
        *phone_entries.needs_you(),
        *decisions.parked_news(),
        *decisions.files_unread(desk),
        *decisions.unreported(desk),
        *arrivals.unexplained(),
        *decisions.silent(desk, usual),
        *first_piece.tags(),
        *decisions.checks_waiting(),
    ]
    tags = [*asks, *ready.can_be_assembled(kits), *ready.can_be_packed(desk)]
    urgent = _urgent(orders, lookout, desk, usual, kits)
    context = {
        "section": "home",
        "sentence": home_sentence(orders, urgent.pop("why"), desk.today, sum(row.stands_for for row in asks)),
        "heard": heard_line(usual, desk.now),
        "tags": tags,
        **urgent,
        **_every_batch(request, desk, usual),
    }
    return show(request, desk, "today/home.html", context)


def _urgent(
    orders: list[OrderOverview], lookout: Lookout, desk: Desk, usual: dict[int, Usual], kits: list[KitRow]
) -> dict[str, Any]:
    """The order that is due first: its title, its pictures, and why it has not shipped."""
    if not orders:
        return {"why": "", "urgent": None}
    first = orders[0]
    batches = telling_batches(first.order.pk)
    why = why_not_shipped(first, lookout, whereabouts(batches))
    title = _("Order %(order)s: %(what)s by %(day)s") % {
        "order": first.order.number, "what": title_of(first), "day": day(first.due_on, desk.today),
    }  # fmt: skip
    due = end_of(first.due_on, desk) if first.due_on else None
    graph = order_graph(desk, batches, usual, f"{title}: {why}." if why else f"{title}.", due)
    ordered = {line.line.part_id for line in first.lines}
    kit = next((row for row in kits if row.part.pk in ordered), None)
    rule = ready.kit_picture(kit) if kit else None
    return {
        "why": why,
        "urgent": first.order,
        "urgent_title": title,
        "urgent_link": link_to("order", first.order.number),
        "line": line_graph(graph) if graph else "",
        "line_narrow": line_graph(graph, 340, "linen") if graph else "",
        "stays": stays(graph) if graph else [],
        "kit": kit,
        "kit_sentence": rule.sentence if rule else "",
        "rule": kit_rule(rule) if rule else "",
        "rule_narrow": kit_rule(rule, 340, "kitn") if rule else "",
    }


def _every_batch(request: HttpRequest, desk: Desk, usual: dict[int, Usual]) -> dict[str, Any]:
    """The filtered table, fifty batches a page."""
    form = Filter(request.GET)
    page = Paginator(chosen(form, desk, usual), PAGE).get_page(request.GET.get("page"))
    asked = request.GET.copy()
    asked.pop("page", None)
    site_id = site_asked(form)
    rows = rows_of(whereabouts(page.object_list), usual, desk, site_id)
    context = {"filter": form, "page": page, "asked": asked.urlencode(), "table": BatchTable(rows)}
    if site_id and not form.cleaned_data["only"]:
        name = usual[site_id].site.name
        context |= {"starts_there": starts_at(site_id).count(), "starts_name": name, "starts_site": site_id}
    return context
