"""A lane: a process of its own that does the tasks of one queue, one after the other, until it is told to end."""

from __future__ import annotations

import os
import signal
from multiprocessing import Process

import django

from traveller.management.memory import give_back
from traveller.management.parent import end_with, stop_when_told

__all__ = ["begin"]

# How long a lane rests when there is nothing to do.
REST_S = {"quick": 0.5, "slow": 2.0}
ENDING = (signal.SIGTERM, signal.SIGINT)


def begin(name: str) -> Process:
    """Start the lane of this queue as a child of this process.

    Where the system forks, what the parent has imported is in memory once for all of them; the parent must hold no
    database connection then.
    """
    process = Process(target=_run, args=(name, os.getpid()), name=f"{name} lane")
    # A signal that comes before the child has its own way of stopping waits until it has.
    before = signal.pthread_sigmask(signal.SIG_BLOCK, ENDING)
    try:
        process.start()
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
    return process


def _run(name: str, parent: int) -> None:
    stop_when_told()
    signal.pthread_sigmask(signal.SIG_UNBLOCK, ENDING)
    if os.getppid() != parent:
        return
    end_with(parent)
    give_back()
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
