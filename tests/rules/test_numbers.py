"""What was typed is one number, asked about where it can be two, or refused for a reason: never guessed."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.numbers import (
    Meanings,
    NotNumber,
    TwoWays,
    TypedAmount,
    TypedQuantity,
    read_amount,
    read_number,
    read_pieces,
    read_quantity,
)
from traveller.rules.units import BASE_UNITS, UNIT_WORDS, BaseUnit, DecimalSign, convert, show_quantity


@pytest.mark.parametrize(
    ("typed", "mark", "value"),
    [
        ("12.7", ".", "12.7"),
        ("12,7", ".", "12.7"),
        ("12.7", ",", "12.7"),
        ("0,125", ".", "0.125"),
        ("0.125", ",", "0.125"),
        ("00,125", ".", "0.125"),
        ("01,234", ".", "1.234"),
        (",125", ".", "0.125"),
        ("-.5", ".", "-0.5"),
        ("1.234,5", ".", "1234.5"),
        ("12,345.6", ",", "12345.6"),
        ("1,234,567", ".", "1234567"),
        ("1.234.567,25", ".", "1234567.25"),
        ("1234,567", ".", "1234.567"),
        ("2.500", ".", "2.5"),
        ("2,500", ",", "2.5"),
        ("1 500", ".", "1500"),
        ("1\u00a0500", ".", "1500"),
        ("1\u202f500,5", ".", "1500.5"),
        ("1'500", ".", "1500"),
        ("1’500.250", ",", "1500.25"),
        ("12 700,500", ".", "12700.5"),
        ("−3,5", ".", "-3.5"),
        ("– 5", ".", "-5"),
        ("+5", ".", "5"),
        ("-5", ".", "-5"),
        ("١٢٫٧", ".", "12.7"),
        ("٢٬٥٠٠", ".", "2500"),
        ("٢٫٥٠٠", ",", "2.5"),
        ("۱۲", ".", "12"),
        ("１２．７", ".", "12.7"),
        ("１，２３４．５", ",", "1234.5"),
        ("\u200e12\u200f", ".", "12"),
        (" 7 ", ".", "7"),
    ],
)
def test_what_can_only_be_one_thing_is_understood(typed: str, mark: DecimalSign, value: str) -> None:
    assert read_number(typed, mark) == Decimal(value)


@pytest.mark.parametrize(
    ("typed", "mark", "small", "large"),
    [
        ("2,500", ".", "2.5", "2500"),
        ("1.500", ",", "1.5", "1500"),
        ("12,345", ".", "12.345", "12345"),
        ("-1.234", ",", "-1.234", "-1234"),
        ("１，５００", ".", "1.5", "1500"),
        ("2.500", None, "2.5", "2500"),
    ],
)
def test_one_mark_with_three_figures_behind_it_is_two_things_where_it_is_not_the_readers_own(
    typed: str, mark: DecimalSign | None, small: str, large: str
) -> None:
    found = read_number(typed, mark)
    assert isinstance(found, TwoWays)
    assert (found.given, found.small, found.large) == (typed, Decimal(small), Decimal(large))


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("", "empty"),
        (" \u00a0", "empty"),
        ("abc", "number"),
        ("NaN", "number"),
        ("1/2", "number"),
        ("5–10", "number"),
        (".", "number"),
        ("-", "number"),
        ("1" * 61, "number"),
        ("+-5", "two_signs"),
        ("--5", "two_signs"),
        ("-5-", "two_signs"),
        ("5-", "sign_behind"),
        ("5+", "sign_behind"),
        ("½", "odd_digits"),
        ("2½", "odd_digits"),
        ("5²", "odd_digits"),
        ("1e3", "exponent"),
        ("1E+3", "exponent"),
        ("1,23,456", "groups"),
        ("1.234,5.6", "groups"),
        ("1,2345.6", "groups"),
        ("0,125,000", "groups"),
        ("1 5", "groups"),
        ("0 125", "groups"),
        ("1..2", "groups"),
        ("2,500.", "unfinished"),
        ("12.", "unfinished"),
    ],
)
def test_what_is_no_number_says_why_and_keeps_what_was_typed(typed: str, why: str) -> None:
    assert read_number(typed, ".") == NotNumber(why, typed)  # type: ignore[arg-type]


def test_a_count_can_mean_two_things_only_where_both_are_whole() -> None:
    assert (read_pieces("1,132", "."), read_pieces("1.500", "."), read_pieces("1,500", ",")) == (1132, 1500, 1500)
    assert (read_pieces("2,000", "."), read_pieces("2.000", ",")) == (2000, 2000)
    for text, mark in (("2.000", "."), ("2,000", ",")):
        found = read_pieces(text, mark)  # type: ignore[arg-type]
        assert isinstance(found, Meanings) and [one.number for one in found.meanings] == [2, 2000]
    for text, why in (("-5", "below_zero"), ("12.5", "not_whole"), ("9" * 20, "too_large"), ("--5", "two_signs")):
        assert read_pieces(text, ".") == NotNumber(why, text)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "base", "unit", "quantity", "kept"),
    [
        ("0,125 kg", "GRM", "", 125, ""),
        ("25", "GRM", "kg", 25_000, ""),
        ("25kg", "MGM", "", 25_000_000, ""),
        ("1,060 g", "GRM", "", 1060, ""),
        ("1,132", "C62", "", 1132, ""),
        ("2.4 m", "MMT", "", 2400, ""),
        ("55 lb", "GRM", "", 24_948, "55 lb"),  # 24947.58035 g
        ("1 lb", "GRM", "", 454, "1 lb"),
        ("1 lb", "MGM", "", 453_592, "1 lb"),
        ("2,5 oz.", "GRM", "", 71, "2.5 oz"),
        ("12", "GRM", "oz", 340, "12 oz"),
        ("10 in", "MMT", "", 254, "10 in"),
        ("3 ft", "MMT", "", 914, "3 ft"),
        ("12 US fl oz", "MLT", "", 355, "12 US fl oz"),
        ("17.8415 kg", "GRM", "", 17_842, "17.8415 kg"),
        ("0 lb", "GRM", "", 0, "0 lb"),
    ],
)
def test_a_quantity_is_converted_once_and_what_was_typed_is_kept_where_it_was_converted(
    text: str, base: BaseUnit, unit: str, quantity: int, kept: str
) -> None:
    assert read_quantity(text, base, unit, ".") == TypedQuantity(quantity, kept)


@pytest.mark.parametrize(
    ("text", "base", "why"),
    [
        ("", "GRM", "empty"),
        ("kg", "GRM", "number"),
        ("5 barrel", "MLT", "unit"),
        ("5 kg", "C62", "dimension"),
        ("5 l", "GRM", "dimension"),
        ("5 fl oz", "GRM", "dimension"),
        ("1.500 g", "GRM", "not_whole"),
        ("2.5 g", "GRM", "not_whole"),
        ("500 mg", "GRM", "not_whole"),
        ("0.0004 kg", "GRM", "too_little"),
        ("-5 lb", "GRM", "below_zero"),
        ("+-5 kg", "GRM", "two_signs"),
        ("5- kg", "GRM", "sign_behind"),
        ("½ lb", "GRM", "odd_digits"),
        ("9" * 20 + " kg", "GRM", "too_large"),
    ],
)
def test_a_quantity_that_cannot_be_had_says_why(text: str, base: BaseUnit, why: str) -> None:
    found = read_quantity(text, base, mark=".")
    assert isinstance(found, NotNumber) and (found.why, found.given) == (why, text)


def test_a_quantity_of_two_meanings_is_asked_with_both() -> None:
    found = read_quantity("2,500 kg", "GRM", mark=".")
    assert isinstance(found, Meanings)
    assert [(one.number, one.unit) for one in found.meanings] == [(Decimal("2.5"), "kg"), (Decimal(2500), "kg")]
    fluid = read_quantity("12 fl. oz.", "MLT", mark=".")
    assert isinstance(fluid, Meanings) and [one.unit for one in fluid.meanings] == ["US fl oz", "imp fl oz"]
    assert read_quantity("2.500 kg", "GRM", mark=".") == TypedQuantity(2500)


def test_material_without_a_unit_is_asked_about_and_none_of_it_is_none() -> None:
    found = read_quantity("25", "GRM", mark=".")
    assert isinstance(found, Meanings) and [(one.number, one.unit) for one in found.meanings] == [
        (Decimal(25), "kg"),
        (Decimal(25), "g"),
    ]
    four = read_quantity("2,500", "MMT", mark=".")
    assert isinstance(four, Meanings) and len(four.meanings) == 4
    assert (read_quantity("0", "GRM"), read_quantity("25", "C62")) == (TypedQuantity(0), TypedQuantity(25))
    assert read_quantity("-25", "GRM") == NotNumber("below_zero", "-25", "", "g")


def test_an_amount_keeps_its_own_unit() -> None:
    assert read_amount("12.4", "oz", ".") == TypedAmount(Decimal("12.4"), "oz")
    assert read_amount("12,4kg", "oz", ".") == TypedAmount(Decimal("12.4"), "kg")
    assert isinstance(read_amount("12,400 g", "oz", "."), Meanings)


@given(st.text(max_size=40), st.sampled_from(BASE_UNITS), st.sampled_from([".", ",", None]))
def test_any_text_has_an_answer_and_none_is_below_zero(text: str, base: BaseUnit, mark: DecimalSign | None) -> None:
    found = read_quantity(text, base, mark=mark)
    assert found.quantity >= 0 if isinstance(found, TypedQuantity) else found.given == text


@given(st.integers(0, 10**13), st.sampled_from(BASE_UNITS))
def test_what_is_shown_is_read_back_as_itself_or_asked_about(quantity: int, base: BaseUnit) -> None:
    shown = show_quantity(quantity, base)
    found = read_quantity(shown, base, mark=".")
    if isinstance(found, Meanings):
        numbers = [convert(one.number, one.unit or "pcs", base) for one in found.meanings]
        assert "," in shown and quantity in numbers
    else:
        assert found == TypedQuantity(quantity)


@given(st.decimals("0.001", "10000", places=3), st.sampled_from(sorted(UNIT_WORDS)), st.sampled_from(BASE_UNITS))
def test_converting_is_off_by_at_most_half_a_base_unit(number: Decimal, word: str, base: BaseUnit) -> None:
    found = read_quantity(f"{number:f}0 {word}", base, mark=".")  # with four decimals it can be one thing only
    if isinstance(found, TypedQuantity):
        exact = convert(number, word, base)
        assert isinstance(exact, Fraction) and abs(exact - found.quantity) <= Fraction(1, 2)
        assert found.kept or exact == found.quantity


@given(st.integers(1, 999), st.integers(0, 999), st.sampled_from(".,"))
def test_no_reader_s_mark_changes_a_number_by_a_thousand_unasked(whole: int, rest: int, typed: str) -> None:
    found = {read_number(f"{whole}{typed}{rest:03}", mark) for mark in (".", ",")}
    asked = {one for one in found if isinstance(one, TwoWays)}
    assert len(asked) == 1 and found - asked == {next(iter(asked)).small}
