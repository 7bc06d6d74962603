"""Short codes: what the check character catches, and what reading forgives without weakening it."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from traveller.rules.codes import (
    ALPHABET,
    CODE_LENGTH,
    Damaged,
    Scan,
    TravellerCode,
    from_number,
    is_valid,
    nearest,
    read,
    show_code,
)

numbers = st.integers(min_value=0, max_value=2**30 - 1)
codes = numbers.map(from_number)
steps = st.integers(min_value=0, max_value=99_999)
hosts = st.sampled_from(["trace.example", "make-it.example:8443", "10.0.0.7", "a.t.example"])

# What a scanner set to an English (US) keyboard makes on a computer with another one.
US_TO_GERMAN = str.maketrans("/:-_yzYZ", "-Öß?zyZY")
SWAP_Y_Z = str.maketrans("YZ", "ZY")
US_TO_SPANISH = str.maketrans("/:-_", "-Ñ'?")
US_TO_ITALIAN = str.maketrans("/:-_", "-ç'?")
US_TO_SWEDISH = str.maketrans("/:-_", "-Ö+?")
US_TO_BRAZILIAN = str.maketrans("/:", ";Ç")
US_TO_FRENCH = str.maketrans("1234567890aqzwAQZWmM:/.-", "&é\"'(-è_çàqawzQAWZ,?M!:)")


def test_the_alphabet_has_no_letters_that_look_like_others() -> None:
    assert len(set(ALPHABET)) == 32
    assert not set("ILOU") & set(ALPHABET)


@given(numbers)
def test_a_number_gives_six_characters_of_base_32_and_a_check(n: int) -> None:
    code = from_number(n)
    assert len(code) == CODE_LENGTH
    assert is_valid(code)
    value = 0
    for character in code[:6]:
        value = value * 32 + ALPHABET.index(character)
    assert value == n


@pytest.mark.parametrize("n", [-1, 2**30])
def test_a_number_out_of_range_is_a_fault_of_the_program(n: int) -> None:
    with pytest.raises(ValueError, match="lies in"):
        from_number(n)


def test_every_single_wrong_character_is_caught_at_every_place() -> None:
    # The code is linear, so whether an error shows depends on place and difference only; all differences
    # of all places are covered by all substitutions into a few codes that between them hold every character.
    for n in (0, 2**30 - 1, 0b00001_00010_00011_00100_00101_00110, 987_654_321, 123_456_789):
        code = from_number(n)
        for place, wrong in itertools.product(range(CODE_LENGTH), ALPHABET):
            changed = code[:place] + wrong + code[place + 1 :]
            assert is_valid(changed) == (wrong == code[place])


def test_every_swap_of_neighbours_is_caught_for_every_pair_of_characters() -> None:
    for place in range(5):
        for first, second in itertools.permutations(range(32), 2):
            values = [7, 19, 3, 28, 11, 1]
            values[place], values[place + 1] = first, second
            code = from_number(sum(value << 5 * (5 - index) for index, value in enumerate(values)))
            swapped = code[:place] + code[place + 1] + code[place] + code[place + 2 :]
            assert not is_valid(swapped)


def test_a_swap_of_the_last_character_with_the_check_is_caught_for_every_last_character() -> None:
    for n in range(32 * 64):
        code = from_number(n)
        swapped = code[:5] + code[6] + code[5]
        assert is_valid(swapped) == (code[5] == code[6])


@given(codes, st.integers(0, 6), st.integers(0, 6))
def test_a_swap_of_any_two_characters_is_caught(code: TravellerCode, one: int, other: int) -> None:
    assume(code[one] != code[other])
    characters = list(code)
    characters[one], characters[other] = characters[other], characters[one]
    assert not is_valid("".join(characters))


@pytest.mark.parametrize("stuck", list(ALPHABET))
def test_a_stuck_key_makes_a_code_only_by_its_own_check(stuck: str) -> None:
    number = ALPHABET.index(stuck) * 0b00001_00001_00001_00001_00001_00001
    assert is_valid(stuck * 7) == (from_number(number)[6] == stuck)


@given(st.text(alphabet=ALPHABET, min_size=6, max_size=6), st.integers(1, 5))
def test_a_hyphen_typed_into_six_letters_is_never_taken_for_a_digit(text: str, place: int) -> None:
    damaged = read(f"{text[:place]}-{text[place:]}")
    assert damaged == Damaged(text, "length")


def test_only_the_stored_form_is_valid() -> None:
    code = from_number(42)
    assert is_valid(code)
    assert not any(map(is_valid, ("", code.lower(), show_code(code), code + "0", f"U{code[1:]}")))


def test_seven_zeros_are_no_code() -> None:
    assert read("0000000") == Damaged("0000000", "check")


@given(codes)
def test_a_code_shown_to_people_reads_back(code: TravellerCode) -> None:
    assert len(show_code(code)) == 9
    assert read(show_code(code)) == Scan(code, None)


@given(codes, st.sampled_from(["\r", "\n", "\r\n", "\t", " ", "\x1d"]))
def test_case_blanks_and_the_enter_key_are_forgiven(code: TravellerCode, ending: str) -> None:
    assert read(f"  {code.lower()}{ending}") == Scan(code, None)
    assert read(f"{code[:3]} {code[3:6].lower()}–{code[6]}{ending}") == Scan(code, None)


@given(codes, st.sampled_from(["O", "o"]), st.sampled_from(["I", "l", "L", "i"]), st.sampled_from(["U", "u"]))
def test_look_alikes_are_forgiven(code: TravellerCode, zero: str, one: str, v: str) -> None:
    assert read(code.replace("0", zero).replace("1", one).replace("V", v)) == Scan(code, None)


@given(codes)
def test_the_prefix_of_a_code_128_and_full_width_characters_are_forgiven(code: TravellerCode) -> None:
    assert read(f"]C0{code}") == Scan(code, None)
    assert read("".join(chr(ord(character) + 0xFEE0) for character in code)) == Scan(code, None)


@given(codes, steps, hosts, st.sampled_from(["https://", "http://", "HTTPS://", ""]))
def test_a_whole_address_of_any_host_is_read(code: TravellerCode, step: int, host: str, scheme: str) -> None:
    assert read(f"{scheme}{host}/t/{code}") == Scan(code, None)
    assert read(f"{scheme}{host}/t/{code.lower()}/{step}\r") == Scan(code, step)
    assert read(f"{scheme}{host}/t/{code}/?from=mail") == Scan(code, None)
    assert read(f"/t/{code}/{step}") == Scan(code, step)


@pytest.mark.parametrize(
    "layout", [US_TO_GERMAN, US_TO_SPANISH, US_TO_ITALIAN, US_TO_SWEDISH, US_TO_BRAZILIAN, US_TO_FRENCH]
)
@given(code=codes, step=steps, host=hosts)
def test_an_address_typed_through_another_keyboard_is_read(
    layout: dict[int, int], code: TravellerCode, step: int, host: str
) -> None:
    assume(not is_valid(code.translate(SWAP_Y_Z)) or not set(code) & set("YZ"))
    assert read(f"https://{host}/t/{code}/{step}".translate(layout)) == Scan(code, step)
    assert read(f"https://{host}/t/{code}".translate(layout)) == Scan(code, None)
    assert read(f"/t/{code}/{step}".translate(layout)) == Scan(code, step)


def test_a_code_that_is_valid_with_y_and_z_swapped_too_is_left_to_a_person() -> None:
    doubtful = next(
        code
        for code in map("".join, itertools.product("0Y", "0Z", "0Y", "0Z", "0Y", "Z0", ALPHABET))
        if is_valid(code) and code != code.translate(SWAP_Y_Z) and is_valid(code.translate(SWAP_Y_Z))
    )
    assert read(f"https://trace.example/t/{doubtful}") == Scan(TravellerCode(doubtful), None)
    assert read(f"httpsÖ--trace.example-t-{doubtful}") == Damaged(doubtful, "check")


@given(codes)
def test_a_bare_code_through_a_french_keyboard_is_read_by_its_digits(code: TravellerCode) -> None:
    # Its 4 and 6 are an apostrophe and a hyphen, which people type too: another digit must show the keyboard.
    assume(set(code) & set("12357890"))
    assert read(code.translate(US_TO_FRENCH)) == Scan(code, None)


@given(codes, st.integers(0, 6), st.sampled_from(ALPHABET))
def test_reading_never_repairs_a_wrong_character(code: TravellerCode, place: int, wrong: str) -> None:
    assume(wrong != code[place])
    changed = code[:place] + wrong + code[place + 1 :]
    assert read(changed) == Damaged(changed, "check")
    assert read(f"https://trace.example/t/{changed}/30") == Damaged(changed, "check", step=30)


@pytest.mark.parametrize(
    ("text", "why", "characters"),
    [
        ("", "empty", ""),
        (" \r\n", "empty", ""),
        ("---", "empty", ""),
        ("7K3", "length", ""),
        ("12345678", "length", ""),
        ("7K3?9Q4", "character", "?"),
        ("https://trace.example/", "length", None),
        ("https://trace.example/t/", "length", None),
    ],
)
def test_what_is_no_code_says_why(text: str, why: str, characters: str | None) -> None:
    damaged = read(text)
    assert isinstance(damaged, Damaged)
    assert damaged.why == why
    assert characters is None or damaged.characters == characters


@given(st.text(max_size=60))
def test_any_text_at_all_is_read_or_refused_but_never_raises(text: str) -> None:
    found = read(text)
    assert isinstance(found, Damaged) or is_valid(found.code)


@given(codes, st.integers(0, 5), st.lists(codes, max_size=20))
def test_a_swapped_code_is_proposed(code: TravellerCode, place: int, others: list[TravellerCode]) -> None:
    swapped = code[:place] + code[place + 1] + code[place] + code[place + 2 :]
    proposed = nearest(swapped, [*others, code])
    assert code in proposed[: 1 + sum(1 for other in others if other != code)]
    assert len(proposed) <= 5


@given(codes, st.integers(0, 6))
def test_a_code_with_a_character_lost_or_doubled_is_proposed(code: TravellerCode, place: int) -> None:
    assert nearest(code[:place] + code[place + 1 :], [code]) == [code]
    assert nearest(code[:place] + code[place] + code[place:], [code]) == [code]


def test_a_confusable_character_is_nearer_than_another() -> None:
    eight = next(code for code in map(from_number, itertools.count(8 << 10)) if "8" in code[:6])
    damaged = eight.replace("8", "B", 1)
    rival = damaged[:6] + next(c for c in ALPHABET if is_valid(damaged[:6] + c))
    assert nearest(damaged, [rival, eight]) == [eight, rival]


def test_codes_that_are_far_away_are_not_proposed() -> None:
    assert nearest("ZZZZZZZ", [from_number(1), from_number(2)]) == []
    assert nearest("", [from_number(1)]) == []
    assert nearest("7K3", [from_number(1)]) == []
    assert nearest("x" * 400, [from_number(1)]) == []


def test_no_more_are_proposed_than_asked_for() -> None:
    known = [from_number(n) for n in range(200)]
    assert len(nearest(known[0], known, most=3)) == 3
    assert nearest(known[0], known, most=1) == [known[0]]
