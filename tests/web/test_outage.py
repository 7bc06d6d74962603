"""The database away, busy or full: every address says so with 503, in words; a fault of the program stays a 500."""

from __future__ import annotations

import errno
import json
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psycopg
import pytest
from django.contrib.sessions.backends.base import UpdateError
from django.core.exceptions import BadRequest
from django.db import DatabaseError, InterfaceError, InternalError, OperationalError, ProgrammingError, connection
from django.db.utils import ConnectionHandler
from django.test import Client
from django.utils import translation
from psycopg import errors as postgres

from tests import cast
from tests.web.operator.floor import events, make_floor, text_of
from tests.web.queueing import Phone, post
from tests.web.route_world import make_world
from tests.web.test_routes import addresses, knock
from traveller.journal import unable
from traveller.web import outage
from traveller.web.operator.pace import PACE

LOST = OperationalError("the connection is lost")
LOST.__cause__ = psycopg.OperationalError("server closed the connection unexpectedly")


def caused(error: Exception, cause: Exception) -> Exception:
    error.__cause__ = cause
    return error


def sqlite_error(code: int, words: str = "") -> Exception:
    cause = sqlite3.OperationalError(words)
    cause.sqlite_errorcode = code
    return caused(OperationalError(words), cause)


def postgres_error(cause: Exception, kind: type[DatabaseError] = OperationalError) -> Exception:
    return caused(kind(str(cause)), cause)


NOT_ALLOWED = 'could not open file "base/5/2610": Permission denied'
READ_ONLY = "could not extend file: Read-only file system"
ERRORS: list[tuple[Exception, str]] = [
    (postgres_error(psycopg.OperationalError("connection failed: FATAL:  sorry, too many clients already")), "away"),
    (postgres_error(psycopg.OperationalError("connection failed: the database system is starting up")), "away"),
    (postgres_error(psycopg.OperationalError("connection failed: Connection refused")), "away"),
    (postgres_error(psycopg.OperationalError("the connection is closed")), "away"),
    (postgres_error(postgres.AdminShutdown("terminating connection due to administrator command")), "away"),
    (postgres_error(postgres.CannotConnectNow("the database system is shutting down")), "away"),
    (postgres_error(postgres.TooManyConnections("too many connections for role")), "away"),
    (postgres_error(postgres.DiskFull("could not extend file: No space left on device")), "full"),
    (postgres_error(postgres.IoError("could not write block")), "away"),
    (postgres_error(postgres.LockNotAvailable("canceling statement due to lock timeout")), "busy"),
    (postgres_error(postgres.QueryCanceled("canceling statement due to statement timeout")), "busy"),
    (postgres_error(postgres.DeadlockDetected("deadlock detected")), "busy"),
    (
        postgres_error(postgres.ReadOnlySqlTransaction("cannot execute in a read-only transaction"), InternalError),
        "away",
    ),
    (postgres_error(postgres.InsufficientPrivilege(READ_ONLY), ProgrammingError), "away"),
    (postgres_error(postgres.InsufficientPrivilege(NOT_ALLOWED), ProgrammingError), "away"),
    (postgres_error(postgres.DataCorrupted("could not read block 7"), InternalError), "away"),
    (InterfaceError("connection already closed"), "away"),
    (sqlite_error(sqlite3.SQLITE_BUSY, "database is locked"), "busy"),
    (sqlite_error(sqlite3.SQLITE_BUSY_SNAPSHOT, "database is locked"), "busy"),
    (sqlite_error(sqlite3.SQLITE_FULL, "database or disk is full"), "full"),
    (sqlite_error(sqlite3.SQLITE_IOERR_WRITE, "disk I/O error"), "away"),
    (sqlite_error(sqlite3.SQLITE_READONLY, "attempt to write a readonly database"), "away"),
    (sqlite_error(sqlite3.SQLITE_CANTOPEN, "unable to open database file"), "away"),
    (sqlite_error(sqlite3.SQLITE_CORRUPT, "database disk image is malformed"), "away"),
    (OperationalError("database is locked"), "busy"),
    (OperationalError("disk I/O error"), "away"),
    (OSError(errno.ENOSPC, "No space left on device"), "full"),
    (OSError(errno.EROFS, "Read-only file system"), "away"),
    (OSError(errno.EMFILE, "Too many open files"), "away"),
]
CODES = {"away": unable.AWAY, "busy": unable.BUSY, "full": unable.FULL}
FAULTS: list[Exception] = [
    sqlite_error(sqlite3.SQLITE_ERROR, "no such table: batches_batch"),
    sqlite_error(sqlite3.SQLITE_ERROR, "no such column: full"),
    OperationalError("no such column: locked"),
    postgres_error(postgres.UndefinedTable('relation "batches_batch" does not exist'), ProgrammingError),
    postgres_error(postgres.UndefinedColumn("column does not exist"), ProgrammingError),
    postgres_error(postgres.InsufficientPrivilege("permission denied for table x"), ProgrammingError),
    postgres_error(postgres.RaiseException("the journal is append-only"), InternalError),
    InterfaceError("Error binding parameter 0: probably unsupported type"),
    OSError("a file of ours is missing"),
    FileNotFoundError(errno.ENOENT, "No such file or directory"),
    ValueError("nobody thought of this"),
]


