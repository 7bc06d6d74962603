"""Minutes of a step: every piece has its time, and more pieces never take less."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.durations import StepTime, continuous_dwell_seconds, positions_needed, step_minutes

times = st.builds(
    StepTime,
    basis=st.sampled_from(("piece", "shot", "load", "fixed")),
    seconds=st.integers(0, 4000),
    setup_minutes=st.integers(0, 300),
    cavities=st.integers(1, 8),
    startup_shots=st.integers(0, 40),
    load_size=st.integers(1, 200),
    side_by_side=st.integers(1, 6),
)


@pytest.mark.parametrize(
    ("time", "pieces", "minutes"),
    [
        (StepTime("piece", 20, setup_minutes=5), 100, 5 + 34),
        (StepTime("piece", 20, setup_minutes=5, side_by_side=2), 100, 5 + 17),
        # 566 shots of 45 s are 424.5 minutes; 8 start-up shots add 6.
        (StepTime("shot", 45, setup_minutes=60, cavities=2), 1132, 60 + 425),
        (StepTime("shot", 45, setup_minutes=60, cavities=2, startup_shots=8), 1132, 60 + 431),
        # 101 pieces in loads of 50 are three loads; two ovens bake them in two rounds.
        (StepTime("load", 1800, load_size=50), 101, 90),
        (StepTime("load", 1800, load_size=50, side_by_side=2), 101, 60),
        (StepTime("fixed", 600, setup_minutes=3), 5000, 13),
        (StepTime("fixed", 600, setup_minutes=3), 0, 0),
    ],
)
def test_a_step_takes_its_set_up_and_its_rounds(time: StepTime, pieces: int, minutes: int) -> None:
    assert step_minutes(time, pieces) == minutes


@given(times, st.integers(0, 3000), st.integers(0, 500))
def test_more_pieces_never_take_less_time(time: StepTime, pieces: int, more: int) -> None:
    assert step_minutes(time, pieces + more) >= step_minutes(time, pieces)


@given(times, st.integers(1, 3000))
def test_one_more_station_never_takes_more_time_and_set_up_is_never_saved(time: StepTime, pieces: int) -> None:
    one, two = (
        StepTime(time.basis, time.seconds, time.setup_minutes, load_size=time.load_size, side_by_side=n) for n in (1, 2)
    )
    assert time.setup_minutes <= step_minutes(two, pieces) <= step_minutes(one, pieces)


@given(st.integers(1, 4000), st.integers(1, 300), st.integers(1, 8))
def test_the_positions_needed_keep_every_piece_long_enough_and_one_less_would_not(
    dwell: int, cycle: int, cavities: int
) -> None:
    positions = positions_needed(dwell, cycle, cavities)
    assert continuous_dwell_seconds(positions, cycle, cavities) >= dwell
    assert continuous_dwell_seconds(positions - 1, cycle, cavities) < dwell


def test_fifteen_minutes_of_cooling_at_forty_five_seconds_and_two_cavities_need_forty_positions() -> None:
    assert positions_needed(15 * 60, 45, 2) == 40


def test_figures_out_of_range_are_faults() -> None:
    with pytest.raises(ValueError, match="at least 1"):
        StepTime("shot", 45, cavities=0)
    with pytest.raises(ValueError, match="not negative"):
        StepTime("piece", -1)
    with pytest.raises(ValueError, match="not negative"):
        step_minutes(StepTime("piece", 1), -1)
