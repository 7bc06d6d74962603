"""The base of every table: django-tables2 for columns, sorting and paging; rows set by us.

Rendering cells through template attributes is what makes such tables slow, so a column's opening tag is made once
and a row is joined text. Dates, codes and numbers are plain columns here, never template columns.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any

import django_tables2
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe

from traveller.web.templatetags.look import code, moment, whole


class Column(django_tables2.Column):  # type: ignore[misc]
    """A column of words. `css` is the class of its cells."""

    css = ""


class NumberColumn(Column):
    """Whole numbers: to the right, with the reader's thousands mark."""

    css = "n"

    def render(self, value: int) -> str:
        """Return the number as the reader writes it."""
        return whole(value)


class CodeColumn(Column):
    """Short codes in groups; `linkify=` makes them lead somewhere."""

    def render(self, value: object) -> SafeString:
        """Return the code in its monospaced groups."""
        return code(value)


class MomentColumn(Column):
    """Moments in the zone in force, the month as a word."""

    def render(self, value: datetime) -> SafeString:
        """Return the moment as a time element."""
        return moment(value)


class DayColumn(Column):
    """Days, the month as a word."""

    def render(self, value: date) -> SafeString:
        """Return the day as a time element."""
        return format_html('<time datetime="{}">{} {:%b %Y}</time>', value.isoformat(), value.day, value)


class PaperTable(django_tables2.Table):  # type: ignore[misc]
    """The table that every list page derives from. On a phone each row becomes a small card."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        # Not in Meta: a table that says something in its own Meta would silently lose what stands in ours.
        kwargs.setdefault("template_name", "web/parts/table.html")
        kwargs.setdefault("attrs", {"class": "paper paper-cards"})
        kwargs.setdefault("default", "–")
        super().__init__(*args, **kwargs)

    @property
    def css(self) -> str:
        """Return the class of the table element."""
        return str(self.attrs.get("class", "paper"))

    def heads(self) -> list[dict[str, Any]]:
        """Return each column's heading with its sorting, for the table's head."""
        return [
            {
                "words": bound.header,
                "css": getattr(bound.column, "css", ""),
                "next": bound.order_by_alias.next if bound.orderable else "",
                "sort": ("descending" if bound.order_by_alias.is_descending else "ascending")
                if bound.is_ordered
                else "",
            }
            for bound in self.columns
        ]

    def body(self) -> SafeString:
        """Return the rows; the first column is each row's heading."""
        columns = [(bound.name, *_tags(bound, head=place == 0)) for place, bound in enumerate(self.columns)]
        rows = self.paginated_rows
        return mark_safe("\n".join(_row(row.get_cell, columns) for row in rows))


def _tags(bound: Any, *, head: bool) -> tuple[str, str]:
    """Return a column's opening and closing tag."""
    css = getattr(bound.column, "css", "")
    name, scope = ("th", ' scope="row"') if head else ("td", "")
    label = "" if head else f' data-label="{conditional_escape(bound.header)}"'
    return f"<{name}{scope}{f' class={chr(34)}{css}{chr(34)}' if css else ''}{label}>", f"</{name}>"


def _row(cell: Callable[[str], Any], columns: list[tuple[str, str, str]]) -> str:
    """Return one row; every cell is escaped unless its column returned safe text."""
    return f"<tr>{''.join(start + conditional_escape(cell(name)) + end for name, start, end in columns)}</tr>"
