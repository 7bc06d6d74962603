"""Customer orders: what was ordered, how far it is, and which batches serve it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.core.paginator import Paginator
from django.db.models import Prefetch
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from traveller.batches.reads.queries import Whereabouts, whereabouts
from traveller.orders import queries
from traveller.orders.models import Order, OrderLine
from traveller.orders.queries import LineRow, OrderOverview
from traveller.orders.short import Lookout, Outlook, look_out
from traveller.shipping.models import Carton
from traveller.web.founder.desk.frame import Desk, founder_page, link_to, show
from traveller.web.founder.orders.line_words import lines_and_causes, state_phrases
from traveller.web.founder.orders.order_line import end_of, order_graph, stays
from traveller.web.founder.orders.order_reads import day, is_late, open_orders, owed, telling_batches, title_of
from traveller.web.founder.today.missing_parts import missing_lines
from traveller.web.founder.today.opening import number_words
from traveller.web.founder.work.batch_table import BatchTable, due_words, rows_of
from traveller.web.founder.work.usual import every_site
from traveller.web.pictures.line_graph import line_graph
from traveller.web.tables import NumberColumn, PaperTable, TableColumn
from traveller.web.templatetags.look import whole

PAGE = 50
# Lines of an order that its sentence speaks of.
TOLD_MOST = 3


@dataclass(frozen=True, slots=True)
class OrderLineRow:
    """A line of an order as the lists show it."""

    order: str
    customer: str
    what: str
    wanted: int
    released: int
    packed: int
    shipped: int
    to_follow: int
    due: SafeString | str
    expected: int | None
    state: str


class OrderTable(PaperTable):
    """Every line of every order in the list."""

    order = TableColumn(
        verbose_name=lazy("Order"), linkify=lambda record: link_to("order", record.order), orderable=False
    )
    customer = TableColumn(verbose_name=lazy("Customer"), orderable=False)
    what = TableColumn(verbose_name=lazy("What"), orderable=False)
    wanted = NumberColumn(verbose_name=lazy("Wanted"), orderable=False)
    released = NumberColumn(verbose_name=lazy("Released"), orderable=False)
    packed = NumberColumn(verbose_name=lazy("Packed"), orderable=False)
    shipped = NumberColumn(verbose_name=lazy("Shipped"), orderable=False)
    to_follow = NumberColumn(verbose_name=lazy("To follow"), orderable=False)
    expected = NumberColumn(verbose_name=lazy("Expected"), orderable=False)
    due = TableColumn(verbose_name=lazy("Due"), orderable=False)
    state = TableColumn(verbose_name=lazy("State"), orderable=False)


def state_words(row: LineRow, outlook: Outlook | None, today: date) -> str:
    """Where the pieces are that are to follow of a line, in figures."""
    if not row.to_follow:
        return _("shipped in full")
    if outlook is None:
        return _("closed, %(n)s not shipped") % {"n": whole(row.to_follow)}
    late = _(", late") if row.line.due_on < today else ""
    return ", ".join(state_phrases(outlook)) + late


def line_rows(rows: list[OrderOverview], lookout: Lookout, today: date) -> list[OrderLineRow]:
    """A row a line, in the order given; closed orders have no outlook."""
    return [
        OrderLineRow(
            order=row.order.number,
            customer=row.order.customer,
            what=line.line.part.title,
            wanted=line.wanted,
            released=line.released,
            packed=line.packed,
            shipped=line.shipped,
            to_follow=line.to_follow,
            expected=outlook.expected if (outlook := lookout.lines.get(line.line.pk)) else None,
            due=due_words(line.line.due_on, today) if line.to_follow else day(line.line.due_on, today),
            state=state_words(line, outlook, today),
        )
        for row in rows
        for line in row.lines
    ]


@founder_page
@require_safe
def orders(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Open orders, the most urgent first; closed ones when asked for."""
    closed = request.GET.get("only") == "closed"
    rows = queries.orders(closed=True) if closed else open_orders()
    page = Paginator(rows, PAGE).get_page(request.GET.get("page"))
    lookout = Lookout() if closed else look_out(desk.today)
    unreleased = [] if closed else queries.unreleased_lines()
    context = {
        "section": "orders",
        "sentence": _list_sentence(rows, lookout, desk.today, closed=closed),
        "closed": closed,
        "page": page,
        "asked": "only=closed" if closed else "",
        "table": OrderTable(line_rows(list(page.object_list), lookout, desk.today)),
        "unreleased": unreleased,
        "plan_link": link_to("plan"),
    }
    return show(request, desk, "orders/orders.html", context)


