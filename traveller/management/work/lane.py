"""A lane: a process of its own that does the tasks of one queue, one after the other, until it is told to end."""

from __future__ import annotations

import os
from multiprocessing.process import BaseProcess

import django

from traveller.management.memory import give_memory_back
from traveller.management.parent import begin_child, end_with

__all__ = ["begin_lane"]

# How long a lane rests when there is nothing to do.
REST_S = {"quick": 0.5, "slow": 2.0}


def begin_lane(name: str) -> BaseProcess:
    """Start the lane of this queue as a child of this process."""
    return begin_child(f"{name} lane", _run, name, os.getpid())


def _run(name: str, parent: int) -> None:
    end_with(parent)
    give_memory_back()
    # Where it was not forked it begins with nothing.
    django.setup()
    from django_tasks_db.management.commands.db_worker import Worker

    from traveller.management.work.alive import worker_name

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
