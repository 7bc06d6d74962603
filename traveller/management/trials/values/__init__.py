"""Drawn values on every form and every machine address: nobody is ever answered with a fault.

Readers of each kind walk the pages, fill in the forms that they find there and get them wrong, ask for every address
of the table with what does not belong there, and send a phone's queue torn. An answer from 500 on, and an exception
that was caught and put aside, is a fault; each kind of it is printed with what is needed to send it again.
"""

from __future__ import annotations

import random
from time import perf_counter

from traveller.management.trials import Out
from traveller.management.trials.values.ground import demo_readers, story_reported
from traveller.management.trials.values.storm import Storm

TITLE = "drawn values on every form and machine address: no answer from 500 on"
REQUESTS = 10_000
REQUESTS_SHORT = 1_000
SEEDS = 10**6


def run(seed: int, *, short: bool, out: Out) -> int:
    """The trial on the demo's story, in a database of its own; 0 when there was no fault."""
    out(f"seed {seed} (another, drawn now: --seed {random.SystemRandom().randrange(SEEDS)})")
    out("Telling the demo's story in a database of the trial's own ...")
    with story_reported():
        return tried(Storm(seed, demo_readers()), REQUESTS_SHORT if short else REQUESTS, out)


def tried(storm: Storm, requests: int, out: Out) -> int:
    """So many requests, and what came of them."""
    began = perf_counter()
    storm.blow(requests, out)
    took = perf_counter() - began
    _reported(storm, out)
    out(f"{storm.drawn:,} requests with drawn values, {storm.walked:,} that only looked, in {took:.0f} s")
    out(f"5xx and exceptions put aside: {sum(met.times for met in storm.met.values())}   (goal: 0)")
    return 1 if storm.met else 0


def _reported(storm: Storm, out: Out) -> None:
    """How far the trial reached, and how often each kind of fault was met."""
    never = sorted(set(storm.routes) - storm.tried)
    out(f"addresses of the table asked for: {len(storm.routes) - len(never)} of {len(storm.routes)}   (goal: all)")
    out(f"forms, by reader and address: {len(storm.forms_filled)} filled in of {len(storm.forms_seen)} seen")
    out("answers: " + ", ".join(f"{status} x {times}" for status, times in sorted(storm.statuses.items())))
    out(f"slowest: {storm.slowest[0]:.1f} s, {storm.slowest[1]}")
    for route in never:
        out(f"NEVER ASKED: /{route}")
    for met in storm.met.values():
        out(f"{met.times} x {met.fault.where}")