def named(one: object) -> str:
    return str(one)[:40]


@pytest.mark.parametrize(("error", "code"), ERRORS, ids=named)
def test_what_passes_by_itself_is_told_by_the_drivers_code_or_its_words(error: Exception, code: str) -> None:
    assert unable.code_of(error) == CODES[code]
    # Behind an error that only came of it, too.
    try:
        try:
            raise error
        except Exception as before:
            raise RuntimeError("so the page could not be drawn") from before
    except RuntimeError as after:
        assert unable.code_of(after) == CODES[code]


@pytest.mark.parametrize("error", FAULTS, ids=named)
def test_a_fault_of_the_program_is_none_of_it(error: Exception) -> None:
    assert unable.code_of(error) == ""


@pytest.fixture(autouse=True)
def _full_buckets() -> Iterator[None]:
    PACE.forget()
    yield
    translation.deactivate()


def unraised(client: Client) -> Client:
    """Answers as a browser gets them, where the test client would raise what was raised behind them."""
    client.raise_request_exception = False
    return client


@contextmanager
def failing(error: Exception) -> Iterator[list[str]]:
    """Whatever is asked of the database fails; what was asked for."""
    asked: list[str] = []

    def fail(_execute: Callable[..., Any], sql: str, *_rest: Any) -> Any:
        asked.append(sql)
        raise error

    with connection.execute_wrapper(fail):
        yield asked


# They need no database: what a browser or a proxy may ask of a server that cannot reach one.
WITHOUT = {"/keeper.js", "/manifest.webmanifest", "/language"}


# Whose pages they are; whoever else asks is asked first who he is, by the same query.
WHOSE = {"founder": "founder", "shop": "operator", "packer": "packer", "door": "revoked"}


@pytest.mark.django_db
def test_every_page_form_and_machine_address_says_so_and_none_is_a_500() -> None:
    world = make_world()
    readers = {name: unraised(client) for name, client in world.people.everyone().items()}
    wrong, asked_for = [], 0
    for _route, rule, url in addresses(world):
        for sent in (False, True):
            with failing(LOST) as asked:
                answer = knock(readers[WHOSE[rule.reader]], url, post=sent)
            asked_for += bool(asked)
            # A page that needs no database answers as ever.
            right = answer.status_code == 503 and answer["Retry-After"] if asked else answer.status_code < 500
            if not right:
                wrong.append((url, sent, answer.status_code))
    assert wrong == []
    assert asked_for > 200, asked_for


