"""The trial of the worker: killed in the middle of each kind of task, and absent for an hour."""

from __future__ import annotations

from traveller.management.trials import Out

TITLE = "worker killed in the middle of each kind of task, and absent for an hour: done once, late, and said so"


def run(seed: int, *, short: bool, out: Out) -> int:
    """0 when all goals held. Loaded late: the list of trials needs none of it."""
    from traveller.management.trials.worker.main import tried

    return tried(seed, short=short, out=out)
