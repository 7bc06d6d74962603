"""A value typed in the reader's marks and units: understood, asked about, kept as typed, judged by conversion."""

from __future__ import annotations

import pytest

from tests.web.meanings import meanings_of
from tests.web.operator.floor import Floor, field_of, text_of
from traveller.batches.models import Reading

pytestmark = pytest.mark.django_db

BORE = "r:bore:bore:0:0"


def reported(floor: Floor, typed: str, **more: str) -> list[tuple[str, str]]:
    floor.post(floor.path(40, "measure"), {BORE: typed, **more})
    return list(Reading.objects.values_list("value", "unit"))


@pytest.mark.parametrize(("typed", "mark"), [("50,8", ","), ("50.8", ","), ("50,8", "."), ("50.8", ".")])
def test_either_mark_is_understood_where_it_can_only_stand_before_decimals(floor: Floor, typed: str, mark: str) -> None:
    assert reported(floor, typed, mark=mark) == [("50.8", "mm")]


def test_what_could_mean_two_things_is_asked_and_not_guessed(floor: Floor) -> None:
    answer = floor.post(floor.path(40, "measure"), {BORE: "50,825", "mark": "."})
    assert answer.status_code == 422 and not Reading.objects.exists()
    assert "“50,825” can mean two things. Which is it?" in text_of(answer) and field_of(answer, BORE) == "50,825"
    assert meanings_of(answer) == {f"{BORE}=50.825": "50.825", f"{BORE}=50825": "50,825"}
    assert reported(floor, "50,825", mark=".", meant=f"{BORE}=50.825") == [("50.825", "mm")]
    assert reported(floor, "50,825", mark=",") == [("50.825", "mm")] * 2


def test_the_form_says_which_mark_its_reader_uses(floor: Floor) -> None:
    page = floor.phone.get(floor.path(40, "measure"), HTTP_ACCEPT_LANGUAGE="vi").content.decode()
    assert 'name="mark" value=","' in page
    page = floor.phone.get(floor.path(40, "measure"), HTTP_ACCEPT_LANGUAGE="en-GB").content.decode()
    assert 'name="mark" value="."' in page and "u:r:bore" not in page


def test_a_reader_of_inches_sees_both_limits_and_types_either_unit(floor: Floor) -> None:
    floor.phone.cookies["units"] = "inch_pound"
    page = text_of(floor.phone.get(floor.path(40, "measure")))
    # 50.673 to 50.927 mm is 1.99500 to 2.00500 inch, exactly 2 inch and 5 thousandths either way.
    assert "50.673 to 50.927 mm (1.995 to 2.005 in)" in page
    assert reported(floor, "2.003", **{f"u:{BORE}": "in"}) == [("2.003", "in")]
    assert reported(floor, "50.8", **{f"u:{BORE}": "mm"})[-1] == ("50.8", "mm")


def test_a_value_in_the_other_unit_is_held_against_the_limit_itself(floor: Floor) -> None:
    answer = floor.post(floor.path(40, "measure"), {BORE: "2.0051", f"u:{BORE}": "in"})
    assert "2.0051 in, where" in text_of(answer) and not Reading.objects.exists()
    assert reported(floor, "2.005", **{f"u:{BORE}": "in"}) == [("2.005", "in")]


def test_a_unit_that_is_neither_of_the_two_counts_as_the_checks_own(floor: Floor) -> None:
    assert reported(floor, "50.8", **{f"u:{BORE}": "lb"}) == [("50.8", "mm")]
