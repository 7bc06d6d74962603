"""Statements put together once give what the ORM gives."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.models import Sum
from django.test.utils import CaptureQueriesContext

from tests import factory
from traveller.batches.models import Count, Step, StepState
from traveller.journal.models import Event
from traveller.journal.rows import Read, insert, run, update

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


def test_a_question_answers_anew_each_time_with_related_rows_and_without_deferred_columns() -> None:
    step = make_step()
    ask = Read(lambda pk: Step.objects.filter(pk=pk).select_related("batch__part").defer("batch__part__picture"))
    assert ask(step.pk + 1) == [] and ask.first(step.pk + 1) is None
    assert ask(step.pk) == [step]
    Step.objects.filter(pk=step.pk).update(good=5)
    with CaptureQueriesContext(connection) as told:
        found = ask.first(step.pk)
        assert found is not None and found.good == 5 and found.batch.part.number == "GLOBE"
    assert len(told) == 1
    assert "picture" in found.batch.part.get_deferred_fields()


def test_values_and_sums_come_as_the_orm_gives_them() -> None:
    step = make_step()
    for good in (3, 4):
        insert(Count(step=step, event=factory.make_event(good), good=good, by_reason={"dirty": 1}))

    def rows(key: int):  # type: ignore[no-untyped-def]
        return Count.objects.filter(step=key).order_by().values_list("by_reason").annotate(Sum("good"))

    assert Read(rows)(step.pk) == list(rows(step.pk)) == [({"dirty": 1}, 7)]


def test_times_and_ids_come_back_as_times_and_ids() -> None:
    event = factory.make_event()
    found = Read(lambda pk: Event.objects.filter(pk=pk)).first(event.pk)
    assert found is not None
    assert (found.uid, found.happened_at, found.data) == (event.uid, event.happened_at, event.data)


def test_a_broken_rule_raises_what_django_raises() -> None:
    event = factory.make_event()
    with pytest.raises(IntegrityError), transaction.atomic():
        insert(
            Event(**{f.attname: getattr(event, f.attname) for f in Event._meta.concrete_fields if f.attname != "id"})
        )


def test_a_statement_may_return_nothing() -> None:
    step = make_step()
    assert run("UPDATE batches_step SET good = %s WHERE id = %s", [1, step.pk]) == []
