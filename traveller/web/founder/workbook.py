"""The workbook: tried first with every fault named at once, then imported as it was tried; and the way out again."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from sites.models import Site
from traveller.exchange.workbook import Problem, Report, as_zip, from_database, import_workbook, write_xlsx
from traveller.journal.refusal import Refusal
from traveller.orders.models import Order
from traveller.products.models import Part
from traveller.web.door import attempt
from traveller.web.founder.desk import Desk, founder_page, show, stamp_of
from traveller.web.founder.kept_upload import Kept, forget, keep, kept_for
from traveller.web.founder.listing import answer_again, back_to, told_in
from traveller.web.tables import Column, NumberColumn, PaperTable

REPORT_KEY = "workbook_report"
SHEETS_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
WARNINGS_KEPT_MOST = 100


class ProblemTable(PaperTable):
    """Every fault: where it is, what was found, what is wrong, what would be right."""

    sheet = Column(verbose_name=gettext_lazy("Sheet"))
    row = NumberColumn(verbose_name=gettext_lazy("Row"))
    column = Column(verbose_name=gettext_lazy("Column"))
    found = Column(verbose_name=gettext_lazy("Found"))
    wrong = Column(verbose_name=gettext_lazy("Wrong"))
    right = Column(verbose_name=gettext_lazy("Right"))


class CountTable(PaperTable):
    """What happens, or happened, to each sheet's rows."""

    sheet = Column(verbose_name=gettext_lazy("Sheet"))
    added = NumberColumn(verbose_name=gettext_lazy("Added"))
    changed = NumberColumn(verbose_name=gettext_lazy("Changed"))
    removed = NumberColumn(verbose_name=gettext_lazy("Removed"))
    unchanged = NumberColumn(verbose_name=gettext_lazy("As it was"))


@founder_page
@require_http_methods(["GET", "POST"])
def workbook(request: HttpRequest, desk: Desk) -> HttpResponse:
    """GET offers upload and download; POST tries an upload and changes nothing."""
    if request.method == "GET":
        told = told_in(request)
        report = request.session.get(REPORT_KEY) if told else None
        context = _page(_sentence(), confirmed=told)
        return show(request, desk, "workbook.html", context | (_told(report) if report else {}))
    kept = keep(request, request.FILES.getlist("files"))
    if isinstance(kept, Refusal):
        return answer_again(request, desk, "workbook.html", _page(_sentence()), kept)
    return _try(request, desk, kept)


def _page(sentence: str, **more: Any) -> dict[str, Any]:
    return {"section": "workbook", "title": _("Workbook"), "sentence": sentence, **more}


def _sentence() -> str:
    sites, parts, orders = Site.objects.count(), Part.objects.count(), Order.objects.filter(closed_at=None).count()
    if not sites:
        return _("Nothing is known yet. A workbook brings sites, parts, routings, orders and stock.")
    figures = {
        "sites": ngettext("%(n)s site", "%(n)s sites", sites) % {"n": sites},
        "parts": ngettext("%(n)s part", "%(n)s parts", parts) % {"n": parts},
        "orders": ngettext("%(n)s open order", "%(n)s open orders", orders) % {"n": orders},
    }
    return _("The record knows %(sites)s, %(parts)s and %(orders)s.") % figures


def _try(request: HttpRequest, desk: Desk, kept: Kept) -> HttpResponse:
    """Go all the way and take it back: what the import would do, or all that is wrong."""
    stamp = stamp_of(request, desk)
    found = stamp if isinstance(stamp, Refusal) else _import(kept, stamp, dry_run=True)
    if isinstance(found, Refusal):
        return answer_again(request, desk, "workbook.html", _page(_sentence()), found)
    if isinstance(found, list):
        return _faults(request, desk, kept, found)
    if found.changes_nothing:
        sentence = _("%(name)s says nothing new: every row is there already.") % {"name": kept.name}
    else:
        sentence = _("%(name)s has no fault. Look at what it would change, then import it.") % {"name": kept.name}
    context = _page(sentence, kept=kept if not found.changes_nothing else None, tried=True)
    return show(request, desk, "workbook.html", context | _told(_plain(found)))


