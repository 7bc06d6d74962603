from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rules.checks.evidence import parsed, read, with_readings
from tests.rules.checks.tables import Table
from traveller.rules.checks.variant import KIND, judge

TABLE = Table(
    rows=({"name": "Amber"}, {"name": "artwork B rev 3"}),
    scope="step",
    full={"name": "amber"},
    good="amber",
    bad="red",
)

parse = KIND.parse

AMBER = parsed(parse({"name": "Amber"}))


@pytest.mark.parametrize(
    ("said", "outcome"),
    [
        (["amber"], "passed"),
        (["  AMBER "], "passed"),
        (["red"], "failed"),
        (["ambe"], "failed"),
        (["ambers"], "failed"),
        ([], "missing"),
        (["amber", "red"], "failed"),
        (["red", "amber"], "failed"),
    ],
)
def test_every_confirmation_must_be_the_plans_word(said: list[str], outcome: str) -> None:
    evidence = with_readings(*(read("variant", "0", text=word) for word in said))
    assert judge(AMBER, evidence).step.outcome == outcome


def test_the_words_name_what_was_found_and_what_was_wanted() -> None:
    verdict = judge(AMBER, with_readings(read("variant", "0", text="red"))).step
    words = KIND.words[verdict.code].format(**verdict.figures)
    assert words == "red was confirmed, but the plan says Amber."


@pytest.mark.parametrize(
    ("plan", "said"), [("Grün", "GRU\u0308N"), ("artwork B rev 3", "Artwork  b  Rev 3"), ("Straße", "STRASSE")]
)
def test_case_spacing_and_accents_composed_otherwise_are_the_same_word(plan: str, said: str) -> None:
    assert judge(parsed(parse({"name": plan})), with_readings(read("variant", "0", text=said))).step.outcome == "passed"


def test_an_artwork_may_be_called_by_a_number() -> None:
    params = parsed(parse({"name": "12"}))
    assert judge(params, with_readings(read("variant", "12"))).step.outcome == "passed"
    assert judge(params, with_readings(read("variant", "13"))).step.figures["found"] == "13"


def test_a_plan_without_a_word_is_refused() -> None:
    found = parse({"name": "  "})
    assert isinstance(found, list) and found[0].column == "name"


@given(st.text(min_size=1).filter(lambda text: text.split()), st.sampled_from(["amber", "red", "clear"]))
def test_another_confirmation_never_passes_what_had_failed(first: str, second: str) -> None:
    before = judge(AMBER, with_readings(read("variant", "0", text=first))).step.outcome
    both = with_readings(read("variant", "0", text=first), read("variant", "0", text=second))
    assert not (before == "failed" and judge(AMBER, both).step.outcome != "failed")
