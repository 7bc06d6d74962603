"""A row that is not as this program writes it is named by its number, and everything else is checked all the same."""

from __future__ import annotations

from io import StringIO
from typing import Any
from uuid import uuid4

import pytest
from django.core.management import call_command
from django.db import OperationalError, connection, transaction

from tests.globe import Globe
from tests.stories_of_globes import eventful
from traveller.batches.models import Step
from traveller.dispatches.models import Consignment
from traveller.journal.models import Event
from traveller.journal.record import digest
from traveller.ledger import verify as ledger_verify
from traveller.ledger.models import Account
from traveller.shipping import verify as shipping_verify

pytestmark = [pytest.mark.django_db, pytest.mark.both]
# Kind, data, the room that names it, what it says of it. `step` is filled in.
MALFORMED: list[tuple[str, Any, str, str]] = [
    ("shipped", {"told": {}}, "shipping", "'cartons' is missing"),
    ("shipped", {"told": {"cartons": 7}}, "shipping", "not iterable"),
    ("packed", {"told": {}}, "shipping", "'quantity' is missing"),
    ("carton opened", {"told": {"carton": []}}, "shipping", "unhashable"),
    ("received", {"told": {}}, "dispatches", "'line' is missing"),
    ("difference settled", {"told": {}, "line": {}}, "dispatches", "unhashable"),
    ("order entered", {"told": {"number": "1"}}, "orders", "'lines' is missing"),
    ("released", {"told": {}, "released": [1]}, "orders", "no attribute"),
    ("delivered", {"told": {}, "keeps": []}, "orders", "'purchase' is missing"),
    ("delivered", {"told": {"purchase": None}, "keeps": [[1]]}, "orders", "not enough values"),
    ("counted", {"told": {}, "step_id": "step"}, "batches", "'good' is missing"),
    ("counted", {"told": {}, "step_id": [1]}, "batches", "unhashable"),
    ("load ended", {"told": {"load": []}}, "batches", "unhashable"),
    ("judged", {"told": {}, "step_id": "step", "verdicts": [{}]}, "batches", "'check' is missing"),
    ("decided", {"told": {"hold": 1}}, "batches", "'disposition' is missing"),
    ("own number told", {"told": {}}, "batches", "'number' is missing"),
    ("set aside taken", {"told": {}}, "batches", "'aside' is missing"),
    ("site closed", {"told": {}, "passes": "these"}, "batches", "unreadable"),
    ("counted", [1, 2], "journal", "data is list"),
    ("counted", "words", "journal", "data is str"),
    ("counted", 7, "journal", "data is int"),
    ("counted", {}, "journal", "data is without what was told"),
    ("counted", {"told": "words"}, "journal", "data is without what was told"),
    ("never heard of", {"told": {}}, "journal", "kind is never heard of"),
]


def verify() -> tuple[int, list[str]]:
    out = StringIO()
    try:
        call_command("verify", stdout=out)
    except SystemExit as end:
        return int(str(end.code)), out.getvalue().splitlines()
    return 0, out.getvalue().splitlines()


def slip_in(kind: str, data: Any, globe: Globe) -> Event:
    """An event as somebody with the database's password would add it, its digest right."""
    if isinstance(data, dict) and data.get("step_id") == "step":
        data = {**data, "step_id": Step.objects.filter(batch=globe.batch).earliest("number").pk}
    last = Event.objects.latest("pk")
    event = Event(
        uid=uuid4(), kind=kind, actor_kind="system", person="", data=data, site=last.site,
        happened_at=last.happened_at, recorded_at=last.recorded_at,
    )  # fmt: skip
    event.digest = digest(event)
    event.save()
    return event


def a_wrong_balance() -> None:
    """Something that only the check after the malformed rows can find."""
    account = Account.objects.filter(balance__gt=0).earliest("pk")
    Account.objects.filter(pk=account.pk).update(balance=account.balance + 1)


