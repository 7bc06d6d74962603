"""Rows read and written with plain SQL.

Django builds and compiles each query anew, which costs many times what the database then does (`manage.py bench`
measures it). A report from a shop is what a server does most, so what it reads and writes goes this way; everything
else uses the ORM as usual. Of Django's models only what its documentation promises is asked: `_meta` and `from_db`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterable, Sequence
from datetime import UTC, date, datetime
from functools import lru_cache
from typing import Any, Generic, TypeVar, cast
from uuid import UUID

import psycopg
from django.db import DEFAULT_DB_ALIAS, connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import (
    BinaryField,
    BooleanField,
    CharField,
    DateField,
    DateTimeField,
    Field,
    ForeignKey,
    IntegerField,
    JSONField,
    Model,
    TextField,
    UUIDField,
)

M = TypeVar("M", bound=Model)
# A field's attribute, and what makes a database's value of it.
_Column = tuple[str, "Callable[[Any, BaseDatabaseWrapper], Any] | None"]
# The place of a column, and what makes of a database's value what its field holds.
_Reader = tuple[int, Callable[[Any], Any]]


def run_sql(sql: str, values: Sequence[Any]) -> list[tuple[Any, ...]]:
    """Do one statement by the driver itself and fetch what it returns; marks are %s on both databases.

    PostgreSQL plans it once per connection. Django's own cursor is used only where somebody listens to it.
    """
    here = connections[DEFAULT_DB_ALIAS]
    if here.queries_logged or here.execute_wrappers:
        with here.cursor() as reported:
            reported.execute(sql, values)
            return reported.fetchall() if reported.description else []
    here.ensure_connection()
    here.validate_no_broken_transaction()
    with here.wrap_database_errors:
        if here.vendor == "postgresql":
            cursor: Any = psycopg.Cursor(here.connection)
            cursor.execute(sql, values, prepare=True)
        else:
            cursor = here.connection.execute(_with_question_marks(sql), values)
        return cursor.fetchall() if cursor.description else []


@lru_cache(maxsize=512)
def _with_question_marks(sql: str) -> str:
    return sql.replace("%s", "?").replace("%%", "%")


def insert(row: M) -> M:
    """Write a new row and give it its key: what `row.save(force_insert=True)` does."""
    here = connections[DEFAULT_DB_ALIAS]
    sql, columns = _insert_into(type(row), here.vendor)
    values = [prepare(getattr(row, name), here) if prepare else getattr(row, name) for name, prepare in columns]
    row.pk = run_sql(sql, values)[0][0]
    row._state.adding, row._state.db = False, here.alias
    return row


def update(row: Model, *names: str) -> None:
    """Write these fields of a row: what `row.save(update_fields=names)` does."""
    if not names:
        return
    here = connections[DEFAULT_DB_ALIAS]
    sql, columns = _update_of(type(row), names, here.vendor)
    values = [prepare(getattr(row, name), here) if prepare else getattr(row, name) for name, prepare in columns]
    run_sql(sql, [*values, row.pk])


class Rows(Generic[M]):
    """A model's columns as a statement names them, and the rows that it brings as the ORM would give them.

    `Rows(Step, "s", batch=Rows(Batch, "b"))` is a step with its batch, from the columns of the tables s and b in this
    order; where the batch's are all null (LEFT JOIN) it is None. `but` names what is not read: deferred.
    """

    def __init__(self, model: type[M], table: str, *, but: Collection[str] = (), **related: Rows[Any]) -> None:
        fields = [field for field in model._meta.concrete_fields if field.name not in but]
        own = [f'{table}."{field.column}"' for field in fields]
        self.columns: str = ", ".join([*own, *(rows.columns for rows in related.values())])
        self._model = model
        self._names = [field.attname for field in fields]
        self._key = fields.index(_key(model))
        self._readers = {vendor: _readers(fields, vendor) for vendor in ("sqlite", "postgresql")}
        self._related = related
        self._width: int = len(fields) + sum(rows._width for rows in related.values())

    def of(self, reported: Iterable[tuple[Any, ...]]) -> list[M]:
        """What the statement's rows are, in their order."""
        vendor = connections[DEFAULT_DB_ALIAS].vendor
        return [self._one(row, vendor) for row in reported]

    def _one(self, row: tuple[Any, ...], vendor: str) -> M:
        place = len(self._names)
        values = list(row[:place])
        for number, read in self._readers[vendor]:
            if values[number] is not None:
                values[number] = read(values[number])
        found = self._model.from_db(DEFAULT_DB_ALIAS, self._names, values)
        for name, rows in self._related.items():
            there = row[place + rows._key] is not None
            setattr(found, name, rows._one(row[place:], vendor) if there else None)
            place += rows._width
        return found


