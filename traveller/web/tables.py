"""The base of every table: django-tables2 for columns, sorting and paging; rows set by us.

Rendering cells through template attributes is what makes such tables slow, so a column's opening tag is made once
and a row is joined text. Dates, codes and numbers are plain columns here, never template columns.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from inspect import signature
from typing import Any

import django_tables2
from django.core.exceptions import FieldDoesNotExist
from django.db.models import Model
from django.utils import formats
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe

from traveller.web.templatetags.look import code, moment, whole


class TableColumn(django_tables2.Column):  # type: ignore[misc]
    """A column of words. `css` is the class of its cells."""

    css = ""


class NumberColumn(TableColumn):
    """Whole numbers: to the right, with the reader's thousands mark."""

    css = "n"

    def render(self, value: int) -> str:
        """Return the number as the reader writes it."""
        return whole(value)


class CodeColumn(TableColumn):
    """Short codes in groups; `linkify=` makes them lead somewhere."""

    def render(self, value: object) -> SafeString:
        """Return the code in its monospaced groups."""
        return code(value)


class MomentColumn(TableColumn):
    """Moments in the zone in force, the month as a word."""

    def render(self, value: datetime) -> SafeString:
        """Return the moment as a time element."""
        return moment(value)


class DayColumn(TableColumn):
    """Days, the month as a word."""

    def render(self, value: date) -> SafeString:
        """Return the day as a time element."""
        return format_html('<time datetime="{}">{}</time>', value.isoformat(), formats.date_format(value, "j M Y"))


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
        rows = list(self.paginated_rows)
        if not rows:
            return SafeString("")
        columns = [
            (_reader(bound, rows[0].record), *_tags(bound, head=place == 0)) for place, bound in enumerate(self.columns)
        ]
        return mark_safe("\n".join(_row(row, columns) for row in rows))


_Reader = Callable[[Any], Any]


def _reader(bound: Any, record: object) -> _Reader:
    """Return what reads a cell of this column from a row.

    The library looks at a renderer's signature again for each cell, which is most of its cost. Where the renderer
    wants only the value we look once; every other column is left to the library.
    """
    if list(signature(bound.render).parameters) != ["value"] or _has_choices(bound.accessor, record):
        return lambda row: row.get_cell(bound.name)
    resolve, render, link = bound.accessor.resolve, bound.render, bound.link
    nothing, default = bound.column.empty_values, bound.default

    def read(row: Any) -> Any:
        try:
            value = resolve(row.record)
        except (AttributeError, KeyError, ValueError, TypeError, IndexError):
            return default  # as the library does: what cannot be reached is missing
        if value in nothing:
            return default
        shown = render(value=value)
        if link is None:
            return shown
        whole_cell = {"value": value, "record": row.record, "column": bound.column, "table": row.table}
        return link(shown, bound_column=bound, bound_row=row, **whole_cell)

    return read


def _has_choices(accessor: Any, record: object) -> bool:
    """Return whether the column shows a model field's choice, which the library puts into words."""
    try:
        field = accessor.get_field(record) if isinstance(record, Model) else None
    except (FieldDoesNotExist, AttributeError):
        return False
    return bool(getattr(field, "choices", None))


def _tags(bound: Any, *, head: bool) -> tuple[str, str]:
    """Return a column's opening and closing tag."""
    css = getattr(bound.column, "css", "")
    name, scope = ("th", ' scope="row"') if head else ("td", "")
    label = "" if head else f' data-label="{conditional_escape(bound.header)}"'
    return f"<{name}{scope}{f' class={chr(34)}{css}{chr(34)}' if css else ''}{label}>", f"</{name}>"


def _row(row: Any, columns: list[tuple[_Reader, str, str]]) -> str:
    """Return one row; every cell is escaped unless its column returned safe text."""
    return f"<tr>{''.join(start + conditional_escape(read(row)) + end for read, start, end in columns)}</tr>"
