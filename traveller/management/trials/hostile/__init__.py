"""The trial of hostile uploads: every kind of hostile file through every door, while honest people work."""

from __future__ import annotations

from traveller.management.trials import Out

TITLE = "hostile files through every door, while another shop reports and the founder looks"


def run(seed: int, *, short: bool, out: Out) -> int:
    """0 when all goals held. Loaded late: the list of trials needs none of it."""
    from traveller.management.trials.hostile.main import tried

    return tried(seed, short=short, out=out)
