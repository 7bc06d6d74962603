"""`manage.py verify` agrees with an honest history and names whatever was changed behind its back."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import call_command
from django.db import connection, transaction

from tests.globe import everything_agrees, make_globe
from tests.stories_of_globes import eventful
from tests.unguarded import lift
from traveller.journal import guards

pytestmark = [pytest.mark.django_db, pytest.mark.both]


def _verify() -> tuple[int, str]:
    out = StringIO()
    try:
        call_command("verify", stdout=out)
    except SystemExit as end:
        return int(str(end.code)), out.getvalue()
    return 0, out.getvalue()


def _tamper(sql: str) -> None:
    lift(connection)
    with connection.cursor() as cursor:
        cursor.execute(sql)
        assert cursor.rowcount > 0, "nothing was tampered with"
    guards.install(connection)


def test_an_empty_database_agrees() -> None:
    code, said = _verify()
    assert code == 0
    assert "Everything agrees." in said


def test_an_eventful_history_agrees() -> None:
    eventful()
    assert everything_agrees()
    code, said = _verify()
    assert (code, "batches       agrees" in said) == (0, True)


def test_verify_changes_nothing() -> None:
    globe = eventful()
    before = globe.lies()
    assert _verify() == _verify()
    assert globe.lies() == before


LOT = "(SELECT lot_id FROM batches_batch WHERE parent_id IS NULL)"
TAMPERED = {
    "a balance": (f"UPDATE ledger_account SET balance = balance + 1 WHERE lot_id = {LOT}", "balance"),
    "a since": ("UPDATE ledger_account SET since = NULL WHERE balance > 0", "since"),
    "a posting": ("UPDATE ledger_posting SET quantity = quantity + 1 WHERE quantity > 20", "sum of postings"),
    "a posting gone": (
        "DELETE FROM ledger_posting WHERE id = (SELECT MIN(id) FROM ledger_posting)",
        "sum of postings",
    ),
    "a link": ("UPDATE ledger_link SET quantity = quantity + 1", "linked"),
    "an event's data": ("UPDATE journal_event SET person = 'Nobody' WHERE kind = 'counted'", "digest"),
    "an event's time": (
        "UPDATE journal_event SET happened_at = '2020-01-01 00:00:00+00' WHERE kind = 'decided'",
        "digest",
    ),
    "a count": ("UPDATE batches_step SET good = good + 1 WHERE number = 30", "good"),
    "reworked pieces": ("UPDATE batches_step SET again_scrap = again_scrap + 1 WHERE number = 40", "again_scrap"),
    "shots": ("UPDATE batches_step SET shots = 99 WHERE number = 20", "shots"),
    "a state": ("UPDATE batches_step SET state = 'done' WHERE number = 20", "state"),
    "a start": ("UPDATE batches_step SET started_at = NULL WHERE number = 30", "started_at"),
    "an end": ("UPDATE batches_step SET done_at = started_at WHERE number = 40", "done_at"),
    "a count row": ("UPDATE batches_count SET good = good - 1 WHERE good > 20", "good, scrap, rework, samples, again"),
    "a reading": ("UPDATE batches_reading SET value = '2.000'", "values"),
    "a reading gone": ("DELETE FROM batches_reading", "values"),
    "a load's end": ("UPDATE batches_load SET ended_at = started_at WHERE number = 1", "ended_at"),
    "a load's quantity": ("UPDATE batches_load SET quantity = 1 WHERE number = 2", "quantity"),
    "a struck load": ("UPDATE batches_load SET struck_by_id = NULL", "struck_by_id"),
    "a verdict": ("UPDATE batches_verdict SET outcome = 'passed' WHERE outcome = 'failed'", "outcome"),
    "a verdict's figures": ("UPDATE batches_verdict SET figures = '{}' WHERE outcome = 'failed'", "figures"),
    "a latest verdict": ("UPDATE batches_verdict SET latest = NOT latest", "latest"),
    "a concession": (
        "UPDATE batches_verdict SET conceded_event_id = event_id WHERE outcome = 'failed'",
        "conceded",
    ),
    "a hold's end": ("UPDATE ledger_hold SET closed_at = opened_at WHERE closed_at IS NULL", "closed"),
    "a hold's reopening": (
        "UPDATE ledger_hold SET closed_at = NULL, closed_event_id = NULL WHERE disposition = 'rework'",
        "closed",
    ),
    "a disposition": ("UPDATE ledger_hold SET disposition = 'concession' WHERE disposition = 'scrap'", "disposition"),
    "a hold's cause": ("UPDATE ledger_hold SET cause = 'nothing' WHERE root_id IS NULL", "lot"),
    "an inherited hold": (
        "UPDATE ledger_hold SET closed_at = NULL, closed_event_id = NULL WHERE root_id IS NOT NULL",
        "hold inherited",
    ),
    "a line's received": ("UPDATE dispatches_consignmentline SET received = received + 1", "received"),
    "a line's sent": ("UPDATE dispatches_consignmentline SET sent = sent - 1", "sent"),
    "a line reopened": ("UPDATE dispatches_consignmentline SET closed = NOT closed", "closed"),
    "a line's difference": (
        "UPDATE dispatches_consignmentline SET difference = 0 WHERE difference <> 0",
        "difference",
    ),
    "a settlement": ("UPDATE dispatches_consignmentline SET settled_event_id = NULL", "settled"),
    "an arrival": ("UPDATE dispatches_consignment SET received_at = NULL", "received"),
    "a batch closed": ("UPDATE batches_batch SET closed_at = released_at WHERE closed_at IS NULL", "closed at"),
    "a lot's code": (f"UPDATE ledger_lot SET code = '0000000' WHERE id = {LOT}", "code"),
}


def _named(sql: str) -> tuple[int, str]:
    """What verify says after some tampering, which is undone afterwards."""
    if connection.vendor == "postgresql":
        sql = sql.replace("'{}'", "'{}'::jsonb")
    mark = transaction.savepoint()
    _tamper(sql)
    said = _verify()
    transaction.savepoint_rollback(mark)
    return said


def test_verify_names_whatever_was_tampered_with() -> None:
    eventful()
    for what, (sql, field) in TAMPERED.items():
        code, said = _named(sql)
        assert (code, f": {field}" in said) == (1, True), f"{what}: {said}"
    assert _verify()[0] == 0


def test_verify_names_a_missing_trigger() -> None:
    make_globe()
    lift(connection)
    code, said = _verify()
    guards.install(connection)
    assert code == 1
    assert "journal_event_no_delete: trigger is missing" in said


def test_each_difference_says_what_is_stored_and_what_should_be() -> None:
    globe = make_globe()
    globe.report(20, 50)
    _tamper("UPDATE batches_step SET good = 51 WHERE number = 20")
    _, said = _verify()
    assert f"batches: batch {globe.batch.code}, step 20: good is 51, should be 50" in said
    assert "1 differ" in said


def test_verify_names_a_batch_that_is_over_and_was_opened() -> None:
    globe = make_globe()
    globe.report(20, scrap={"short": 5}, done=True)
    assert everything_agrees()
    _tamper("UPDATE batches_batch SET closed_at = NULL WHERE closed_at IS NOT NULL")
    code, said = _verify()
    assert code == 1
    assert f"batch {globe.batch.code}: closed at is None, should be closed" in said
