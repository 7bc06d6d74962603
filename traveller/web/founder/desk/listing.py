"""What the founder's lists share: fifty rows a page, quantities in people's units, answers that keep what was typed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar
from uuid import UUID

import django_tables2
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect
from django.utils.html import format_html
from django.utils.http import urlencode
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from traveller.journal.refusal import Refusal
from traveller.rules.units import BaseUnit, show_quantity
from traveller.web.answered import after_refusal
from traveller.web.founder.desk.frame import Desk, show
from traveller.web.tables import PaperTable, TableColumn
from traveller.web.templatetags.look import mark
from traveller.web.words import say

ROWS_A_PAGE = 50
T = TypeVar("T", bound=PaperTable)
# What is wrong with the form itself, not with the world: the answer's status says so.
BAD_INPUT = {"form_without_id", "not_a_quantity", "reason_needed"}
BAD_INPUT |= {"time_unreadable", "time_in_the_future", "time_long_past"}


class AmountColumn(TableColumn):
    """Quantities already written in people's units: to the right."""

    css = "n"


class MarkColumn(TableColumn):
    """A mark with its word, and words behind it: the value is (kind, word, words) or none."""

    def render(self, value: tuple[Any, str, str]) -> SafeString:
        """Return shape and word, then why."""
        kind, word, words = value
        shape = mark(kind, word) if kind else SafeString("")
        if not words:
            return shape
        # One element: on a phone the cell is a grid and would set mark and words on two rows.
        return format_html('<span>{}{}<span class="soft">{}</span></span>', shape, " " if kind else "", words)


def on_page(request: HttpRequest, table: T) -> T:
    """Sort and page a table as the address asks; an impossible page shows the nearest one."""
    django_tables2.RequestConfig(request, paginate={"per_page": ROWS_A_PAGE}).configure(table)
    return table


def page_rows(table: PaperTable) -> list[Any]:
    """The records of the page in sight, the very objects that will be rendered."""
    return [row.record for row in table.paginated_rows]


def amount(quantity: int, unit: str) -> str:
    """A quantity as people say it; pieces stand without a unit."""
    return show_quantity(quantity, _base(unit))


def typed_amount(reported: Mapping[str, Any], unit: str) -> str:
    """A quantity as it was told; where it was converted, as it was typed and what that is: "55 lb = 24.948 kg"."""
    shown, typed = amount(reported["quantity"], unit), reported.get("typed")
    return f"{typed} = {shown}" if typed else shown


def amount_or_none(quantity: int, unit: str) -> str | None:
    """A quantity, or nothing where there is none: a table shows a dash."""
    return amount(quantity, unit) if quantity else None


def _base(unit: str) -> BaseUnit:
    return unit  # type: ignore[return-value]


def back_to(name: str, *args: object, reported: object = None) -> HttpResponseRedirect:
    """After an action: to a page that shows what came of it; `reported` lets the device forget what it kept."""
    there = redirect(name, *args)
    if reported is not None:
        there["Location"] = f"{there.url}?{urlencode({'told': str(reported)})}"
    assert isinstance(there, HttpResponseRedirect)
    return there


def reported_in(request: HttpRequest) -> str:
    """The id of the news that this page confirms, if any."""
    try:
        return str(UUID(request.GET.get("told", "")))
    except ValueError:
        return ""


def answer_again(
    request: HttpRequest,
    desk: Desk,
    template: str,
    context: Mapping[str, Any],
    refusal: Refusal | None = None,
) -> HttpResponse:
    """The form once more, with what was typed: 409 for a refusal, 422 for what can't be read."""
    kept: dict[str, object] = {"news_id": request.POST.get("news_id", ""), "bound": True}
    if refusal is None:
        words = gettext("Nothing was recorded yet. Look at what is marked below.")
        return show(request, desk, template, {**context, **kept, "refusal": words}, status=422)
    status = 422 if refusal.code in BAD_INPUT else 409
    words = say(refusal.code, refusal.figures)
    kept |= after_refusal(refusal, request.POST.get("news_id", ""))
    return show(request, desk, template, {**context, **kept, "refusal": words}, status=status)
