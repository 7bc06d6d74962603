"""Where the probe was decides what a soak's log proves; a gap, or a slow logger, hurts only what is not yet proved."""

from __future__ import annotations

import pytest

from tests.rules.checks.evidence import flat, logged, parsed
from traveller.rules.checks import soak
from traveller.rules.checks.base import CheckVerdict
from traveller.rules.logs.found import Probe


def soaked(row: dict[str, str], points: list[tuple[float, float]], seconds: float, **log: object) -> CheckVerdict:
    """The verdict on one load."""
    return soak.judge(parsed(soak.KIND.parse(row)), logged(points, seconds, **log)).step  # type: ignore[arg-type]


LEAST = {"least": "30", "temperature": "150 C"}
BETWEEN = {"least": "30", "temperature": "150-200 C"}


@pytest.mark.parametrize(
    ("where", "probe", "code"),
    [
        ("air", None, "soak.passed"),
        ("air", "air", "soak.passed"),
        ("air", "part", "soak.passed"),
        ("air", "surface", "soak.passed"),
        ("air", "platen", "soak.no_air"),
        ("surface", None, "logged.no_probe"),
        ("surface", "air", "soak.no_surface"),
        ("surface", "platen", "soak.no_surface"),
        ("surface", "surface", "soak.passed"),
        ("surface", "mould", "soak.passed"),
        ("surface", "part", "soak.passed"),
        ("part", None, "logged.no_probe"),
        ("part", "air", "soak.no_inside"),
        ("part", "surface", "soak.no_inside"),
        ("part", "mould", "soak.no_inside"),
        ("part", "part", "soak.passed"),
    ],
)
def test_a_soak_is_proved_only_from_where_it_is_asked_or_further_in(where: str, probe: Probe | None, code: str) -> None:
    verdict = soaked({**LEAST, "where": where}, flat(160, 31), 1860, probe=probe)
    assert verdict.code == code
    assert verdict.outcome == ("passed" if code == "soak.passed" else "missing")


@pytest.mark.parametrize("where", ["surface", "part"])
def test_where_the_probe_of_a_check_is_written_into_it_nobody_is_asked(where: str) -> None:
    row = {**LEAST, "where": where, "probe": where}
    assert soaked(row, flat(160, 31), 1860).code == "soak.passed"
    heat = soak.KIND.heat(parsed(soak.KIND.parse(row)))
    asking = soak.KIND.heat(parsed(soak.KIND.parse({**LEAST, "where": where})))
    of_air = soak.KIND.heat(parsed(soak.KIND.parse(LEAST)))
    assert heat and asking and of_air
    assert (heat.asks_probe, asking.asks_probe, of_air.asks_probe) == (False, True, False)


def test_air_that_was_too_short_fails_the_surface_too() -> None:
    assert soaked({**LEAST, "where": "surface"}, flat(160, 20), 1200, probe="air").code == "soak.too_short"


def test_a_probe_further_in_cannot_show_that_it_was_never_too_hot_outside() -> None:
    row = {**BETWEEN, "where": "surface"}
    assert soaked(row, flat(160, 31), 1860, probe="part").code == "soak.outside_unseen"
    assert soaked(row, flat(201, 31), 1860, probe="part").code == "soak.too_hot"
    assert soaked(row, flat(160, 31), 1860, probe="surface").code == "soak.passed"


def test_the_verdict_says_where_the_probe_was() -> None:
    assert soaked(LEAST, flat(160, 31), 1860).figures["notes"] == ["logged.probe_air"]
    assert soaked(LEAST, flat(160, 31), 1860, probe="part").figures["notes"] == ["logged.probe_part"]


# ------------------------------------------------------------------ gaps and slow loggers
GAP_BEFORE = [(0.0, 20.0), (300.0, 155.0), *[(300.0 + second, celsius) for second, celsius in flat(155, 59)]]
GAP_AFTER = [*flat(150, 59), (59 * 60 + 240.0, 90.0)]


@pytest.mark.parametrize("points", [GAP_BEFORE, GAP_AFTER])
def test_a_gap_takes_nothing_away_from_what_was_seen(points: list[tuple[float, float]]) -> None:
    verdict = soaked(LEAST, points, points[-1][0])
    assert (verdict.outcome, verdict.code) == ("passed", "soak.passed")
    assert "logged.note_gap" in verdict.figures["notes"] and verdict.figures["gaps"] == 1  # type: ignore[operator]


@pytest.mark.parametrize(
    "row", [{"least": "60", "temperature": "150 C"}, BETWEEN, {"least": "30", "most": "90", "temperature": "150 C"}]
)
def test_a_gap_hides_what_is_not_yet_proved(row: dict[str, str]) -> None:
    """Too short without it, or something above which it may have risen."""
    verdict = soaked(row, GAP_AFTER, GAP_AFTER[-1][0])
    assert (verdict.outcome, verdict.code) == ("missing", "logged.gap")


def every(minutes: float, count: int, *, celsius: float = 160.0) -> list[tuple[float, float]]:
    """Readings every so many minutes."""
    return [(60.0 * minutes * n, celsius) for n in range(count)]


def test_a_logger_that_writes_every_five_minutes_has_no_gap_of_five_minutes() -> None:
    verdict = soaked(BETWEEN, every(5, 8), 35 * 60, every_s=300)
    assert verdict.code == "soak.passed" and verdict.figures["every"] == "5 min"
    assert "logged.note_every" in verdict.figures["notes"]  # type: ignore[operator]
    late = [*every(5, 4), *[(second + 60 * 23.0, celsius) for second, celsius in every(5, 5)]]
    assert soaked(BETWEEN, late, 43 * 60, every_s=300).code == "logged.gap", "eight minutes between two of five"
    jitter = [(second + 100 * (n % 2), celsius) for n, (second, celsius) in enumerate(every(5, 8))]
    assert soaked(BETWEEN, jitter, 35 * 60, every_s=300).code == "soak.passed"


@pytest.mark.parametrize(("least", "code"), [("20", "soak.passed"), ("19.9", "logged.coarse")])
def test_a_logger_that_is_too_slow_for_what_it_has_to_prove_proves_nothing(least: str, code: str) -> None:
    verdict = soaked({**BETWEEN, "least": least}, every(5, 8), 35 * 60, every_s=300)
    assert verdict.code == code
    if code == "logged.coarse":
        assert verdict.figures["every_most"] == "4.97 min" and verdict.figures["every"] == "5 min"


def test_a_gap_that_the_check_allows_is_none_however_fast_the_logger() -> None:
    points = [*flat(160, 10), *[(second + 700, celsius) for second, celsius in flat(160, 25)]]
    assert soaked({**BETWEEN, "gap": "2 min"}, points, 2200, every_s=60).code == "soak.passed"
    assert soaked({**BETWEEN, "gap": "90 s"}, points, 2200, every_s=60).code == "logged.gap"
