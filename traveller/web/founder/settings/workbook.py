"""The workbook: tried first with every fault named at once, then imported as it was tried; and the way out again."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from datetime import timedelta
from pathlib import Path
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from sites.models import Site
from traveller.exchange.kept import Aim, ImportAsked, Told
from traveller.exchange.tasks import ask_for_import, imports_silent_since
from traveller.exchange.workbook import Problem, Report, Unconfirmed, as_zip, consequences, from_database, write_xlsx
from traveller.journal.event_context import EventContext
from traveller.journal.refusal import Refusal
from traveller.orders.models import Order
from traveller.products.models import Part
from traveller.web.door import attempt
from traveller.web.founder.desk.frame import Desk, event_context_of, founder_page, show
from traveller.web.founder.desk.listing import answer_again, back_to
from traveller.web.founder.settings.kept_upload import Kept, keep, kept_for
from traveller.web.tables import NumberColumn, PaperTable, TableColumn

# So long nothing may be done in the lane before somebody is told.
PATIENCE = timedelta(minutes=1)
SHEETS_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
WARNINGS_KEPT_MOST = 100


class ProblemTable(PaperTable):
    """Every fault: where it is, what was found, what is wrong, what would be right."""

    sheet = TableColumn(verbose_name=gettext_lazy("Sheet"))
    row = NumberColumn(verbose_name=gettext_lazy("Row"))
    column = TableColumn(verbose_name=gettext_lazy("Column"))
    found = TableColumn(verbose_name=gettext_lazy("Found"))
    wrong = TableColumn(verbose_name=gettext_lazy("Wrong"))
    right = TableColumn(verbose_name=gettext_lazy("Right"))


class CountTable(PaperTable):
    """What happens, or happened, to each sheet's rows."""

    sheet = TableColumn(verbose_name=gettext_lazy("Sheet"))
    added = NumberColumn(verbose_name=gettext_lazy("Added"))
    changed = NumberColumn(verbose_name=gettext_lazy("Changed"))
    removed = NumberColumn(verbose_name=gettext_lazy("Removed"))
    unchanged = NumberColumn(verbose_name=gettext_lazy("As it was"))


@founder_page
@require_http_methods(["GET", "POST"])
def workbook(request: HttpRequest, desk: Desk) -> HttpResponse:
    """GET offers upload and download, and shows what became of an upload; POST has one tried, which changes nothing."""
    if request.method == "GET":
        if "upload" in request.GET:
            return _look(request, desk, kept_for(request, request.GET["upload"]))
        return show(request, desk, "settings/workbook.html", _page(_sentence()))
    kept = keep(request, request.FILES.getlist("files"))
    if isinstance(kept, Refusal):
        return answer_again(request, desk, "settings/workbook.html", _page(_sentence()), kept)
    return _ask(request, desk, kept, "try")


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


def _look(request: HttpRequest, desk: Desk, kept: Kept | None) -> HttpResponse:
    """An upload as it is by now."""
    asked = kept.asked() if kept else None
    if kept is None or asked is None:
        return answer_again(request, desk, "settings/workbook.html", _page(_sentence()), Refusal("upload_gone"))
    reported = kept.reported()
    return _waits(request, desk, kept, asked) if reported is None else _became(request, desk, kept, reported)


def _ask(request: HttpRequest, desk: Desk, kept: Kept, aim: Aim, confirmed: str = "") -> HttpResponse:
    """Ask for it to be tried or imported; the answer waits for nothing, and shows what is there already."""
    event_context = event_context_of(request, desk)
    found = (
        event_context
        if isinstance(event_context, Refusal)
        else attempt(_asked, kept=kept, aim=aim, event_context=event_context, confirmed=confirmed)
    )
    if isinstance(found, Refusal):
        context = _page(_sentence(), kept=kept if aim == "import" else None)
        return answer_again(request, desk, "settings/workbook.html", context, found)
    reported = kept.reported()
    if reported is None or (aim == "import" and reported.report is not None):
        return _to(kept)
    return _became(request, desk, kept, reported)


def _asked(kept: Kept, aim: Aim, event_context: EventContext, confirmed: str) -> Refusal | None:
    try:
        ask_for_import(kept, aim, event_context, confirmed)
    except OSError:
        return Refusal("disk_full")
    return None


