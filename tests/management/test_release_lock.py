"""PostgreSQL: many servers of one release, none of another beside them; a killed one holds nothing."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator

import pytest
from django.core.management.base import CommandError
from django.db import connection

from tests.test_settings import ROOT
from traveller.management import owner
from traveller.management.release import release_name

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]
OLD = "0badcafe"
# A server of the old release, with a child as the production server has them.
SERVER = (
    "import os, sys, time, django; django.setup()\n"
    "from traveller.management import owner\n"
    f"session = owner.Session('{OLD}', 'serve on port 8000'); session.open(); owner._sessions.append(session)\n"
    "if os.fork() == 0:\n    time.sleep(60); os._exit(0)\n"
    "print('open', flush=True); time.sleep(60)\n"
)


@pytest.fixture
def old_server() -> Iterator[subprocess.Popen[str]]:
    given = {key: str(connection.settings_dict[key]) for key in ("USER", "HOST", "PORT", "NAME")}
    url = "postgres://{USER}@{HOST}:{PORT}/{NAME}".format(**given)
    env = {**os.environ, "DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "traveller.settings"}
    command = [sys.executable, "-c", SERVER]
    with subprocess.Popen(
        command, cwd=ROOT, env=env, stdout=subprocess.PIPE, text=True, start_new_session=True
    ) as server:
        assert server.stdout is not None
        assert server.stdout.readline() == "open\n"
        yield server
        os.killpg(server.pid, signal.SIGKILL)


def opened(of: str) -> owner.Session:
    session = owner.Session(of, "serve on port 8001")
    session.open()
    return session


def soon(of: str) -> owner.Session:
    """The database needs a moment to see that a process is gone."""
    for _ in range(50):
        try:
            return opened(of)
        except CommandError:
            threading.Event().wait(0.1)
    return opened(of)


def test_another_release_is_refused_and_says_who_runs_where(old_server: subprocess.Popen[str]) -> None:
    with pytest.raises(CommandError) as refused:
        opened(release_name())
    said = str(refused.value)
    assert f"traveller {OLD}: serve on port 8000, process {old_server.pid} on " in said
    assert "Stop the other one everywhere" in said


def test_a_second_server_of_the_same_release_is_welcome(old_server: subprocess.Popen[str]) -> None:
    session = opened(OLD)
    session.close()


def test_a_killed_server_holds_nothing_although_its_child_lives(old_server: subprocess.Popen[str]) -> None:
    old_server.kill()
    old_server.wait()
    session = soon(release_name())
    session.close()


def test_a_refused_server_leaves_nothing_behind() -> None:
    first = opened(OLD)
    with pytest.raises(CommandError):
        opened(release_name())
    first.close()
    soon(release_name()).close()


def test_a_session_that_the_database_ended_is_opened_again() -> None:
    session = opened(release_name())
    assert session.wrapper is not None
    with session.wrapper.cursor() as cursor:
        cursor.execute("SELECT pg_backend_pid()")
        pid = cursor.fetchone()[0]
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_terminate_backend(%s, 5000)", [pid])
    session.renew()  # finds that it is gone
    session.renew()
    with pytest.raises(CommandError):
        opened(OLD)
    session.close()
    soon(OLD).close()


def test_a_server_whose_place_another_release_took_while_the_database_was_away_is_told() -> None:
    session = opened(release_name())
    session.close()
    other = opened(OLD)
    with pytest.raises(CommandError, match="Another release"):
        session.renew()
    other.close()