@pytest.mark.django_db
@pytest.mark.parametrize("post", [False, True])
def test_an_address_that_needs_no_database_answers_as_ever(post: bool) -> None:
    with failing(LOST):
        for url in sorted(WITHOUT):
            answer = knock(unraised(Client()), url, post=post)
            assert answer.status_code in ({200} if not post else {405, 422}), url


@pytest.fixture
def phone() -> Client:
    return unraised(make_floor().phone)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("language", "words"),
    [
        ("en", "The record can’t be reached just now."),
        ("es", "Ahora no se puede llegar al registro."),
        ("zh-hans", "现在连不上记录系统。"),
        ("vi", "Lúc này không tới được hồ sơ."),
        ("ar", "لا يمكن الوصول إلى السجل الآن."),
    ],
)
def test_the_page_says_it_in_the_readers_language_and_when_to_ask_again(
    phone: Client, language: str, words: str
) -> None:
    for path in ("/here/", "/t/ABC"):
        with failing(LOST):
            answer = phone.get(path, headers={"accept-language": language})
        assert answer.status_code == 503 and answer["Retry-After"] == "5" and answer["Cache-Control"] == "no-store"
        assert words in text_of(answer) and f'lang="{language.lower()}"' in answer.content.decode().lower()
        assert "content-security-policy" in {name.lower() for name in answer.headers}


@pytest.mark.django_db
def test_a_form_is_told_that_what_was_typed_is_kept_and_a_busy_database_is_not_called_away(phone: Client) -> None:
    with failing(OperationalError("database is locked")):
        answer = phone.post("/here/send", {"news_id": "x"})
    assert answer.status_code == 503
    assert "The record is busy or full just now." in text_of(answer)
    assert "what you typed is kept on this phone" in text_of(answer)


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["/here/queue", "/here/keep"])
def test_a_machine_is_told_in_json(phone: Client, path: str) -> None:
    with failing(LOST):
        answer = post(phone, {}) if path == "/here/queue" else phone.get(path)
    assert answer.status_code == 503 and answer["Retry-After"] == "5"
    said = json.loads(answer.content)
    assert said["error"] == "database_away" and said["words"]


@pytest.mark.django_db
def test_the_keeper_asks_for_a_page_and_gets_one(phone: Client) -> None:
    with failing(LOST):
        page = phone.get("/here/", headers={"accept": "application/json, text/html;q=0.9"})
        data = phone.get("/here/", headers={"accept": "application/json"})
    assert page["Content-Type"].startswith("text/html") and data["Content-Type"].startswith("application/json")
    assert page.status_code == data.status_code == 503


@pytest.mark.django_db
@pytest.mark.parametrize("error", [FAULTS[0], FAULTS[3], FAULTS[-1]], ids=named)
def test_a_fault_of_the_program_stays_a_500(phone: Client, error: Exception) -> None:
    with failing(error):
        answer = phone.get("/here/")
    assert answer.status_code == 500 and "Something went wrong on our side." in text_of(answer)


@pytest.mark.django_db
def test_it_is_one_line_in_the_log_and_no_traceback(phone: Client, caplog: pytest.LogCaptureFixture) -> None:
    with failing(LOST):
        phone.get("/here/")
    assert [record.exc_info for record in caplog.records] == [None]
    assert "/here/" in caplog.text and "database_away" in caplog.text


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("path", ["/here/", "/here/queue"])
def test_the_next_request_opens_the_database_anew(monkeypatch: pytest.MonkeyPatch, path: str) -> None:
    """What was opened while it could not be written, or lost its other end, is of no use any more."""
    floor = make_floor()
    read_only = sqlite_error(sqlite3.SQLITE_READONLY, "attempt to write a readonly database")
    phone = Phone(unraised(floor.phone), floor.moulder)
    before = connection.connection
    assert before is not None
    if path == "/here/":
        with failing(read_only):
            assert floor.phone.get(path).status_code == 503
    else:
        phone.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=1, shots=1)
        with monkeypatch.context() as then:
            then.setattr("traveller.batches.actions.report.record_at", raising(read_only))
            assert phone.send(floor.clock.now)[0]["state"] == "later"
    assert connection.connection is not before
    assert floor.phone.get("/here/").status_code == 200


