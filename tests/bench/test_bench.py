"""Each measurement runs, with tiny numbers, and gives figures; what they are worth is for `manage.py bench` to say."""

from __future__ import annotations

import math

import pytest

from tests.bench.figures import Figure, NotRun, Rounds, Spent, in_turns, percentile
from tests.bench.main import MEASUREMENTS, line, measured, run


@pytest.mark.long
@pytest.mark.parametrize("name", [name for name in MEASUREMENTS if name not in ("racing", "phone", "suite")])
def test_a_measurement_runs_on_sqlite(name: str) -> None:
    found = measured(name, "SQLite", "tiny")
    assert not isinstance(found, NotRun), found
    assert found and all(math.isfinite(figure.value) and figure.name for figure in found)
    ratios = [figure.value for figure in found if figure.target]
    assert ratios and all(value > 0 for value in ratios)


@pytest.mark.long
@pytest.mark.browser
def test_what_a_phone_takes_over_the_wire_is_within_its_budgets() -> None:
    found = measured("phone", "SQLite", "tiny")
    assert not isinstance(found, NotRun), found
    print(*map(line, found), sep="\n")
    assert len(found) == 2 and all(figure.met for figure in found), found


@pytest.mark.postgres
@pytest.mark.django_db
@pytest.mark.parametrize("name", ["recording", "racing"])
def test_a_measurement_runs_on_postgresql(name: str) -> None:
    found = measured(name, "PostgreSQL", "tiny")
    assert not isinstance(found, NotRun), found
    assert found and all(figure.value > 0 for figure in found)


def test_without_a_postgresql_it_says_what_did_not_run(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("TEST_DATABASE_URL", raising=False)
    assert measured("racing", "PostgreSQL", "tiny") == NotRun(
        "racing on PostgreSQL", "TEST_DATABASE_URL names no PostgreSQL"
    )


def test_a_name_that_is_none_is_answered_with_those_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["speed"], size="tiny") == 2
    assert "recording" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("value", "better", "target", "met"),
    [
        (0.35, "at least", 0.35, True),
        (0.34, "at least", 0.35, False),
        (4.1, "at most", 4.0, False),
        (9, "at most", None, True),
    ],
)
def test_a_figure_is_met_at_its_target(value: float, better: str, target: float | None, met: bool) -> None:
    figure = Figure("rate", value, "at least" if better == "at least" else "at most", target)
    assert figure.met is met
    assert ("MISSED" in line(figure)) is not met


def test_a_ratio_is_the_median_of_the_rounds_own_ratios() -> None:
    ours, floor = [Spent(2, 1, 1), Spent(40, 1, 1), Spent(3, 1, 1)], [Spent(1, 1, 1), Spent(20, 1, 1), Spent(3, 1, 1)]
    assert Rounds(ours, floor).rate_ratio() == 0.5


def test_both_ways_are_done_in_every_round_and_take_turns_to_be_first() -> None:
    done: list[str] = []
    in_turns(2, lambda turn: [lambda: done.append("ours")], lambda turn: [lambda: done.append("floor")])
    assert done == ["ours", "floor", "floor", "ours"]


def test_the_ninety_ninth_percentile_is_the_nearest_rank() -> None:
    assert percentile(list(range(1, 101)), 0.99) == 99 and percentile([5.0], 0.99) == 5.0
