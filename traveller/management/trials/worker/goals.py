"""What the trial saw, and each figure of it beside its goal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from traveller.management.trials.hostile.goals import Goals

# A lane that was killed again and again rests half a minute; a supervisor looks every minute.
READ_WITHIN_S = 120.0
AGREES = "Everything agrees."
DONE = ("read", "successful")


@dataclass
class Kill:
    """One kill in the middle: of what, whom, how far into it, and what came of it."""

    what: str
    victim: str
    after_s: float = 0.0
    outcome: str = ""
    late_s: float = 0.0
    tries: int = 0


@dataclass
class Found:
    """What the trial saw on one database."""

    kills: list[Kill] = field(default_factory=list)
    sent: list[dict[str, Any]] = field(default_factory=list)
    reported: list[dict[str, Any]] = field(default_factory=list)
    pages: dict[str, Any] = field(default_factory=dict)
    waited: bool = False
    order: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    open_tasks: int = 0
    verified: str = ""
    lost: str = ""


def in_turns(order: Sequence[str]) -> bool:
    """While two shops wait no shop is served twice running, and each shop's files come in the order of sending.

    `order`: "shop number" of each file, as they were read.
    """
    shops = [one.split()[0] for one in order]
    own = {shop: [int(one.split()[1]) for one in order if one.startswith(f"{shop} ")] for shop in shops}
    twice = any(shop == then and set(shops[n + 1 :]) - {shop} for n, (shop, then) in enumerate(pairwise(shops)))
    return bool(order) and not twice and all(numbers == sorted(numbers) for numbers in own.values())


def judge(found: Found, goals: Goals, *, short: bool) -> None:
    """All of them; in short no times."""
    goals.judge("the trial came to its end", found.lost or "yes", "yes", not found.lost)
    _judge_absence(found, goals)
    _judge_kills(found, goals)
    goals.none("processes left", found.left)
    goals.judge("tasks left", str(found.open_tasks), "0", found.open_tasks == 0)
    goals.judge("verify", found.verified, AGREES, found.verified == AGREES)
    if not short:
        late = max((kill.late_s for kill in found.kills), default=0.0)
        goal = f"within {READ_WITHIN_S:.0f} s"
        goals.judge("done after a kill at the latest", f"{late:.1f} s", goal, late <= READ_WITHIN_S)


def _judge_absence(found: Found, goals: Goals) -> None:
    pages = found.pages
    goals.judge("files wait while nobody works", str(found.waited), "True", found.waited)
    for what, key in (
        ("the shop's page says that it is being read", "being_read"),
        ("the founder's page of the file names the command", "names_command"),
    ):
        goals.judge(what, str(pages.get(key)), "True", pages.get(key) is True)
    for reader in ("shop", "founder"):
        words, since = pages.get(reader, ""), pages.get(f"{reader}_since", "")
        held = bool(since) and since in words
        goals.judge(f"the {reader}'s page says since when", words or "nothing", f"nothing since {since}", held)
    goals.note("the founder's first page names the command", str(pages.get("first_page")))
    taken = pages.get("count") == 302 and pages.get("booked", 0) > 0
    figure = f"status {pages.get('count')}, {pages.get('booked')} events"
    goals.judge("another shop's count is taken meanwhile", figure, "302 and booked", taken)
    goals.judge("read in order of turns", ", ".join(found.order), "shops in turn", in_turns(found.order))


def _judge_kills(found: Found, goals: Goals) -> None:
    failed = [kill for kill in found.kills if kill.outcome not in DONE]
    goals.judge("kills in the middle", str(len(found.kills)), "at least one", bool(found.kills))
    words = [f"{kill.what}, {kill.victim} killed: {kill.outcome}" for kill in failed]
    goals.none("killed in the middle and not done after all", words)
    pairs = list(zip(found.sent, found.reported, strict=True))
    odd = [
        f"{sent['kind']}: {reported['events']}" for sent, reported in pairs if reported["events"] != ["evidence read"]
    ]
    goals.judge("files sent", str(len(pairs)), "at least one", bool(pairs))
    goals.none("files not told exactly once as read", odd)
    logs = [reported["passed"] for sent, reported in pairs if sent["kind"] == "log"]
    odd = [f"{passed} times" for passed in logs if passed != 1]
    goals.none(f"of {len(logs)} logs not judged exactly once as hot enough", odd)