def _list_sentence(rows: list[OrderOverview], lookout: Lookout, today: date, *, closed: bool) -> str:
    if closed:
        return ngettext("%(n)s order is closed.", "%(n)s orders are closed.", len(rows)) % {"n": len(rows)}
    if not rows:
        return _("No order is open.")
    n = number_words(len(rows))
    text = ngettext("%(n)s order is open", "%(n)s orders are open", len(rows)) % {"n": n}
    late = [row.order.number for row in rows if is_late(row, today)]
    if late:
        reported = ngettext("%(which)s is late", "%(which)s are late", len(late)) % {"which": ", ".join(late[:5])}
    else:
        reported = _("none is late")
    lacking = dict.fromkeys(line.order.number for short in lookout.short for line, _n in short.lines)
    if lacking:
        figures = {"which": ", ".join(list(lacking)[:5])}
        reported += "; " + _("pieces are missing for %(which)s") % figures
    return f"{text[:1].upper()}{text[1:]}; {reported}."


@founder_page
@require_safe
def order(request: HttpRequest, desk: Desk, number: str) -> HttpResponse:
    """One order: its lines, its line graph, its batches, its cartons."""
    lines = OrderLine.objects.select_related("part").defer("part__picture").order_by("number")
    found = Order.objects.filter(number=number).prefetch_related(Prefetch("lines", lines)).first()
    if found is None:
        raise Http404
    row = OrderOverview(found, tuple(LineRow(line) for line in found.lines.all()))
    usual = every_site(desk.now)
    page = Paginator(queries.batches_of(found.pk).defer("part__picture"), PAGE).get_page(request.GET.get("page"))
    batches = telling_batches(found.pk)
    # Read together: what is told of is mostly what is listed.
    places = {place.batch.pk: place for place in whereabouts([*page.object_list, *batches])}
    reported = [places[batch.pk] for batch in batches]
    lookout = look_out(desk.today)
    sentence = _sentence(row, lookout, reported, desk.today)
    graph = order_graph(desk, batches, usual, sentence, end_of(row.due_on, desk) if row.due_on else None)
    left = [line for line in row.lines if line.line.quantity > max(line.released, line.packed)]
    context = {
        "section": "orders",
        "title": _("Order %(number)s") % {"number": number},
        "sentence": sentence,
        "row": row,
        "order": found,
        "lines": OrderTable(line_rows([row], lookout, desk.today)),
        "left": left if found.closed_at is None else [],
        "plan_link": link_to("plan"),
        "missing": missing_lines(lookout.of_order(found.pk)),
        "line": line_graph(graph) if graph else "",
        "line_narrow": line_graph(graph, 340, "linen") if graph else "",
        "stays": stays(graph) if graph else [],
        "batches": BatchTable(rows_of([places[batch.pk] for batch in page.object_list], usual, desk)),
        "page": page,
        "cartons": Carton.objects.filter(line__order=found, opened_event=None)
        .select_related("line__part", "shipment")
        .defer("line__part__picture"),
    }
    return show(request, desk, "orders/order.html", context)


def _sentence(row: OrderOverview, lookout: Lookout, found: list[Whereabouts], today: date) -> str:
    """Whether it is late, and how the pieces of each line stand that something is to follow of."""
    lines = sorted(owed(row), key=lambda line: (line.line.due_on, line.line.number))
    figures = {"order": row.order.number, "what": title_of(row), "day": day(row.due_on, today)}
    if not lines:
        return _("Order %(order)s: %(what)s, shipped in full.") % figures
    if is_late(row, today):
        told = [_("Order %(order)s is late (due %(day)s).") % figures]
    else:
        told = [_("Order %(order)s is due %(day)s.") % figures]
    outlooks = [lookout.lines[line.line.pk] for line in lines[:TOLD_MOST] if line.line.pk in lookout.lines]
    told += [f"{words}." for words in lines_and_causes(outlooks, lookout, found)]
    more = len(lines) - TOLD_MOST
    if more > 0:
        told.append(ngettext("%(n)s more line is to follow.", "%(n)s more lines are to follow.", more) % {"n": more})
    return " ".join(told)
