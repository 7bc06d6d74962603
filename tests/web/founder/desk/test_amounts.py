"""Quantities as typed, in whole base units or in words."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.numbers import TypedQuantity
from traveller.rules.units import BASE_UNITS, BaseUnit
from traveller.web.founder.desk.amounts import read_typed_amount, to_type


@pytest.mark.parametrize(
    ("text", "base", "unit", "quantity"),
    [
        ("1,060", "C62", "", 1060),
        ("25 kg", "GRM", "", 25_000),
        ("25kg", "GRM", "g", 25_000),
        ("12.5", "GRM", "kg", 12_500),
        ("2,5 m", "MMT", "", 2500),
        ("0", "C62", "", 0),
    ],
)
def test_a_unit_behind_the_number_goes_before_the_fields(text: str, base: BaseUnit, unit: str, quantity: int) -> None:
    assert read_typed_amount(text, base, unit=unit) == TypedQuantity(quantity)


@pytest.mark.parametrize("text", ["", "  ", "ten", "-3", "1.5", "5 kg", "5 parsecs", "1e5", "٣ kg kg", "9" * 30, "NaN"])
def test_what_is_no_count_of_pieces_is_said_in_words(text: str) -> None:
    answer = read_typed_amount(text, "C62")
    assert isinstance(answer, str) and answer


@given(st.text(max_size=30), st.sampled_from(BASE_UNITS))
def test_any_text_gets_an_answer(text: str, base: BaseUnit) -> None:
    answer = read_typed_amount(text, base)
    assert isinstance(answer, str) or answer.quantity >= 0


@given(st.integers(0, 10**12), st.sampled_from(BASE_UNITS))
def test_what_stands_in_a_field_is_read_back_as_itself(quantity: int, base: BaseUnit) -> None:
    assert read_typed_amount(to_type(quantity, base), base) == TypedQuantity(quantity)
