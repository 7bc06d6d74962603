"""What the first piece, the test master, the hopper and a slip of units add to their checks."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from tests.rules.checks.evidence import NOON, good, load, parsed, read, with_readings
from traveller.rules.checks import approval, drying, every_piece, reading
from traveller.rules.checks.base import ApprovalEvidence, Evidence, MadeWith
from traveller.rules.checks.plausible import hint

SPLIT = MadeWith(design="B", tool="M-7", cavities=(1, 2), material="R-1", place="moulder")
CAPPED = parsed(approval.KIND.parse({"cap": "20", "every_cavity": "yes", "lapse": "90"}))
MASTER = parsed(every_piece.KIND.parse({"name": "water test", "master": "yes"}))


def approved(**more: object) -> ApprovalEvidence:
    """A decision at noon."""
    return replace(ApprovalEvidence(NOON, True, SPLIT), **more)  # type: ignore[arg-type]


MEASURED = tuple(read("rim", "79.4", "mm", cavity=cavity, taken_at=NOON - timedelta(hours=1)) for cavity in (1, 2))
FINE = Evidence(
    readings=MEASURED, open_cavities=(1, 2), made_with=SPLIT, approvals=(approved(),), counts=good(500), started_at=NOON
)


def test_an_approval_for_what_is_run_passes() -> None:
    assert approval.judge(CAPPED, FINE).step.code == "approval.passed"


@pytest.mark.parametrize(("pieces", "outcome"), [(19, "missing"), (20, "missing"), (21, "failed")])
def test_quantity_is_capped_until_approval(pieces: int, outcome: str) -> None:
    assert approval.judge(CAPPED, replace(FINE, approvals=(), counts=good(pieces))).step.outcome == outcome


@pytest.mark.parametrize(
    ("name", "now"),
    [("design", "C"), ("tool", "M-8"), ("cavities", (1,)), ("material", "R-2"), ("place", "elsewhere")],
)
def test_a_change_reopens_the_first_off(name: str, now: object) -> None:
    changed = replace(FINE, made_with=replace(SPLIT, **{name: now}), counts=good(5))  # type: ignore[arg-type]
    verdict = approval.judge(CAPPED, changed).step
    assert (verdict.outcome, verdict.code, verdict.figures["changes"]) == ("missing", "approval.reopened", [name])
    anew = replace(changed, approvals=(*changed.approvals, approved(made_with=changed.made_with)))
    assert approval.judge(CAPPED, anew).step.outcome == "passed"


@pytest.mark.parametrize(("days", "code"), [(90, "approval.passed"), (91, "approval.lapsed")])
def test_a_long_lapse_reopens_it_unless_it_was_run_meanwhile(days: int, code: str) -> None:
    later = replace(FINE, started_at=NOON + timedelta(days=days), counts=good(5))
    assert approval.judge(CAPPED, later).step.code == code
    run = approved(last_run_at=NOON + timedelta(days=days - 10))
    assert approval.judge(CAPPED, replace(later, approvals=(run,))).step.code == "approval.passed"


def test_every_open_cavity_is_measured_before_the_decision() -> None:
    late = (MEASURED[0], replace(MEASURED[1], taken_at=NOON + timedelta(seconds=1)))
    for readings in (MEASURED[:1], late):
        verdict = approval.judge(CAPPED, replace(FINE, readings=readings, counts=good(5))).step
        assert (verdict.code, verdict.figures["cavity"]) == ("approval.cavity_not_measured", 2)


def test_a_later_refusal_counts() -> None:
    refused = approved(decided_at=NOON + timedelta(hours=1), approved=False)
    assert approval.judge(CAPPED, replace(FINE, approvals=(refused, approved()))).step.code == "approval.refused"


def leak_tries(*tries: tuple[int, str]) -> Evidence:
    """All counted; the test master tried at these minutes after noon, 1 found and 0 not."""
    readings = (read("master", value, taken_at=NOON + timedelta(minutes=minute)) for minute, value in tries)
    return with_readings(*readings, counts=good(480), said_done=True, started_at=NOON)


@pytest.mark.parametrize(
    ("tries", "outcome", "code"),
    [
        (((0, "1"), (470, "1")), "passed", "every_piece.passed"),
        (((15, "1"), (470, "1")), "passed", "every_piece.passed"),
        (((16, "1"), (470, "1")), "missing", "every_piece.no_master_at_start"),
        (((0, "1"),), "missing", "every_piece.no_master_at_end"),
        ((), "missing", "every_piece.no_master"),
        (((0, "0"), (5, "1"), (470, "1")), "failed", "every_piece.master_failed_from_start"),
        (((0, "1"), (240, "0"), (245, "1"), (470, "1")), "failed", "every_piece.master_failed"),
    ],
)
def test_the_tester_finds_the_known_leak_at_start_and_end(
    tries: tuple[tuple[int, str], ...], outcome: str, code: str
) -> None:
    verdict = every_piece.judge(MASTER, leak_tries(*tries)).step
    assert (verdict.outcome, verdict.code) == (outcome, code)


def test_a_failed_master_makes_all_suspect_since_it_last_did_well() -> None:
    figures = every_piece.judge(MASTER, leak_tries((0, "1"), (230, "1"), (470, "0"))).step.figures
    assert figures["since"] == (NOON + timedelta(minutes=230)).isoformat()
    assert figures["failed_at"] == (NOON + timedelta(minutes=470)).isoformat() and figures["tested"] == 480


@pytest.mark.parametrize(
    ("hopper", "drawn", "code"),
    [
        ("100", "25", "residence.passed"),
        ("99.99", "25", "residence.below"),
        ("100.01", "25", "residence.passed"),
        ("100", "25.01", "residence.below"),
        ("100", "0", "residence.none"),
    ],
)
def test_residence_is_hopper_mass_over_throughput(hopper: str, drawn: str, code: str) -> None:
    """100 kg at 25 kg an hour stay 4 h (Drying recommendations for a PETG-type copolymer)."""
    params = parsed(drying.KIND.parse({"least": "4", "hopper": "yes"}))
    readings = (read("hopper", hopper, "kg"), read("throughput", drawn, "kg/h"))
    verdict = drying.judge(params, Evidence(loads=(load(60),), readings=readings)).step
    assert verdict.code == code


def test_the_same_hopper_in_pounds() -> None:
    params = parsed(drying.KIND.parse({"least": "3.5", "hopper": "yes"}))
    readings = (read("hopper", "350", "lb"), read("throughput", "100", "lb/h"))
    assert drying.judge(params, Evidence(loads=(load(60),), readings=readings)).step.outcome == "passed"


@pytest.mark.parametrize(
    ("open_for", "unit", "code"),
    [("30", "min", "held.passed"), ("31", "min", "open.above"), ("0.5", "h", "held.passed"), ("1", "h", "open.above")],
)
def test_dried_resin_lies_open_no_longer_than_allowed(open_for: str, unit: str, code: str) -> None:
    params = parsed(drying.KIND.parse({"least": "4", "open": "30 min"}))
    evidence = Evidence(loads=(load(4 * 3600),), readings=(read("open", open_for, unit),))
    assert drying.judge(params, evidence).step.code == code
    assert drying.judge(params, replace(evidence, readings=())).step.code == "open.none"


OVEN = parsed(reading.KIND.parse({"name": "oven", "least": "150", "most": "180", "unit": "C", "plausible": "20-260"}))


@pytest.mark.parametrize(
    ("value", "unit", "code"),
    [
        ("350", "", "plausible.fahrenheit_meant"),
        ("350", "C", "plausible.fahrenheit_meant"),
        ("350", "F", None),
        ("260", "C", None),
        ("260.1", "C", "plausible.fahrenheit_meant"),
        ("900", "C", "plausible.outside"),
        ("40", "F", "plausible.celsius_meant"),
        ("20", "", None),
    ],
)
def test_fahrenheit_typed_as_celsius_is_asked_about(value: str, unit: str, code: str | None) -> None:
    found = hint(reading.KIND.questions(OVEN)[0], Decimal(value), unit)
    assert (found and found[0]) == code
    if found:
        assert "{" not in reading.WORDS[found[0]].format(**found[1])


def test_without_a_plausible_range_nothing_is_asked() -> None:
    assert hint(reading.KIND.questions(replace(OVEN, plausible=None))[0], Decimal(350)) is None
    assert isinstance(reading.KIND.parse({"name": "x", "least": "1", "unit": "C", "plausible": "260-20"}), list)
