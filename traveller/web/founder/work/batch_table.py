"""The table of every batch: a row for each place where its pieces lie."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django import forms
from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from sites.models import Site, SiteKind
from traveller.batches.models import Batch, Step, StepState
from traveller.batches.reads.begun import begun, is_unfinished, on_visit, starts_at, unfinished
from traveller.batches.reads.queries import LYING, Lie, Whereabouts, open_batches
from traveller.ledger.models import Account, Hold
from traveller.web.founder.desk.frame import Desk, link_to
from traveller.web.founder.orders.order_reads import day
from traveller.web.founder.work.places import idle_words, place_words, then_words
from traveller.web.founder.work.usual import Usual, days_words, overstays, usual_words
from traveller.web.tables import PaperTable, TableColumn
from traveller.web.templatetags.look import code, mark, whole

PAGE = 50


@dataclass(frozen=True, slots=True)
class _BatchRow:
    """One line of the table."""

    batch: SafeString
    what: str
    where: str
    good: SafeString | str
    here_for: str
    usually: str
    then: str
    due: SafeString | str


class _Figures(TableColumn):
    css = "n"


class BatchTable(PaperTable):
    """Every batch, as the founder's first page and the order pages list them."""

    batch = TableColumn(verbose_name=lazy("Batch"))
    what = TableColumn(verbose_name=lazy("What"))
    where = TableColumn(verbose_name=lazy("Where it is"))
    good = _Figures(verbose_name=lazy("Good"))
    here_for = _Figures(verbose_name=lazy("Here for"))
    usually = _Figures(verbose_name=lazy("Usually"))
    then = TableColumn(verbose_name=lazy("Then"))
    due = TableColumn(verbose_name=lazy("Due"))

    def __init__(self, rows: Iterable[_BatchRow], **kwargs: object) -> None:
        super().__init__(rows, orderable=False, empty_text=_("No batch fits."), **kwargs)


class Filter(forms.Form):
    """What of the batches is shown; everything may be left out."""

    q = forms.CharField(required=False, max_length=60, label=lazy("Part, order or code"))
    site = forms.ModelChoiceField(
        Site.objects.exclude(kind=SiteKind.SUPPLIER), required=False, label=lazy("Site"), empty_label=lazy("every site")
    )
    only = forms.ChoiceField(
        required=False,
        label=lazy("Only"),
        choices=[
            ("", lazy("all that are open")),
            ("waiting", lazy("not begun")),
            ("late", lazy("late")),
            ("long", lazy("longer than usual at a shop")),
            ("held", lazy("held")),
            ("every", lazy("used up too")),
        ],
    )


def chosen(form: Filter, desk: Desk, usual: dict[int, Usual]) -> QuerySet[Batch]:
    """The batches that a filter lets through, due first."""
    rows = open_batches().defer("part__picture")
    reported = form.cleaned_data if form.is_valid() else {}
    if text := str(reported.get("q") or "").strip():
        bare = text.replace("-", "")
        rows = rows.filter(
            Q(code__icontains=bare) | Q(part__name__icontains=text) | Q(part__variant__icontains=text)
            | Q(part__number__icontains=text) | Q(shares__line__order__number__icontains=text)
        ).distinct()  # fmt: skip
    lying = Account.objects.filter(lot=OuterRef("lot"), condition__in=LYING, balance__gt=0)
    ahead = Step.objects.filter(batch=OuterRef("pk")).exclude(state=StepState.DONE)
    only = reported.get("only")
    if (site := reported.get("site")) and only == "waiting":
        rows = rows.filter(pk__in=starts_at(site.pk).values("pk"))
    elif site:
        started = Step.objects.filter(batch=OuterRef("pk"), site=site).exclude(state=StepState.WAITING)
        rows = rows.filter(Exists(lying.filter(site=site)) | (Q(lot=None) & Exists(started)))
    elif only == "waiting":
        rows = rows.exclude(begun())
    if only == "late":
        rows = rows.filter(unfinished(), due_on__lt=desk.today)
    elif only == "long":
        rows = rows.filter(lot__in=[row.lot_id for row in overstays(usual, desk.now)])
    elif only == "held":
        rows = rows.filter(Exists(Hold.objects.filter(lot=OuterRef("lot"), closed_at=None)))
    if only != "every":
        rows = rows.filter(Exists(lying) | Exists(ahead))
    return rows.order_by(F("due_on").asc(nulls_last=True), "id")


def site_asked(form: Filter) -> int | None:
    """The site that the table is narrowed to."""
    site = form.cleaned_data.get("site") if form.is_valid() else None
    return site.pk if site else None


def rows_of(
    found: Iterable[Whereabouts], usual: dict[int, Usual], desk: Desk, site_id: int | None = None
) -> list[_BatchRow]:
    """The lines of the table, in the order of the batches; with a site, only what lies there."""
    rows = []
    for row in found:
        there = [lie for lie in row.lies if site_id in (None, lie.site_id)]
        rows += [_lying(row, lie, usual[lie.site_id], desk) for lie in there] or [_idle(row, desk)]
    return rows


def _lying(row: Whereabouts, lie: Lie, usual: Usual, desk: Desk) -> _BatchRow:
    visit = on_visit(row, lie)
    since = usual.here_since(row.batch.lot_id, lie.since) if visit else lie.since
    here = days_words(usual.worked(since, desk.now)) if since else "–"
    return _BatchRow(
        batch=_code(row.batch),
        what=row.batch.part.title,
        where=place_words(row, lie),
        good=_good(row, lie.quantity),
        here_for=format_html("<b>{}</b>", here) if visit and usual.is_over(since, desk.now) else here,
        usually=usual_words(usual.stay) if visit else "–",
        then=then_words(row, lie),
        due=due_words(row.batch.due_on, desk.today, late=is_unfinished(row)),
    )


def _idle(row: Whereabouts, desk: Desk) -> _BatchRow:
    return _BatchRow(
        batch=_code(row.batch), what=row.batch.part.title, where=idle_words(row), good="–", here_for="–", usually="–",
        then="", due=due_words(row.batch.due_on, desk.today, late=is_unfinished(row)),
    )  # fmt: skip


def _code(batch: Batch) -> SafeString:
    return format_html('<a href="{}">{}</a>', link_to("batch", batch.code), code(batch.code))


def _good(row: Whereabouts, quantity: int) -> SafeString | str:
    if not row.holds:
        return whole(quantity)
    return format_html("<span>{} {}</span>", whole(quantity), mark("held"))


def due_words(due: date | None, today: date, *, late: bool = True) -> SafeString | str:
    """The day, with a mark when it is past; not `late`: nothing is to be done any more."""
    if due is None:
        return "–"
    when = format_html('<time datetime="{}">{}</time>', due.isoformat(), day(due, today))
    return format_html("<span>{} {}</span>", mark("late"), when) if late and due < today else when
