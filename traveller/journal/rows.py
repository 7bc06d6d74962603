"""Rows read and written with statements that are put together once.

Django builds and compiles each query anew, which costs many times what the database then does (`manage.py bench`
measures it). A report from a shop is what a server does most, so what it reads and writes goes this way; everything
else uses the ORM as usual.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Any, Generic, TypeVar, cast

import psycopg
from django.db import DEFAULT_DB_ALIAS, connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import BooleanField, Field, ForeignKey, IntegerField, Model, QuerySet
from django.db.models import query as orm

M = TypeVar("M", bound=Model)
T = TypeVar("T")
# A field's attribute, and what makes a database's value of it.
_Column = tuple[str, "Callable[[Any, BaseDatabaseWrapper], Any] | None"]
# Stand for what is asked each time; no query has such figures of its own.
_MARKS = tuple(2_000_000_011 + place for place in range(4))


def run(sql: str, values: Sequence[Any]) -> list[tuple[Any, ...]]:
    """Do one statement by the driver itself and fetch what it returns; marks are %s on both databases.

    PostgreSQL plans it once per connection. Django's own cursor is used only where somebody listens to it.
    """
    here = connections[DEFAULT_DB_ALIAS]
    if here.queries_logged or here.execute_wrappers:
        with here.cursor() as told:
            told.execute(sql, values)
            return told.fetchall() if told.description else []
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
    row.pk = run(sql, values)[0][0]
    row._state.adding, row._state.db = False, here.alias
    return row


def update(row: Model, *names: str) -> None:
    """Write these fields of a row: what `row.save(update_fields=names)` does."""
    if not names:
        return
    here = connections[DEFAULT_DB_ALIAS]
    sql, columns = _update_of(type(row), names, here.vendor)
    values = [prepare(getattr(row, name), here) if prepare else getattr(row, name) for name, prepare in columns]
    run(sql, [*values, row.pk])


class Read(Generic[T]):
    """A query compiled at its first asking: `Read(lambda batch, number: Step.objects.filter(...))(7, 30)`.

    What is asked for are whole numbers, up to four. Related rows, deferred columns and values_list work as they do
    in the ORM; annotations only with values_list.
    """

    def __init__(self, ask: Callable[..., QuerySet[Any, T]]) -> None:
        self._ask = ask
        self._compiled: dict[str, _Compiled] = {}

    def __call__(self, *keys: int) -> list[T]:
        vendor = connection.vendor
        compiled = self._compiled.get(vendor)
        if compiled is None:
            compiled = self._compiled[vendor] = _Compiled(self._ask(*_MARKS[: len(keys)]))
        return cast("list[T]", compiled.rows(keys))

    def first(self, *keys: int) -> T | None:
        found = self(*keys)
        return found[0] if found else None


class _Compiled:
    """A query's SQL, where its keys go, and how its rows become what the ORM would give."""

    def __init__(self, asked: QuerySet[Any, Any]) -> None:
        compiler = asked.query.get_compiler(using=connection.alias)
        self.sql, self._params = compiler.as_sql()
        columns = [expression for expression, _, _ in compiler.select]
        self._converters = compiler.get_converters(columns)
        self._model: type[Model] | None = None
        if issubclass(asked._iterable_class, orm.ModelIterable):
            assert compiler.klass_info is not None
            places = compiler.klass_info["select_fields"]
            self._first, self._end = places[0], places[-1] + 1
            self._model = compiler.klass_info["model"]
            self._names = [column.target.attname for column in columns[self._first : self._end]]
            # Inner to Django, and changed in its version 6 (which the type stubs describe): hence Any.
            populators: Any = orm.get_related_populators
            self._related = populators(compiler.klass_info, compiler.select, connection.alias)

    def rows(self, keys: Sequence[int]) -> list[Any]:
        asked = dict(zip(_MARKS, keys, strict=False))
        here = connections[DEFAULT_DB_ALIAS]
        told = run(self.sql, [asked.get(param, param) for param in self._params])
        found = [self._converted(row, here) for row in told] if self._converters else told
        return found if self._model is None else [self._instance(self._model, row) for row in found]

    def _converted(self, row: Sequence[Any], here: BaseDatabaseWrapper) -> tuple[Any, ...]:
        values = list(row)
        for place, (converters, expression) in self._converters.items():
            for convert in converters:
                values[place] = convert(values[place], expression, here)
        return tuple(values)

    def _instance(self, model: type[Model], row: tuple[Any, ...]) -> Model:
        found = model.from_db(DEFAULT_DB_ALIAS, self._names, row[self._first : self._end])
        for related in self._related:
            related.populate(row, found)
        return found


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
