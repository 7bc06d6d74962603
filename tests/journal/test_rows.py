"""Plain statements give what the ORM gives."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.models import DecimalField, Model
from django.test.utils import CaptureQueriesContext

from sites.models import Site
from tests import factory
from traveller.batches.models import Batch, Count, Load, Step, StepState, Verdict
from traveller.journal.models import Event
from traveller.journal.rows import Rows, _reader, insert, moment_read, run_sql, update
from traveller.ledger.models import Lot
from traveller.products.models import Part

pytestmark = pytest.mark.django_db


def make_step() -> Step:
    part = factory.make_part()
    factory.make_routing(part, [factory.Op(10, factory.make_bench(), "mould", "make")])
    return factory.make_batch(part).steps.get()


def test_a_row_inserted_is_the_row_the_orm_reads() -> None:
    step, event = make_step(), factory.make_event()
    row = insert(Count(step=step, event=event, good=3, scrap=2, by_reason={"short": 2}))
    assert not row._state.adding
    found = Count.objects.get(pk=row.pk)
    names = [field.attname for field in Count._meta.concrete_fields]
    assert [getattr(found, name) for name in names] == [getattr(row, name) for name in names]


def test_an_update_writes_the_named_fields_only() -> None:
    step = make_step()
    at = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
    step.state, step.started_at, step.good, step.scrap = StepState.RUNNING, at, 7, 9
    update(step, "state", "started_at", "good")
    found = Step.objects.get(pk=step.pk)
    assert (found.state, found.started_at, found.good, found.scrap) == ("running", at, 7, 0)


def values(row: Model) -> dict[str, Any]:
    return {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields}


def test_a_row_comes_with_its_related_rows_and_without_deferred_columns() -> None:
    step = make_step()
    rows = Rows(Step, "s", batch=Rows(Batch, "b", part=Rows(Part, "p", but={"picture"}), lot=Rows(Lot, "l")))
    sql = (
        f"SELECT {rows.columns} FROM batches_step s JOIN batches_batch b ON b.id = s.batch_id "
        "JOIN products_part p ON p.id = b.part_id LEFT JOIN ledger_lot l ON l.id = b.lot_id WHERE s.id = %s"
    )
    assert rows.of(run_sql(sql, [step.pk + 1])) == []
    with CaptureQueriesContext(connection) as reported:
        (found,) = rows.of(run_sql(sql, [step.pk]))
        assert found == step and found.batch.part.number == "GLOBE" and found.batch.lot is None
    assert len(reported) == 1
    assert values(found) == values(step) and values(found.batch) == values(step.batch)
    assert found.batch.part.get_deferred_fields() == {"picture"}
    found.good = 5
    found.save()
    assert Step.objects.get(pk=step.pk).good == 5, "it is a row that is there, not a new one"


def test_times_ids_and_figures_come_back_as_the_orm_gives_them() -> None:
    step, at = make_step(), datetime(2026, 3, 2, 9, 30, 1, 250, tzinfo=UTC)
    event = factory.make_event()
    load = insert(Load(step=step, uid=uuid4(), number=1, started_at=at))
    insert(
        Verdict(step=step, check_key="cure", load=load, event=event, outcome="missing", code="x", figures={"a": [1]})
    )
    insert(Verdict(step=step, check_key="cure", event=event, outcome="passed", code="y", latest=False))
    for model in (Event, Load, Verdict, Batch, Step, Site, Part):
        rows = Rows(model, "t")
        found = rows.of(run_sql(f"SELECT {rows.columns} FROM {model._meta.db_table} t ORDER BY t.id", []))
        assert found and [values(row) for row in found] == [values(row) for row in model.objects.order_by("id")]


def test_a_time_that_a_statement_reckoned_is_a_time() -> None:
    step, at = make_step(), datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
    insert(Load(step=step, uid=uuid4(), number=1, started_at=at, ended_at=None))
    reported = run_sql("SELECT MAX(started_at), MAX(ended_at) FROM batches_load WHERE step_id = %s", [step.pk])
    assert [moment_read(time) for time in reported[0]] == [at, None]


def test_a_kind_of_column_that_nobody_has_said_how_to_read_is_an_error() -> None:
    with pytest.raises(TypeError, match="DecimalField"):
        _reader(DecimalField(max_digits=5, decimal_places=2), "sqlite")


def test_a_broken_rule_raises_what_django_raises() -> None:
    event = factory.make_event()
    with pytest.raises(IntegrityError), transaction.atomic():
        insert(
            Event(**{f.attname: getattr(event, f.attname) for f in Event._meta.concrete_fields if f.attname != "id"})
        )


def test_a_statement_may_return_nothing() -> None:
    step = make_step()
    assert run_sql("UPDATE batches_step SET good = %s WHERE id = %s", [1, step.pk]) == []
