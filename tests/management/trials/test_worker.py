"""The trial of the worker in its short form, and that each of its gates can close."""

from __future__ import annotations

from random import Random
from typing import Any

import pytest

from traveller.management.trials.hostile.goals import Goals
from traveller.management.trials.worker.files import FILE_KINDS
from traveller.management.trials.worker.goals import AGREES, Found, Kill, in_turns, judge
from traveller.management.trials.worker.main import TASKS_KILLED, VICTIMS, kills_planned

SEED = 20261129


def test_everybody_is_killed_in_the_middle_of_every_kind_and_in_short_each_of_both_once() -> None:
    every = {(what, victim) for what in FILE_KINDS for victim in VICTIMS}
    every |= {(task, victim) for task in TASKS_KILLED for victim in ("lane", "supervisor")}
    assert set(kills_planned(Random(SEED), short=False)) == every
    short = kills_planned(Random(SEED), short=True)
    assert {victim for _, victim in short} == set(VICTIMS) and set(FILE_KINDS) < {what for what, _ in short}


def found(**changes: Any) -> Found:
    """A trial in which nothing went wrong."""
    since = "Nothing has read files since Sun 29 Nov, 17:52"
    pages = {
        "being_read": True, "names_command": True, "shop": since, "founder": since, "shop_since": "17:52",
        "founder_since": "17:52", "count": 302, "booked": 1, **changes.pop("pages", {}),
    }  # fmt: skip
    reported = {
        "kills": [Kill("log", "lane", 0.5, "read", 9.0, 2)],
        "sent": [{"kind": "log"}, {"kind": "pdf"}],
        "reported": [{"events": ["evidence read"], "passed": 1}, {"events": ["evidence read"], "passed": None}],
        "waited": True,
        "order": ["rubber 0", "moulder 2", "rubber 1"],
        "verified": AGREES,
    }
    return Found(pages=pages, **{**reported, **changes})


def missed(seen: Found, *, short: bool = False) -> list[str]:
    goals = Goals(lambda line: None)
    judge(seen, goals, short=short)
    return goals.missed


def test_a_trial_in_which_nothing_went_wrong_is_passed() -> None:
    assert missed(found()) == []


@pytest.mark.parametrize(
    ("changes", "goal"),
    [
        ({"lost": "no log was caught"}, "came to its end"),
        ({"waited": False}, "files wait"),
        ({"pages": {"being_read": False}}, "being read"),
        ({"pages": {"names_command": False}}, "names the command"),
        ({"pages": {"shop": ""}}, "shop's page says since when"),
        ({"pages": {"founder_since": "16:52"}}, "founder's page says since when"),
        ({"pages": {"count": 200}}, "count is taken"),
        ({"pages": {"booked": 0}}, "count is taken"),
        ({"order": ["rubber 0", "rubber 1", "moulder 2"]}, "order of turns"),
        ({"kills": []}, "kills in the middle"),
        ({"kills": [Kill("pdf", "child", 0.5, "unreadable ended", 1.0, 3)]}, "not done after all"),
        ({"kills": [Kill("log", "lane", 0.5, "read", 121.0, 2)]}, "at the latest"),
        ({"left": ["7 python child.py"]}, "processes left"),
        ({"open_tasks": 1}, "tasks left"),
        ({"verified": "1 differences (read)."}, "verify"),
    ],
)
def test_each_goal_can_be_missed(changes: dict[str, Any], goal: str) -> None:
    (only,) = missed(found(**changes))
    assert goal in only


@pytest.mark.parametrize("events", [[], ["evidence unreadable"], ["evidence read", "evidence read"]])
def test_a_file_told_never_wrongly_or_twice_is_a_missed_goal(events: list[str]) -> None:
    reported = [{"events": ["evidence read"], "passed": 1}, {"events": events, "passed": None}]
    assert missed(found(reported=reported)) == ["files not told exactly once as read"]


@pytest.mark.parametrize("times", [0, 2])
def test_a_log_judged_never_or_twice_is_a_missed_goal(times: int) -> None:
    reported = [{"events": ["evidence read"], "passed": times}, {"events": ["evidence read"], "passed": None}]
    assert missed(found(reported=reported)) == ["of 1 logs not judged exactly once as hot enough"]


def test_the_short_form_judges_all_but_the_times() -> None:
    late = found(kills=[Kill("log", "lane", 0.5, "read", 900.0, 2)])
    assert missed(late, short=True) == [] != missed(late)


@pytest.mark.parametrize(
    ("order", "fair"),
    [
        (["a 0", "b 2", "a 1", "b 3"], True),
        (["a 0", "b 2", "a 1", "a 4"], True),
        (["a 0", "a 1", "b 2"], False),
        (["a 1", "b 2", "a 0"], False),
        ([], False),
    ],
)
def test_shops_in_turn_and_each_shop_s_files_in_the_order_of_sending(order: list[str], fair: bool) -> None:
    assert in_turns(order) == fair
