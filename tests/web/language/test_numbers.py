"""Numbers as each language writes them, and what is typed: understood or asked about, never guessed."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from django.utils import translation
from hypothesis import given, settings
from hypothesis import strategies as st

from traveller.rules.numbers import read_number
from traveller.web.language.numbers import isolated, local
from traveller.web.parts.figures import own_mark
from traveller.web.templatetags.look import moment_words, whole
from traveller.web.words import say

# Group and decimal marks as the Unicode CLDR gives them for these languages (from memory), with Western digits;
# Spanish with a space, which its academy and ISO 80000-1 recommend.
WRITTEN = {
    "en": ("1,234,567", "1,250.5"),
    "es": ("1\xa0234\xa0567", "1\xa0250,5"),
    "zh-hans": ("1,234,567", "1,250.5"),
    "vi": ("1.234.567", "1.250,5"),
    "ar": ("1,234,567", "1,250.5"),
}


@pytest.mark.parametrize("language", WRITTEN)
def test_a_number_is_written_as_its_readers_write_it(language: str) -> None:
    with translation.override(language):
        assert (whole(1234567), local("1,250.5")) == WRITTEN[language]


@settings(max_examples=150)
@given(st.decimals(-(10**7), 10**7, places=3), st.sampled_from(sorted(WRITTEN)))
def test_what_the_page_writes_is_read_back_as_itself(number: Decimal, language: str) -> None:
    with translation.override(language):
        assert read_number(local(f"{number:,.3f}"), own_mark()) == number


def test_a_code_keeps_its_own_direction_in_a_sentence_from_right_to_left() -> None:
    with translation.override("ar"):
        assert isolated("2HV-0TB-R") == "\u20682HV-0TB-R\u2069"
    with translation.override("vi"):
        assert isolated("2HV-0TB-R") == "2HV-0TB-R"


def test_a_figure_and_its_unit_are_one_thing_from_right_to_left() -> None:
    with translation.override("ar"):
        said = say("limit.at_least", {"least": "1250.5", "unit": "mm"})
        assert "\u20661250.5 mm\u2069" in said and "\u2068" not in said
    with translation.override("vi"):
        assert say("limit.at_least", {"least": "1250.5", "unit": "mm"}) == "1250,5 mm trở lên"


@pytest.mark.parametrize(
    ("language", "limits", "said"),
    [
        ("en", "1.5 to 2", "1.5 to 2 times t90 (6.2 min) at 160 °C"),
        ("es", "1.5 to 2", "1,5 a 2 veces t90 (6,2 min) a 160 °C"),
        ("zh-hans", "1.5 or more", "160 °C 下 t90（6.2 分钟）的倍数：1.5 或以上"),
        ("vi", "2 or less", "t90 (6,2 phút) × 2 trở xuống, ở 160 °C"),
    ],
)
def test_limits_that_the_rules_put_together_are_taken_apart_and_said_anew(
    language: str, limits: str, said: str
) -> None:
    with translation.override(language):
        assert say("limit.cure_times", {"limits": limits, "t_ninety": "6.2", "reference": "160 C"}) == said


@pytest.mark.parametrize("language", ["en", "es", "zh-hans", "vi", "ar"])
def test_a_moment_has_its_month_as_a_word_and_its_weekday_in_every_language(language: str) -> None:
    words = {
        "en": ("Nov", "Tue"),
        "es": ("Nov", "mar"),
        "zh-hans": ("11月", "星期二"),
        "vi": ("Tháng 11", "Thứ 3"),
        "ar": ("نوفمبر", "ثلاثاء"),
    }[language]
    with translation.override(language):
        said = moment_words(datetime(2026, 11, 24, 10, 40, tzinfo=UTC))
    assert all(word in said for word in (*words, "24", "10:40")), said