def _import(kept: Kept, stamp: Any, *, dry_run: bool) -> Report | list[Problem] | Refusal:
    source = kept.open()
    if source is None:
        return Refusal("upload_gone")
    return attempt(import_workbook, source=source, stamp=stamp, dry_run=dry_run)


def _faults(request: HttpRequest, desk: Desk, kept: Kept, found: list[Problem]) -> HttpResponse:
    faults = ngettext("%(n)s fault", "%(n)s faults", len(found)) % {"n": f"{len(found):,}"}
    sentence = _("%(name)s has %(faults)s; nothing was imported.") % {"name": kept.name, "faults": faults}
    table = ProblemTable([_problem(problem) for problem in found], orderable=False, prefix="f-")
    return show(request, desk, "workbook.html", _page(sentence, problems=table), status=422)


def _problem(problem: Problem) -> dict[str, Any]:
    return {name: getattr(problem, name) for name in ("sheet", "row", "column", "found", "wrong", "right")}


def _plain(report: Report) -> dict[str, Any]:
    """A report as a session can keep it."""
    return {
        "counts": [
            {
                "sheet": sheet,
                "added": counts.added,
                "changed": counts.changed,
                "removed": counts.removed,
                "unchanged": counts.unchanged,
            }
            for sheet, counts in report.sheets.items()
        ],
        "warnings": grouped(report.warnings)[:WARNINGS_KEPT_MOST],
        "more": max(0, len(grouped(report.warnings)) - WARNINGS_KEPT_MOST),
    }


def grouped(warnings: Iterable[Problem]) -> list[dict[str, Any]]:
    """What is to be said of many rows alike is said once, with the first row and how many more."""
    alike: dict[tuple[str, str, str, str], list[Problem]] = {}
    for warning in warnings:
        alike.setdefault((warning.sheet, warning.column, warning.wrong, warning.right), []).append(warning)
    found = []
    for rows in alike.values():
        first = _problem(rows[0])
        if len(rows) > 1:
            figures = {"found": rows[0].found, "n": len(rows) - 1}
            first["found"] = (
                ngettext("%(found)s, and %(n)s row more", "%(found)s, and %(n)s rows more", len(rows) - 1) % figures
            )
        found.append(first)
    return found


def _told(report: dict[str, Any]) -> dict[str, Any]:
    warnings: Iterable[dict[str, Any]] = report["warnings"]
    return {
        "counts": CountTable(report["counts"], orderable=False, prefix="c-"),
        "warnings": ProblemTable(warnings, orderable=False, prefix="w-") if warnings else None,
        "more_warnings": report["more"],
    }


@founder_page
@require_POST
def import_kept(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Import what was tried, for good; what changed in the record meanwhile is judged again."""
    told = request.POST.get("news_id", "")
    kept = kept_for(request, request.POST.get("key", ""))
    if kept is None:
        if request.session.get(REPORT_KEY, {}).get("news_id") == told and told:
            return back_to("workbook", told=told)
        return answer_again(request, desk, "workbook.html", _page(_sentence()), Refusal("upload_gone"))
    stamp = stamp_of(request, desk)
    found = stamp if isinstance(stamp, Refusal) else _import(kept, stamp, dry_run=False)
    if isinstance(found, Refusal):
        return answer_again(request, desk, "workbook.html", _page(_sentence(), kept=kept), found)
    if isinstance(found, list):
        return _faults(request, desk, kept, found)
    request.session[REPORT_KEY] = {**_plain(found), "news_id": told}
    forget(request)
    messages.success(request, _("%(name)s is imported.") % {"name": kept.name})
    return back_to("workbook", told=told)


@founder_page
@require_safe
def export(request: HttpRequest, desk: Desk, kind: str) -> HttpResponse:
    """The record as a workbook: a zip of CSV files with the pictures, or one XLSX without them."""
    day = desk.today.isoformat()
    if kind == "zip":
        answer = HttpResponse(as_zip(from_database()), content_type="application/zip")
    else:
        with tempfile.TemporaryDirectory() as place:
            path = Path(place) / "workbook.xlsx"
            # Its pictures are named, though they do not travel: an import then leaves them as they are.
            write_xlsx(from_database(), path)
            answer = HttpResponse(path.read_bytes(), content_type=SHEETS_TYPE)
    answer["Content-Disposition"] = f'attachment; filename="workbook-{day}.{kind}"'
    return answer
