"""The test master: tried at the start and end of every shift, and what a failed try makes suspect."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rules.checks.evidence import good, parsed
from traveller.rules.checks.base import CheckVerdict, Evidence, ReadingEvidence, TestedEvidence
from traveller.rules.checks.every_piece import KIND, WORDS, judge
from traveller.rules.shift_periods import shift_periods
from traveller.rules.shifts import ShiftError, parse_shifts
from traveller.rules.workdays import SiteCalendar

parse = KIND.parse

WATER = parsed(parse({"name": "water test", "master": "yes"}))
DAY = datetime(2026, 3, 3, tzinfo=UTC)
ONE_SHIFT, TWO_SHIFTS = "Mo-Fr 06:00-14:00", "Mo-Su 06:00-14:00 14:00-22:00"


def at(clock: str, day: int = 0) -> datetime:
    hour, minute = map(int, clock.split(":"))
    return DAY + timedelta(days=day, hours=hour, minutes=minute)


def tried(*tries: str | tuple[str, int]) -> tuple[ReadingEvidence, ...]:
    """ "06:05" found the leak, "!06:05" did not; with a day where it is another one."""
    found = []
    for one in tries:
        clock, day = (one, 0) if isinstance(one, str) else one
        value = Decimal(0) if clock.startswith("!") else Decimal(1)
        found.append(ReadingEvidence("master", value, "", at(clock.lstrip("!"), day)))
    return tuple(found)


def counted(since: str, *untils: str, pieces: int = 100, day: int = 0, opens: bool = True) -> list[TestedEvidence]:
    """Counts of so many pieces each, one after another."""
    clocks = [since, *untils]
    return [
        TestedEvidence(at(clocks[n], day), at(clocks[n + 1], day), pieces, opens=opens and n == 0)
        for n in range(len(untils))
    ]


def said(tests: list[TestedEvidence], tries: tuple[ReadingEvidence, ...], shifts: str = ONE_SHIFT) -> CheckVerdict:
    hours = parse_shifts(shifts) if shifts else {}
    assert not isinstance(hours, ShiftError)
    periods = shift_periods(SiteCalendar("UTC", hours), at("00:00", -3), at("00:00", 5))
    pieces = sum(one.pieces for one in tests)
    evidence = Evidence(
        counts=good(pieces), said_done=True, started_at=at("06:00"), tested=tuple(tests), tries=tries, periods=periods
    )
    return judge(WATER, evidence).step


@pytest.mark.parametrize(
    ("tries", "code"),
    [
        (("06:00", "14:00"), "passed"),
        (("06:15", "13:45"), "passed"),
        (("06:16", "14:00"), "no_master_at_start"),
        (("06:00", "13:44"), "no_master_at_end"),
        (("06:00",), "no_master_at_end"),
        (("14:00",), "no_master_at_start"),
        ((("06:00", -1), ("14:00", -1)), "no_master_in_shift"),
        # Before the shift, as early as people come.
        (("05:45", "14:00"), "passed"),
    ],
)
def test_the_known_leak_is_found_at_the_start_and_the_end_of_the_shift(
    tries: tuple[str | tuple[str, int], ...], code: str
) -> None:
    verdict = said(counted("06:00", "10:00", "14:00"), tried(*tries))
    assert verdict.code == f"every_piece.{code}"
    assert verdict.outcome == ("passed" if code == "passed" else "missing")


def test_every_shift_needs_its_own_tries() -> None:
    tests = counted("06:00", "14:00", "21:50")
    assert said(tests, tried("06:00", "13:55", "14:05", "21:55"), TWO_SHIFTS).outcome == "passed"
    assert said(tests, tried("06:00", "21:55"), TWO_SHIFTS).code == "every_piece.no_master_at_end"
    assert said(tests, tried("06:00", "13:40"), TWO_SHIFTS).code == "every_piece.no_master_at_end"
    assert said(tests, tried("06:00", "13:50"), TWO_SHIFTS).code == "every_piece.no_master_at_end"
    assert said(tests[1:], tried("06:00", "13:40"), TWO_SHIFTS).code == "every_piece.no_master_in_shift"
    assert said(tests, tried("06:00", "13:55", "21:55"), TWO_SHIFTS).outcome == "passed", "one try at the change"
    assert said(tests, tried("06:00", "13:30", "15:00", "21:55"), TWO_SHIFTS).outcome == "missing"


def test_a_second_day_without_tries_is_missed_and_named() -> None:
    tests = [*counted("06:00", "13:50"), *counted("06:00", "13:50", day=1, opens=False)]
    verdict = said(tests, tried("06:02", "13:55"))
    assert (verdict.code, verdict.figures["pieces"]) == ("every_piece.no_master_in_shift", 100)
    assert verdict.figures["shift"] == at("06:00", 1).isoformat()
    both = tried("06:02", "13:55", ("06:02", 1), ("13:55", 1))
    assert said(tests, both).outcome == "passed"


def test_without_shifts_the_day_is_the_shift() -> None:
    late = [*counted("22:00", "23:50"), TestedEvidence(at("23:50"), at("01:00", 1), 100)]
    first = ("22:05", "23:55")
    assert said(late, tried(*first), "").code == "every_piece.no_master_at_end"
    assert said(late, tried(*first, ("00:10", 1), ("00:58", 1)), "").outcome == "passed"


def test_a_night_shift_is_one_shift_across_midnight() -> None:
    night = [*counted("22:00", "23:50"), TestedEvidence(at("23:50"), at("05:50", 1), 100)]
    assert said(night, tried("22:05", ("05:55", 1)), "Mo-Su 22:00-06:00").outcome == "passed"


@pytest.mark.parametrize(
    ("tries", "suspect", "tellings"),
    [
        # All since the last good try, up to the failed one.
        (("06:00", "!14:00"), 300, 3),
        (("06:00", "10:00", "!14:00"), 200, 2),
        # The count of 10:00 to 12:00 reaches into the time by a minute, or not at all.
        (("06:00", "11:59", "!14:00"), 200, 2),
        (("06:00", "12:00", "!14:00"), 100, 1),
        # A good try after it ends the time and heals nothing.
        (("06:00", "!11:00", "11:30", "14:00"), 200, 2),
        (("06:00", "!09:00", "09:30", "14:00"), 100, 1),
        # Until the next good try whatever is tested is suspect too.
        (("06:00", "10:00", "!10:05", "!13:00"), 200, 2),
    ],
)
def test_a_failed_try_makes_suspect_what_was_tested_since_the_last_good_one(
    tries: tuple[str, ...], suspect: int, tellings: int
) -> None:
    verdict = said(counted("06:00", "10:00", "12:00", "14:00"), tried(*tries))
    assert (verdict.outcome, verdict.code) == ("failed", "every_piece.master_failed")
    assert (verdict.figures["suspect"], verdict.figures["tellings"]) == (suspect, tellings)
    assert "{" not in WORDS[verdict.code].format(**verdict.figures)


def test_the_words_say_how_many_and_between_when_and_when() -> None:
    verdict = said(counted("06:00", "10:00", "12:00", "14:00"), tried("06:00", "10:30", "!12:30", "12:40", "14:00"))
    assert WORDS[verdict.code].format(**verdict.figures) == (
        "water test: the known leak was not found at 2026-03-03T12:30:00+00:00, last found at "
        "2026-03-03T10:30:00+00:00. Suspect are 200 pieces of 2 counts, tested between 2026-03-03T10:00:00+00:00 and "
        "2026-03-03T14:00:00+00:00."
    )


def test_loads_are_named_where_pieces_were_tested_in_loads() -> None:
    loads = [TestedEvidence(at(f"{hour:02}:00"), at(f"{hour:02}:50"), 40, load=hour - 5) for hour in range(6, 14)]
    verdict = said(loads, tried("06:00", "08:55", "!11:00", "11:10", "13:55"))
    assert (verdict.code, verdict.figures["loads"]) == ("every_piece.master_failed_in_loads", ["4", "5", "6"])
    assert verdict.figures["suspect"] == 120


def test_a_tester_found_bad_before_the_first_piece_makes_nothing_suspect() -> None:
    """Caught at the start of the shift, mended within the minutes in which the shift opens."""
    yesterday = counted("06:00", "13:50", day=-1)
    today = [TestedEvidence(at("13:50", -1), at("10:00"), 100), *counted("10:00", "13:50", opens=False)]
    good_days = (("06:00", -1), ("13:55", -1))
    assert said([*yesterday, *today], tried(*good_days, "!06:02", "06:12", "13:55")).outcome == "passed"
    assert said(counted("06:00", "13:50"), tried("!06:02", "06:12", "13:55")).outcome == "passed"
    # Mended too late: nobody knows what was tested before.
    assert said(counted("06:00", "13:50"), tried("!06:02", "06:30", "13:55")).outcome == "failed"
    # A good try first: then pieces may have been tested before the bad one.
    assert said(counted("06:00", "13:50"), tried("06:00", "!06:05", "06:12", "13:55")).outcome == "failed"


def test_a_try_that_failed_at_the_end_of_yesterday_reaches_into_the_count_of_today() -> None:
    """The count of this morning may hold pieces of yesterday afternoon."""
    today = [TestedEvidence(at("13:00", -1), at("10:00"), 100), *counted("10:00", "13:50", opens=False)]
    verdict = said(today, tried(("06:00", -1), ("!14:00", -1), "05:55", "13:55"))
    assert (verdict.outcome, verdict.figures["suspect"]) == ("failed", 100)


def test_overtime_is_worked_time() -> None:
    tests = counted("06:00", "13:50", "18:00")
    verdict = said(tests, tried("06:00", "14:01", "!17:00", "17:30", "18:01"))
    assert (verdict.outcome, verdict.figures["suspect"]) == ("failed", 100)


def test_a_tester_that_was_never_good_makes_all_suspect() -> None:
    verdict = said(counted("06:00", "10:00", "14:00"), tried("!10:00", "!14:00"))
    assert (verdict.code, verdict.figures["suspect"]) == ("every_piece.master_failed_from_start", 200)


def test_where_nothing_was_tested_a_failed_try_concerns_nothing() -> None:
    verdict = said([], tried("!06:00"))
    assert verdict.code == "every_piece.nothing_arrived"


minutes = st.integers(0, 8 * 60)


@given(st.lists(st.tuples(minutes, st.booleans()), min_size=1, max_size=8), st.lists(minutes, min_size=1, max_size=5))
def test_another_good_try_never_makes_more_suspect_and_a_bad_one_never_less(
    tries: list[tuple[int, bool]], untils: list[int]
) -> None:
    start = at("06:00")
    clocks = [start, *(start + timedelta(minutes=minute + 1) for minute in sorted(set(untils)))]
    tests = [TestedEvidence(clocks[n], clocks[n + 1], 10) for n in range(len(clocks) - 1)]

    def suspect(given_: list[tuple[float, bool]]) -> int:
        readings = tuple(
            ReadingEvidence("master", Decimal(found), "", start + timedelta(minutes=minute)) for minute, found in given_
        )
        verdict = said(tests, readings)
        return int(str(verdict.figures.get("suspect", 0)))

    unique: list[tuple[float, bool]] = list(dict(tries).items())
    moment = 30.5
    before = suspect(unique)
    assert suspect([*unique, (moment, True)]) <= before <= suspect([*unique, (moment, False)])
