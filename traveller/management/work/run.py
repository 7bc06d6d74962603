"""The work behind the pages, from its first look to its end: alone as `manage.py work`, or behind a server."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from django.conf import settings
from django.db import DatabaseError, InterfaceError, connection
from django.utils import timezone

from traveller.batches.tasks import read_waiting
from traveller.journal.background import enqueue
from traveller.management import owner
from traveller.management.parent import imported_once
from traveller.management.tasks import ask_by_the_clock
from traveller.management.work.lane import begin_lane
from traveller.management.work.supervise import Supervisor, WorkLane
from traveller.management.work.sweep import look_after, sweep

__all__ = ["LANES_NEED", "run"]

LANES_NEED = ("django_tasks_db.management.commands.db_worker", "traveller.exchange.tasks", "traveller.management.tasks")


def run(out: Callable[[str], None], complain: Callable[[str], None], parent: int | None) -> None:
    """Until this process is told to end, or `parent` (a process's number) has ended.

    `out` gets the one line when it has begun, `complain` what goes wrong later.
    """
    owner.beside("work")
    take_up()
    connection.close()
    imported_once(LANES_NEED)
    lanes = [WorkLane(name, begin_lane) for name in settings.LANES]
    out("Working. Stop with Ctrl-C." if parent is None else "Working behind the pages.")
    asked = _Asked(complain)
    Supervisor(lanes, complain, asked.by_the_clock, asked.lane_ended, parent=parent).run()


def take_up() -> None:
    """At the start: what workers that are gone had taken, and files whose asking went with them."""
    now = timezone.now()
    sweep(now)
    enqueue(read_waiting, now=now)


@dataclass(frozen=True)
class _Asked:
    """What the supervisor asks of the database; one that is away is asked again a minute later."""

    complain: Callable[[str], None]

    def by_the_clock(self) -> None:
        """Every minute: what the hour asks for, and what dead workers left, since one may die of its parent's end
        after the next one has looked."""
        self._ask(ask_by_the_clock, look_after)

    def lane_ended(self) -> None:
        """What it had taken is free for the lane that is started in its place."""
        self._ask(look_after)

    def _ask(self, *questions: Callable[[datetime], None]) -> None:
        try:
            for question in questions:
                question(timezone.now())
        except (DatabaseError, InterfaceError) as error:
            self.complain(f"The database did not answer ({type(error).__name__}); it is asked again in a minute.")
        finally:
            connection.close()
