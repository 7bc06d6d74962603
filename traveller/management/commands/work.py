"""`manage.py work`: reads the files that were sent, and does what else need not be waited for."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandParser
from django.db import DatabaseError, InterfaceError, connection
from django.utils import timezone

from traveller.batches.tasks import read_waiting
from traveller.journal.background import enqueue
from traveller.management import owner
from traveller.management.parent import imported_once
from traveller.management.ready import ready_database
from traveller.management.tasks import ask_by_the_clock
from traveller.management.work.lane import begin
from traveller.management.work.supervise import Lane, Supervisor
from traveller.management.work.sweep import look_after, sweep

LANES_NEED = ("django_tasks_db.management.commands.db_worker", "traveller.exchange.tasks", "traveller.management.tasks")


class Command(BaseCommand):
    help = "Does the work behind the pages; `serve` and `demo` start it themselves, it may run elsewhere too."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--parent", type=int, help="end when this process, the parent, has ended")

    def handle(self, *args: Any, **options: Any) -> None:
        ready_database(migrate=False)
        owner.beside("work")
        take_up()
        connection.close()
        imported_once(LANES_NEED)
        lanes = [Lane(name, begin) for name in settings.LANES]
        self.stdout.write("Working. Stop with Ctrl-C." if options["parent"] is None else "Working behind the pages.")
        self.stdout.flush()
        Supervisor(lanes, self.say, self.by_the_clock, self.lane_ended, parent=options["parent"]).run()

    def say(self, words: str) -> None:
        self.stderr.write(words)

    def by_the_clock(self) -> None:
        """Every minute: what the hour asks for, and what dead workers left, since one may die of its parent's end
        after the next one has looked."""
        self._ask(ask_by_the_clock, look_after)

    def lane_ended(self) -> None:
        """What it had taken is free for the lane that is started in its place."""
        self._ask(look_after)

    def _ask(self, *questions: Callable[[datetime], None]) -> None:
        """A database that is away is asked again a minute later."""
        try:
            for question in questions:
                question(timezone.now())
        except (DatabaseError, InterfaceError) as error:
            self.say(f"The database did not answer ({type(error).__name__}); it is asked again in a minute.")
        finally:
            connection.close()


def take_up() -> None:
    """At the start: what workers that are gone had taken, and files whose asking went with them."""
    now = timezone.now()
    sweep(now)
    enqueue(read_waiting, now=now)
