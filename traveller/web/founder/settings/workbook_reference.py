"""What may stand in a workbook, as a page and as an empty workbook that explains itself."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from traveller.exchange.workbook import kinds_said, sheets_said, template_xlsx
from traveller.exchange.workbook.reference import ColumnSaid
from traveller.web.founder.desk.frame import Desk, founder_page, show
from traveller.web.founder.settings.workbook import SHEETS_TYPE
from traveller.web.tables import PaperTable, TableColumn


class ColumnTable(PaperTable):
    """The columns of a sheet, or those that a kind of check reads."""

    name = TableColumn(verbose_name=gettext_lazy("Column"))
    meaning = TableColumn(verbose_name=gettext_lazy("Meaning"))
    holds = TableColumn(verbose_name=gettext_lazy("Holds"))
    unit = TableColumn(verbose_name=gettext_lazy("Unit"))
    empty = TableColumn(verbose_name=gettext_lazy("Empty cell"))
    example = TableColumn(verbose_name=gettext_lazy("Example"))


class CellTable(PaperTable):
    """One row of a sheet, a cell a line."""

    column = TableColumn(verbose_name=gettext_lazy("Column"))
    cell = TableColumn(verbose_name=gettext_lazy("Cell"))


def _table(columns: Iterable[ColumnSaid]) -> ColumnTable:
    rows = [
        {
            "name": column.name,
            "meaning": column.meaning,
            "holds": ", ".join(column.words) or column.takes,
            "unit": column.unit,
            "empty": column.empty,
            "example": column.example,
        }
        for column in columns
    ]
    return ColumnTable(rows, orderable=False)


def _cells(row: dict[str, str]) -> CellTable:
    return CellTable([{"column": name, "cell": cell} for name, cell in row.items()], orderable=False)


@founder_page
@require_safe
def workbook_reference(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every sheet and column, every kind of check with a worked row."""
    sheets, kinds = sheets_said(), kinds_said()
    counts = {"sheets": len(sheets), "kinds": len(kinds)}
    context: dict[str, Any] = {
        "section": "workbook",
        "title": _("What a workbook holds"),
        "sentence": _("A workbook has %(sheets)s sheets and knows %(kinds)s kinds of check.") % counts,
        "sheets": [{"said": sheet, "table": _table(sheet.columns)} for sheet in sheets],
        "kinds": [{"said": kind, "table": _table(kind.columns), "row": _cells(dict(kind.example))} for kind in kinds],
    }
    return show(request, desk, "settings/workbook_reference.html", context)


@founder_page
@require_safe
def workbook_template(request: HttpRequest, desk: Desk) -> HttpResponse:
    """An empty workbook with every heading explained: imported as it is, it brings nothing."""
    answer = HttpResponse(template_xlsx(), content_type=SHEETS_TYPE)
    answer["Content-Disposition"] = 'attachment; filename="workbook-template.xlsx"'
    return answer
