"""Ages: pot life from mixing at its temperature, and the last day at the site."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from tests.rules.checks.evidence import NOON, parsed
from tests.rules.checks.tables import Table
from traveller.rules.checks import age
from traveller.rules.checks.base import Evidence, MaterialEvidence

TABLE = Table(
    rows=({}, {"name": "ink", "pot_life": "8 h at 25 C"}, {"pot_life": "300 min at 77 F", "doubling": "18"}),
    scope="step",
    full={"name": "ink", "pot_life": "8 h at 25 C", "doubling": "10"},
    good={"mixed_at": "2026-11-24T10:00", "room": "22"},
)


INK = parsed(age.KIND.parse({"name": "ink", "pot_life": "8 h at 25 C"}))


def ink(hours: float, *, celsius: str | None = "25", expires: date | None = None, **more: datetime) -> Evidence:
    """Ink used so many hours after mixing."""
    used = NOON + timedelta(hours=hours)
    temperature = None if celsius is None else Decimal(celsius)
    one = MaterialEvidence("INK-1", "ink", expires, more.get("mixed_at", NOON), used, temperature)
    return Evidence(materials=(one,))


@pytest.mark.parametrize(
    ("hours", "celsius", "code"),
    [
        (8, "25", "age.passed"),
        (8.001, "25", "age.past_pot_life"),
        (4, "35", "age.passed"),
        (4.001, "35", "age.past_pot_life"),
        (8, "15", "age.passed"),
        (8.001, "15", "age.past_pot_life"),
        (-1, "25", "age.used_before_mixing"),
        (1, None, "age.no_temperature"),
    ],
)
def test_pot_life_runs_from_mixing_at_its_temperature(hours: float, celsius: str | None, code: str) -> None:
    """8 h at 25 C, halving for 10 degrees more (Siebdruck-Partner, Richtwerte für Topfzeit); cold is not credited."""
    assert age.judge(INK, ink(hours, celsius=celsius)).step.code == code


def test_an_expired_lot_fails_whatever_its_pot_life() -> None:
    assert age.judge(INK, ink(1, expires=date(2026, 3, 3))).step.code == "age.expired"
    assert age.judge(INK, ink(1, expires=date(2026, 3, 4))).step.code == "age.passed_last"


def test_the_last_day_is_the_day_at_the_site_and_counts_at_use() -> None:
    every = parsed(age.KIND.parse({}))
    late = datetime(2026, 3, 5, 3, 30, tzinfo=UTC)
    here = MaterialEvidence("R-1", "resin", date(2026, 3, 4), None, late.astimezone(ZoneInfo("America/Chicago")))
    assert age.judge(every, Evidence(materials=(here,))).step.figures["days"] == 0
    there = replace(here, used_at=late.astimezone(ZoneInfo("Europe/Berlin")))
    assert age.judge(every, Evidence(materials=(there,))).step.code == "age.expired"
    assert age.judge(every, Evidence(materials=(replace(here, expires_on=None),))).step.code == "age.no_expiry"


def test_one_bad_lot_of_several_is_enough() -> None:
    every = parsed(age.KIND.parse({}))
    fine = MaterialEvidence("A", "resin", date(2026, 4, 1), None, NOON)
    found = age.judge(every, Evidence(materials=(fine, replace(fine, lot="B", expires_on=date(2026, 3, 3))))).step
    assert (found.outcome, found.figures["lot"]) == ("failed", "B")
    assert age.judge(INK, Evidence(materials=(fine,))).step.code == "age.none_used"


@pytest.mark.parametrize("pot_life", ["8 h", "8 h at 25", "soon", "0.5 min at 25 C", "0 h at 25 C"])
def test_a_pot_life_without_its_temperature_is_named(pot_life: str) -> None:
    assert isinstance(age.KIND.parse({"pot_life": pot_life}), list)