def moment_read(reported: Any) -> datetime | None:
    """A time as it comes from a statement: SQLite keeps it in UTC, as text where it was reckoned."""
    if isinstance(reported, str):
        reported = datetime.fromisoformat(reported)
    return (
        reported.replace(tzinfo=UTC)
        if reported is not None and reported.tzinfo is None
        else cast("datetime | None", reported)
    )


def _day(reported: Any) -> date:
    return date.fromisoformat(reported) if isinstance(reported, str) else cast(date, reported)


def _readers(fields: Sequence[Field[Any, Any]], vendor: str) -> list[_Reader]:
    """Which columns come from the driver as something else than their fields hold, and what makes it of them."""
    readers = [(number, _reader(field, vendor)) for number, field in enumerate(fields)]
    return [(number, read) for number, read in readers if read]


def _reader(field: Field[Any, Any], vendor: str) -> Callable[[Any], Any] | None:
    if isinstance(field, ForeignKey):
        return _reader(field.target_field, vendor)
    if isinstance(field, JSONField):
        return json.loads
    if vendor == "postgresql" or isinstance(field, (IntegerField, CharField, TextField, BinaryField)):
        return None
    # A time is a date to Django: it comes first.
    for kind, read in ((DateTimeField, moment_read), (DateField, _day), (UUIDField, UUID)):
        if isinstance(field, kind):
            return read
    if isinstance(field, BooleanField):
        return bool
    raise TypeError(f"{field}: nobody has said yet how a {type(field).__name__} is read from a statement")


@lru_cache(maxsize=256)
def _insert_into(model: type[Model], vendor: str) -> tuple[str, list[_Column]]:
    fields = [field for field in model._meta.local_concrete_fields if not field.primary_key]
    names = ", ".join(_quoted(field.column) for field in fields)
    marks = ", ".join(["%s"] * len(fields))
    key = _quoted(_key(model).column)
    return f"INSERT INTO {_quoted(model._meta.db_table)} ({names}) VALUES ({marks}) RETURNING {key}", [
        _column(field) for field in fields
    ]


@lru_cache(maxsize=256)
def _update_of(model: type[Model], names: tuple[str, ...], vendor: str) -> tuple[str, list[_Column]]:
    fields = [cast("Field[Any, Any]", model._meta.get_field(name)) for name in names]
    sets = ", ".join(f"{_quoted(field.column)} = %s" for field in fields)
    key = _quoted(_key(model).column)
    return f"UPDATE {_quoted(model._meta.db_table)} SET {sets} WHERE {key} = %s", [_column(field) for field in fields]


def _column(field: Field[Any, Any]) -> _Column:
    """Numbers and keys go to the driver as they are; asking their fields costs more than binding them."""
    as_it_is = isinstance(field, (IntegerField, BooleanField, ForeignKey))
    return field.attname, None if as_it_is else field.get_db_prep_save


def _key(model: type[Model]) -> Field[Any, Any]:
    assert model._meta.pk is not None
    return model._meta.pk


def _quoted(name: str | None) -> str:
    return connection.ops.quote_name(name or "")