def opened(name: str) -> Any:
    """A connection of its own, as the server opens it."""
    options = {"timeout": 7, "uri": True}
    here = ConnectionHandler({"default": {**connection.settings_dict, "NAME": name, "OPTIONS": options}})["default"]
    here.ensure_connection()
    return here


@pytest.mark.sqlite
@pytest.mark.django_db
def test_a_server_keeps_no_connection_to_a_file_that_it_can_only_read(tmp_path: Path) -> None:
    file = tmp_path / "traveller.sqlite3"
    beside = sqlite3.connect(file, isolation_level=None)
    beside.execute("PRAGMA journal_mode=WAL")
    beside.execute("CREATE TABLE lot (code text)")
    good = opened(f"file:{file}")
    outage.refuse_read_only(good)
    beside.execute("BEGIN IMMEDIATE")
    # Whoever writes just now is no reason to wait, nor to refuse.
    outage.refuse_read_only(good)
    beside.execute("ROLLBACK")
    assert good.connection.execute("PRAGMA busy_timeout").fetchone() == (7000,)
    good.connection.execute("INSERT INTO lot VALUES ('ABC')")
    only_read = opened(f"file:{file}?mode=ro")
    with pytest.raises(OperationalError) as refused:
        outage.refuse_read_only(only_read)
    assert only_read.connection is None and unable.code_of(refused.value) == unable.AWAY
    good.close()
    beside.close()


def raising(error: Exception) -> Callable[..., Any]:
    def fail(*_args: Any, **_more: Any) -> Any:
        raise error

    return fail


@pytest.mark.django_db
def test_a_session_that_cannot_be_saved_is_an_outage_and_no_bad_request(monkeypatch: pytest.MonkeyPatch) -> None:
    """Django says of it that the session was deleted meanwhile."""
    world = make_world()
    founder = unraised(world.people.founder)

    def unsaved(*_args: object, **_more: object) -> None:
        try:
            raise LOST
        except OperationalError:
            raise UpdateError from None

    monkeypatch.setattr("django.contrib.sessions.backends.db.SessionStore.save", unsaved)
    answer = founder.post("/founder/behalf", {"site": world.people.moulder.pk})
    assert answer.status_code == 503 and answer["Retry-After"] == "5"


@pytest.mark.django_db
def test_a_bad_request_stays_one(monkeypatch: pytest.MonkeyPatch, phone: Client) -> None:
    def bad(*_args: object) -> None:
        raise BadRequest("no")

    monkeypatch.setattr("traveller.web.who._find", bad)
    assert phone.get("/here/").status_code == 400


@pytest.mark.django_db
def test_a_founders_form_that_comes_back_is_a_503_with_what_was_typed(monkeypatch: pytest.MonkeyPatch) -> None:
    floor = make_floor()
    monkeypatch.setattr("django.utils.timezone.now", floor.clock)
    floor.moulded(24)
    founder = cast.founder_client()

    def locked(**_reported: Any) -> None:
        raise OperationalError("database is locked")

    reported = {"reason": "black specks", "news_id": "0b6d4f9e-5a53-4a4e-8f0a-5f3c2d8f9a11"}
    with monkeypatch.context() as then:
        then.setattr("traveller.web.founder.work.batch_actions.hold_lot", locked)
        answer = founder.post(f"/batches/{floor.batch.code}/hold", reported)
    assert answer.status_code == 503 and answer["Retry-After"] == "5"
    assert "black specks" in answer.content.decode() and "The database is busy." in text_of(answer)
    assert founder.post(f"/batches/{floor.batch.code}/hold", reported).status_code == 302
    assert events("held") == 1
