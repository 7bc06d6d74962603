"""A server with a clock behind the journal does not start; one whose clock is set while it runs says so."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from uuid import uuid4

import pytest
from django.core.management.base import CommandError
from django.db import OperationalError
from django.utils import timezone

from sites.actor import Actor
from tests.management.servers import answers, serving
from tests.test_settings import manage
from traveller.journal.clock import jumped, jumps
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.management import clock
from traveller.management.ports import unused

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


def recorded_ahead(by: timedelta) -> None:
    """Something was recorded while the clock was that far ahead."""
    at = timezone.now() + by
    event_context = EventContext(uid=uuid4(), at=at, recorded_at=at, actor=Actor("system", "server"))
    jumped(event_context=event_context, seconds=3600, machine="box")


def test_a_clock_that_agrees_starts_without_a_word() -> None:
    recorded_ahead(-HOUR)
    assert clock.refuse_behind(None) is None


def test_a_clock_behind_is_refused_with_both_times_and_the_way_out() -> None:
    recorded_ahead(40 * HOUR)
    newest = Event.objects.get().recorded_at
    with pytest.raises(CommandError) as refused:
        clock.refuse_behind(None)
    said = str(refused.value)
    assert f"{timezone.now():%Y-%m-%d %H:}" in said and f"{newest:%Y-%m-%d %H:%M:%S} UTC" in said
    assert "--clock-was-wrong 'why" in said
    assert Event.objects.count() == 1


def test_saying_why_is_recorded_and_the_next_start_asks_nothing() -> None:
    recorded_ahead(40 * HOUR)
    said = clock.refuse_behind("the battery was flat")
    assert said and said.startswith("Recorded: the clock was wrong until")
    event = Event.objects.get(kind="clock was wrong")
    assert event.data["told"] == {"reason": "the battery was flat"}
    assert event.person.endswith("at the command line")
    assert clock.refuse_behind(None) is None


@pytest.mark.parametrize("reason", ["", "  "])
def test_an_empty_reason_is_none(reason: str) -> None:
    recorded_ahead(40 * HOUR)
    with pytest.raises(CommandError, match="needs a reason"):
        clock.refuse_behind(reason)
    assert Event.objects.count() == 1


def test_a_reason_for_nothing_is_not_recorded() -> None:
    said = clock.refuse_behind("just in case")
    assert said and "nothing to record" in said
    assert not Event.objects.exists()


@pytest.fixture
def ahead(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """How far the wall clock is ahead of the steady one, for the test to set."""
    value = [1000.0]
    monkeypatch.setattr(clock, "_ahead", lambda: value[0])
    return value


@pytest.mark.parametrize(("by", "reported"), [(59, []), (-60, []), (61, [61]), (-7200, [-7200])])
def test_more_than_a_minute_is_a_jump(ahead: list[float], by: float, reported: list[int]) -> None:
    watch = clock.Watch(ahead[0])
    watch.look()
    ahead[0] += by
    watch.look()
    watch.look()
    assert [event.data["told"]["seconds"] for event in jumps(timezone.now())] == reported


def test_small_steps_add_up(ahead: list[float]) -> None:
    watch = clock.Watch(ahead[0])
    for _ in range(4):
        ahead[0] += 20
        watch.look()
    assert [event.data["told"]["seconds"] for event in jumps(timezone.now())] == [80]


def test_a_jump_while_the_database_is_away_is_told_later(ahead: list[float], monkeypatch: pytest.MonkeyPatch) -> None:
    watch = clock.Watch(ahead[0])
    ahead[0] += 90

    def away(**_: object) -> None:
        raise OperationalError("the connection is lost")

    with monkeypatch.context() as cut:
        cut.setattr(clock, "jumped", away)
        with pytest.raises(OperationalError):
            watch.look()
    watch.look()
    assert [event.data["told"]["seconds"] for event in jumps(timezone.now())] == [90]


def test_the_steady_clock_is_one_that_nobody_sets() -> None:
    before = clock._ahead()
    assert abs(clock._ahead() - before) < 5


# A record of tomorrow, as a server with a wrong clock would have made it.
TOMORROW = """
from datetime import timedelta; from uuid import uuid4; from django.utils import timezone
from sites.actor import Actor; from traveller.journal.clock import jumped
from traveller.journal.event_context import EventContext
at = timezone.now() + timedelta(days=1)
now = EventContext(uid=uuid4(), at=at, recorded_at=at, actor=Actor("system", "server"))
jumped(event_context=now, seconds=90, machine="box")
"""


@pytest.mark.long
@pytest.mark.sqlite
def test_on_the_command_line_the_recorded_way_out_is_needed_once(
    tmp_path: Path, migrated: Callable[[Path], None]
) -> None:
    port = unused()
    migrated(tmp_path)
    assert manage(tmp_path, "shell", "--no-imports", "-c", TOMORROW).returncode == 0
    refused = manage(tmp_path, "serve", "--port", str(port), TRAVELLER_ADDRESS=f"http://127.0.0.1:{port}")
    assert (refused.returncode, "the clock is" in refused.stderr) == (1, True), refused.stderr
    assert "Traceback" not in refused.stderr
    with serving(tmp_path, port, "--clock-was-wrong", "the battery was flat"):
        assert answers(port)
    with serving(tmp_path, port):
        assert answers(port)
    assert "Everything agrees" in manage(tmp_path, "verify").stdout
