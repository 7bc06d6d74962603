"""`manage.py work`: reads the files that were sent, and does what else need not be waited for."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandParser
from django.db import DatabaseError, InterfaceError, close_old_connections, connection
from django.utils import timezone
from django_tasks_db.management.commands.db_worker import Worker

from traveller.batches.tasks import read_waiting
from traveller.journal.background import enqueue
from traveller.management import owner
from traveller.management.parent import end_with
from traveller.management.ready import ready_database
from traveller.management.tasks import ask_by_the_clock
from traveller.management.work.alive import worker_name
from traveller.management.work.supervise import Lane, Supervisor, lane_command
from traveller.management.work.sweep import look_after, sweep

# How long a lane rests when there is nothing to do.
REST_S = {"quick": 0.5, "slow": 2.0}


class Command(BaseCommand):
    help = "Does the work behind the pages; `serve` and `demo` start it themselves, it may run elsewhere too."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--lane", choices=settings.LANES, help="only this lane, in this process")
        parser.add_argument("--parent", type=int, help="end when this process, the parent, has ended")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["lane"]:
            run_lane(options["lane"], options["parent"])
            return
        ready_database(migrate=False)
        owner.beside("work")
        take_up()
        connection.close()
        lanes = [Lane(name, lane_command(name)) for name in settings.LANES]
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


def run_lane(name: str, parent: int | None) -> None:
    """Do the tasks of one queue, one after the other, until told to end."""
    if parent is not None:
        if os.getppid() != parent:
            return
        end_with(parent)
    close_old_connections()
    worker = Worker(
        queue_names=[name],
        interval=REST_S[name],
        batch=False,
        backend_name="default",
        startup_delay=False,
        max_tasks=None,
        worker_id=worker_name(),
        excluded_queue_names=[],
    )
    worker.configure_signals()
    worker.run()