def _to(kept: Kept) -> HttpResponse:
    """To the page of this upload."""
    there = back_to("workbook")
    there["Location"] += f"?upload={kept.key}"
    return there


def _waits(request: HttpRequest, desk: Desk, kept: Kept, asked: ImportAsked) -> HttpResponse:
    """Being read: the page looks again by itself until something came of it."""
    if asked.aim == "try":
        sentence = _("%(name)s is being read and tried.") % {"name": kept.title}
    else:
        sentence = _("%(name)s is being imported.") % {"name": kept.title}
    silent = imports_silent_since(asked, desk.now, PATIENCE)
    return show(request, desk, "settings/workbook.html", _page(sentence, waits=kept, silent_since=silent))


def _became(request: HttpRequest, desk: Desk, kept: Kept, reported: Told) -> HttpResponse:
    """What came of it: what the import would do or did, or all that is wrong."""
    again = kept if reported.aim == "import" and kept.is_there() else None
    if reported.broke or reported.refusal:
        refusal = reported.refusal or Refusal("upload_broke")
        return answer_again(request, desk, "settings/workbook.html", _page(_sentence(), kept=again), refusal)
    if reported.asked:
        sentence = _("%(name)s asks what nobody has confirmed yet; nothing was imported.") % {"name": kept.title}
        return show(request, desk, "settings/workbook.html", _page(sentence, kept=again) | _questions(reported.asked))
    if reported.report is None:
        return _faults(request, desk, kept, list(reported.problems))
    found = reported.report
    if reported.aim == "import":
        messages.success(request, _("%(name)s is imported.") % {"name": kept.title})
        # Said even where nothing was new, so that nothing of it stands in the journal.
        return show(
            request, desk, "settings/workbook.html", _page(_sentence(), confirmed=reported.uid) | _report(_plain(found))
        )
    if found.changes_nothing:
        sentence = _("%(name)s says nothing new: every row is there already.") % {"name": kept.title}
    elif found.asked:
        sentence = _("%(name)s has no fault, but something to confirm. Look at it, then import it.") % {
            "name": kept.title
        }
    else:
        sentence = _("%(name)s has no fault. Look at what it would change, then import it.") % {"name": kept.title}
    wanted = kept if kept.is_there() and not found.changes_nothing else None
    context = _page(sentence, kept=wanted, tried=True) | _report(_plain(found)) | _questions(found.asked)
    return show(request, desk, "settings/workbook.html", context)


def _questions(asked: Unconfirmed | None) -> dict[str, Any]:
    """What is asked, and what the button that confirms it does."""
    if asked is None:
        return {}
    rows = [_problem(question) for question in asked.questions]
    return {
        "questions": ProblemTable(rows, orderable=False, prefix="q-"),
        "token": asked.token,
        "consequences": consequences(asked.questions),
    }


def _faults(request: HttpRequest, desk: Desk, kept: Kept, found: list[Problem]) -> HttpResponse:
    faults = ngettext("%(n)s fault", "%(n)s faults", len(found)) % {"n": f"{len(found):,}"}
    sentence = _("%(name)s has %(faults)s; nothing was imported.") % {"name": kept.title, "faults": faults}
    table = ProblemTable([_problem(problem) for problem in found], orderable=False, prefix="f-")
    return show(request, desk, "settings/workbook.html", _page(sentence, problems=table), status=422)


def _problem(problem: Problem) -> dict[str, Any]:
    return {name: getattr(problem, name) for name in ("sheet", "row", "column", "found", "wrong", "right")}


def _plain(report: Report) -> dict[str, Any]:
    """A report as the page shows it."""
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


def _report(report: dict[str, Any]) -> dict[str, Any]:
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
    kept = kept_for(request, request.POST.get("key", ""))
    reported = kept.reported() if kept else None
    if (
        kept
        and reported
        and reported.aim == "import"
        and reported.report
        and reported.uid == request.POST.get("news_id")
    ):
        return _to(kept)
    if kept is None or not kept.is_there():
        return answer_again(request, desk, "settings/workbook.html", _page(_sentence()), Refusal("upload_gone"))
    return _ask(request, desk, kept, "import", request.POST.get("confirmed", ""))


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