def test_each_malformed_event_is_named_and_the_rest_is_checked() -> None:
    globe = eventful()
    events = [slip_in(kind, data, globe) for kind, data, _, _ in MALFORMED]
    a_wrong_balance()
    code, said = verify()
    assert code == 1
    for event, (kind, data, room, what) in zip(events, MALFORMED, strict=True):
        own = [line for line in said if line.startswith(f"{room}: ") and what in line]
        names = (f"event {event.pk} ({kind})", f"event {event.uid}")
        assert [line for line in own if any(name in line for name in names)], (kind, data, said)
    assert [line for line in said if line.startswith("ledger: ") and ": balance is " in line]
    assert not [line for line in said if "the rest of its check" in line]
    assert [line.split()[0] for line in said if line.startswith("  ")] == [
        "journal", "ledger", "dispatches", "batches", "orders", "shipping",
    ]  # fmt: skip
    assert said[-1].endswith(").") and "differences (" in said[-1]


def test_the_sending_of_a_consignment_that_cannot_be_read_is_named() -> None:
    globe = eventful()
    empty = slip_in("sent", {"told": {}}, globe)
    wrong = Consignment.objects.earliest("pk")
    Consignment.objects.filter(pk=wrong.pk).update(sent_event=empty)
    code, said = verify()
    assert code == 1
    assert f"dispatches: consignment {wrong.code}, event {empty.pk}: data is unreadable ('lines' is missing)" in (
        "\n".join(said)
    )


def run_sql(sql: str, *values: str | int) -> None:
    with connection.cursor() as cursor:
        cursor.execute(sql, values)


def copy_with(event: Event, column: str, value: str) -> None:
    """A further event, number 900001, with any text in a column: SQLite takes it."""
    own = {column: "%s"}
    columns = [str(field.column) for field in Event._meta.local_fields if field.column != "id"]
    taken = ", ".join(own.get(name, "lower(hex(randomblob(16)))" if name == "uid" else name) for name in columns)
    run_sql("PRAGMA ignore_check_constraints = ON")
    run_sql(
        f"INSERT INTO journal_event (id, {', '.join(columns)}) SELECT 900001, {taken} FROM journal_event WHERE id = %s",
        value,
        event.pk,
    )
    run_sql("PRAGMA ignore_check_constraints = OFF")


@pytest.mark.sqlite
@pytest.mark.parametrize(
    ("column", "value", "what"),
    [
        ("data", "{half a", "data is str"),
        ("happened_at", "yesterday", "unreadable"),
        ("recorded_at", "soon", "unreadable"),
        ("uid", "nobody", "unreadable"),
    ],
)
def test_an_event_that_cannot_even_be_read_is_named_by_its_number(column: str, value: str, what: str) -> None:
    eventful()
    a_wrong_balance()
    mark = transaction.savepoint()
    copy_with(Event.objects.filter(kind="counted").latest("pk"), column, value)
    code, said = verify()
    transaction.savepoint_rollback(mark)
    assert code == 1
    assert [line for line in said if line.startswith("journal: event 900001") and what in line], said
    assert [line for line in said if line.startswith("ledger: ") and ": balance is " in line]
    assert not [line for line in said if "the rest of its check" in line]


@pytest.mark.sqlite
def test_a_posting_to_nothing_is_named() -> None:
    eventful()
    mark = transaction.savepoint()
    event = Event.objects.latest("pk")
    run_sql("INSERT INTO ledger_posting (id, account_id, event_id, quantity) VALUES (900001, 900009, %s, 5)", event.pk)
    code, said = verify()
    transaction.savepoint_rollback(mark)
    assert code == 1
    assert "journal: ledger_posting, row 900001: row of ledger_account is not there, should be there" in said


def test_whatever_stops_a_check_the_next_room_is_checked(monkeypatch: pytest.MonkeyPatch) -> None:
    def falls(*_: object) -> Any:
        raise RuntimeError("a fault of ours")

    eventful()
    monkeypatch.setattr(ledger_verify, "differences", falls)
    code, said = verify()
    assert code == 1
    assert "ledger: the rest of its check: end is stopped by RuntimeError: a fault of ours, should be reached" in said
    assert "  shipping      agrees" in said


def test_a_database_that_went_away_is_no_difference(monkeypatch: pytest.MonkeyPatch) -> None:
    def away() -> Any:
        raise OperationalError("the connection is lost")

    monkeypatch.setattr(shipping_verify, "differences", away)
    with pytest.raises(OperationalError):
        verify()
