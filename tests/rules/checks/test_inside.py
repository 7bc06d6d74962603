"""Cures by where their log's probe was: inside a part, at a face, in the platen, in the air of an oven."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from tests.rules.checks.evidence import NOON, a_log, flat, load, parsed
from traveller.rules.checks import cure
from traveller.rules.checks.base import CheckVerdict, CoreEvidence, Evidence
from traveller.rules.logs.found import Probe
from traveller.rules.slab import Body, heated_through
from traveller.rules.transfer import biot_of

PLAIN = {"least": "8", "reference": "160 C", "doubling": "10"}
THICK = {**PLAIN, "thickness": "12"}


def cured(
    row: dict[str, str],
    probe: Probe | None,
    minutes: int = 30,
    *,
    celsius: float = 160.0,
    core: CoreEvidence | None = None,
    pieces: int = 40,
) -> CheckVerdict:
    """The verdict on one load whose log was flat."""
    log = a_log(flat(celsius, minutes), probe=probe)
    one = replace(load(minutes * 60, pieces=pieces, log=log), core=core)
    return cure.judge(parsed(cure.KIND.parse(row)), Evidence(loads=(one,))).step


def core_of(h: float, *, pieces: int = 40, off_c: float = 0.0, minutes: int = 40, loose: bool = False) -> CoreEvidence:
    """What a probe in the middle of a part shows in an oven that carries so much heat, with the air beside it."""
    seconds = np.arange(0.0, minutes * 60 + 1, 60.0)
    air = 160 - 80 * np.exp(-seconds / 150)
    _, middle, _ = heated_through(Body(12.0, 0.1, biot_of(h, 0.25, 12.0)), seconds, air, start_c=24.0, fine=False)
    middle = air if loose else middle + off_c
    return CoreEvidence(
        a_log(list(zip(seconds.tolist(), middle.tolist(), strict=True))),
        a_log(list(zip(seconds.tolist(), air.tolist(), strict=True)), probe="air"),
        NOON,
        NOON + timedelta(minutes=minutes),
        pieces,
        "core.csv",
    )


def test_nobody_said_where_the_probe_was() -> None:
    assert cured(PLAIN, None).code == "logged.no_probe"
    assert cured({**PLAIN, "probe": "mould"}, None).code == "cure.passed"
    # Who sends the log knows better than who wrote the check.
    assert cured({**THICK, "probe": "mould"}, "air").code == "cure.no_transfer"


def test_a_probe_inside_a_part_needs_no_model() -> None:
    verdict = cured(THICK, "part", 9)
    assert (verdict.code, verdict.figures["worth_centre"]) == ("cure.passed_through", "9")
    assert cured(THICK, "part", 7).code == "cure.under"
    most = {**THICK, "most": "20"}
    assert cured(most, "part", 9).code == "cure.face_unseen", "the surface had more than the middle, and was not seen"
    assert cured(most, "part", 21).code == "cure.over"
    assert cured({**PLAIN, "most": "20"}, "part", 9).code == "cure.passed", "too thin to have a middle of its own"


@pytest.mark.parametrize("probe", ["surface", "mould"])
def test_from_a_face_the_middle_follows_by_conduction(probe: Probe) -> None:
    """Half an hour at 160 C at the face: 22.6 min in the middle of 12 mm of rubber."""
    verdict = cured(THICK, probe)
    assert verdict.code == "cure.passed_through" and float(str(verdict.figures["worth_centre"])) == pytest.approx(
        22.6, abs=0.1
    )
    assert "cure.note_conduction" in verdict.figures["notes"]  # type: ignore[operator]
    assert cured(THICK, probe, 12).code == "cure.raw_core"


def test_a_platen_tells_of_the_mould_only_by_a_measured_difference() -> None:
    assert cured(PLAIN, "platen").code == "cure.no_platen"
    known = {**PLAIN, "platen": "10"}
    verdict = cured(known, "platen", 16)
    assert (verdict.code, verdict.figures["worth"]) == ("cure.passed", "8")
    assert cured(known, "platen", 15).code == "cure.under"
    in_fahrenheit = {**PLAIN, "reference": "320 F", "doubling": "18", "platen": "18"}
    assert cured(in_fahrenheit, "platen", 16).figures["worth"] == "8"
    found = cure.KIND.parse({**PLAIN, "platen": "10", "probe": "mould"})
    assert isinstance(found, list) and [one.column for one in found] == ["platen"]


@pytest.mark.parametrize("thickness", ["12", "6"])
def test_the_air_of_an_oven_proves_nothing_of_the_inside_without_a_figure(thickness: str) -> None:
    """The log that passes as a face (22.6 min of 12 mm, 28.1 of 6) says nothing as air; it is said what to send."""
    row = {**PLAIN, "least": "20", "thickness": thickness}
    assert cured(row, "surface").code == "cure.passed_through"
    verdict = cured(row, "air")
    assert (verdict.outcome, verdict.code) == ("missing", "cure.no_transfer")
    words = cure.WORDS[verdict.code].format(**verdict.figures)
    assert "Send one log from inside a part of a full charge" in words
    assert cured(PLAIN, "air").code == "cure.no_thickness"


@pytest.mark.parametrize(
    ("thickness", "h", "minutes"),
    [("12", "10", 0.3), ("12", "25", 3.5), ("12", "60", 12.0), ("6", "10", 3.1), ("6", "25", 14.5), ("6", "60", 22.4)],
)
def test_a_figure_with_its_source_proves_what_that_air_can(thickness: str, h: str, minutes: float) -> None:
    row = {**PLAIN, "thickness": thickness, "transfer": h, "figures": "maker's data sheet 7"}
    verdict = cured(row, "air")
    assert float(str(verdict.figures["worth_centre"])) == pytest.approx(minutes, abs=0.07)
    short = minutes < 8
    assert (
        verdict.outcome == ("failed" if short else "passed") and verdict.figures["h_source"] == "maker's data sheet 7"
    )


def test_a_figure_without_its_source_is_none() -> None:
    found = cure.KIND.parse({**THICK, "transfer": "25"})
    assert isinstance(found, list) and [one.column for one in found] == ["figures"]
    thin = cure.KIND.parse({**PLAIN, "transfer": "25", "figures": "x"})
    assert isinstance(thin, list) and [one.column for one in thin] == ["thickness"]


def test_a_log_from_inside_a_part_of_a_full_charge_tells_how_well_the_oven_heats() -> None:
    verdict = cured(THICK, "air", 40, core=core_of(40.0))
    assert verdict.code == "cure.passed_through"
    low, high = float(str(verdict.figures["h_least"])), float(str(verdict.figures["h_most"]))
    assert low < 40.0 < high and float(str(verdict.figures["h"])) == pytest.approx(40.0, rel=0.02)
    assert verdict.figures["core_name"] == "core.csv" and "cure.note_core" in verdict.figures["notes"]  # type: ignore[operator]
    # What is not sure counts against the load: the least is judged by the lower end of the range.
    sure = cured({**THICK, "transfer": "40", "figures": "x"}, "air", 40)
    assert float(str(verdict.figures["worth_centre"])) < float(str(sure.figures["worth_centre"]))
    assert cured(THICK, "air", 20, core=core_of(10.0)).code == "cure.under"


@pytest.mark.parametrize(
    ("core", "pieces", "code"),
    [
        (core_of(25.0, pieces=40), 41, "cure.core_smaller"),
        (core_of(25.0, minutes=3), 40, "cure.core_too_few"),
        (core_of(25.0, loose=True), 40, "cure.core_does_not_fit"),
        (core_of(0.95), 40, "cure.core_cannot_tell"),
        (core_of(25.0, off_c=60.0), 40, "cure.core_does_not_fit"),
    ],
)
def test_a_log_from_inside_that_does_not_tell_is_refused_in_words(core: CoreEvidence, pieces: int, code: str) -> None:
    verdict = cured(THICK, "air", core=core, pieces=pieces)
    assert (verdict.outcome, verdict.code) == ("missing", code)
    assert "{" not in cure.WORDS[code].format(**verdict.figures)
    # A figure with its source stands in.
    assert cured({**THICK, "transfer": "60", "figures": "x"}, "air", core=core, pieces=pieces).code in (
        "cure.passed_through",
        "cure.raw_core",
    )


def test_too_much_is_judged_at_the_hotter_end_of_what_may_be() -> None:
    core = core_of(40.0)
    worth = float(str(cured(THICK, "air", 40, core=core).figures["worth"]))
    tight = {**THICK, "most": f"{worth + 0.05:.2f}"}
    assert cured(tight, "air", 40, core=core).code == "cure.over"


def test_a_gap_hurts_only_what_is_not_yet_proved() -> None:
    points = [*flat(160, 30), (30 * 60 + 300.0, 120.0), (30 * 60 + 360.0, 110.0)]

    def judged(row: dict[str, str]) -> CheckVerdict:
        one = load(points[-1][0], log=a_log(points, probe="mould"))
        return cure.judge(parsed(cure.KIND.parse(row)), Evidence(loads=(one,))).step

    assert judged(PLAIN).code == "cure.passed" and "logged.note_gap" in judged(PLAIN).figures["notes"]  # type: ignore[operator]
    assert judged(THICK).code == "cure.passed_through"
    assert judged({**PLAIN, "most": "60"}).code == "logged.gap"
    assert judged({**PLAIN, "least": "31"}).code == "logged.gap"


def test_after_a_gap_the_middle_is_taken_to_have_been_cold() -> None:
    """Twice twelve minutes with a pause that nobody saw are no half hour for the middle of a thick part."""
    points = [*flat(160, 12), *[(second + 1200, celsius) for second, celsius in flat(160, 12)]]
    one = load(points[-1][0], log=a_log(points, probe="mould"))
    verdict = cure.judge(parsed(cure.KIND.parse({**THICK, "least": "20"})), Evidence(loads=(one,))).step
    alone = float(str(cured({**THICK, "least": "1"}, "mould", 12).figures["worth_centre"]))
    assert verdict.code == "logged.gap"
    assert float(str(verdict.figures["worth_centre"])) == pytest.approx(2 * alone, abs=0.05)


def test_the_middle_is_drawn_by_the_same_figures_as_it_is_judged_by() -> None:
    params = parsed(cure.KIND.parse(THICK))
    heat = cure.KIND.heat(params)
    assert heat is not None and heat.middle is not None
    one = load(1800, pieces=40, log=a_log(flat(160, 30), probe="air"))
    assert heat.middle(one) is None, "nothing is known of it"
    drawn = heat.middle(replace(one, core=core_of(40.0)))
    assert drawn is not None and drawn.celsius[0] == 25.0 and (drawn.celsius <= 160).all()
    assert drawn.notes == ("logged.probe_air", "cure.note_core")
    assert heat.middle(load(1800, log=a_log(flat(160, 30), probe="part"))) is None, "it was logged itself"
    thin = cure.KIND.heat(parsed(cure.KIND.parse(PLAIN)))
    assert thin is not None and thin.middle is not None and thin.middle(one) is None


@pytest.mark.parametrize("probe", ["surface", "air"])
def test_a_round_part_is_warm_in_its_middle_before_a_flat_one_of_the_same_thickness(probe: Probe) -> None:
    row = {**THICK, "transfer": "25", "figures": "x"} if probe == "air" else THICK
    flat_part, round_part = (
        float(str(cured({**row, "shape": shape}, probe).figures["worth_centre"])) for shape in ("plate", "cylinder")
    )
    assert round_part > flat_part * 1.1


def test_a_log_that_is_asked_about_says_so_and_not_that_none_was_sent() -> None:
    one = replace(load(1800), log_asked=True)
    verdict = cure.judge(parsed(cure.KIND.parse(THICK)), Evidence(loads=(one,))).step
    assert (verdict.outcome, verdict.code) == ("missing", "logged.asked")
    none = cure.judge(parsed(cure.KIND.parse(THICK)), Evidence(loads=(load(1800),))).step
    assert none.code == "logged.no_log"
