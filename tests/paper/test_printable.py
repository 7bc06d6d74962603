"""The warning comes before the printing, names the words, and covers every text of a paper."""

from __future__ import annotations

from dataclasses import replace

from tests.paper.papers import GLOBE, GLOBE_STEPS, NOTE, PACKED, TOTE
from traveller.paper.printable import texts_of, warnings_for


def test_papers_of_known_letters_need_no_warning() -> None:
    for content in (GLOBE, NOTE, PACKED, TOTE):
        assert warnings_for(content) == []


def test_a_letter_deep_inside_is_named_with_its_words() -> None:
    step = replace(GLOBE_STEPS[0], limits=("120 °C", "dry \U000123f4 well"))
    (warning,) = warnings_for(replace(GLOBE, steps=(step, *GLOBE_STEPS[1:])))
    assert "“dry \U000123f4 well”" in warning
    assert "no font here prints \U000123f4 (u+123f4)" in warning or "cuneiform" in warning


def test_the_same_words_are_warned_of_once() -> None:
    assert len(warnings_for(replace(GLOBE, product="פנס", then="פנס"))) == 1


def test_every_text_of_a_paper_is_looked_at() -> None:
    found = set(texts_of(GLOBE))
    assert {"Globe", "1042", "Dry the resin", "moisture 0.02 % or less", "dew point", "kg"} <= found
