"""The heat transfer of an oven from one log inside a part: found again where the log can tell, refused where not."""

from __future__ import annotations

import numpy as np
import pytest

from traveller.rules.slab import Body, heated_through
from traveller.rules.transfer import Floats, Transfer, biot_of, transfer_of

K = 0.25


def logs(
    thickness: float, h: float, minutes: int, *, off_c: float = 0.0, noise_c: float = 0.0, seed: int = 1
) -> tuple[Body, Floats, Floats, Floats]:
    """A part, seconds, the air of an oven that warms up, and the middle of the part as a probe in it would read it."""
    seconds = np.arange(0.0, minutes * 60 + 1, 60.0)
    air = 160 - 60 * np.exp(-seconds / 120)
    body = Body(thickness, 0.1)
    blown = Body(thickness, 0.1, biot_of(h, K, thickness))
    _, middle, _ = heated_through(blown, seconds, air, start_c=23.0, fine=False)
    return body, seconds, air, middle + off_c + np.random.default_rng(seed).normal(0, noise_c or 1e-9, seconds.size)


@pytest.mark.parametrize("thickness", [3.0, 6.0, 12.0, 25.0])
@pytest.mark.parametrize("h", [8.0, 22.0, 60.0])
def test_the_figure_that_made_the_log_is_found_and_lies_in_its_range(thickness: float, h: float) -> None:
    for seed in range(3):
        body, seconds, air, middle = logs(thickness, h, 40, noise_c=0.4, seed=seed)
        found = transfer_of(body, K, seconds, air, middle)
        assert isinstance(found, Transfer)
        assert found.h == pytest.approx(h, rel=0.06) and found.least < h < found.most


@pytest.mark.parametrize("off_c", [-1.0, 1.0])
def test_a_probe_that_is_a_degree_off_leaves_the_figure_within_its_range(off_c: float) -> None:
    body, seconds, air, middle = logs(12.0, 22.0, 40, off_c=off_c)
    # It reads the first temperature wrong too, and is taken to have begun there.
    found = transfer_of(body, K, seconds, air, middle)
    assert isinstance(found, Transfer) and found.least < 22.0 < found.most


@pytest.mark.parametrize(
    ("thickness", "h", "minutes", "why"),
    [
        (12.0, 22.0, 3, "too_few"),
        # A thin part in strong air is as hot as the air after a minute or two: what carried the heat is not seen.
        (2.0, 400.0, 30, "cannot_tell"),
        # A thick part for a few minutes: its middle has not begun to move.
        (60.0, 22.0, 6, "cannot_tell"),
    ],
)
def test_a_log_that_cannot_tell_is_refused(thickness: float, h: float, minutes: int, why: str) -> None:
    body, seconds, air, middle = logs(thickness, h, minutes, noise_c=0.3)
    assert transfer_of(body, K, seconds, air, middle) == why


def test_a_log_of_another_body_is_refused() -> None:
    body, seconds, air, middle = logs(12.0, 22.0, 40)
    # As if the probe had come loose: up to the air in a minute, and down again.
    middle = np.where(seconds % 600 < 300, air, middle)
    assert transfer_of(body, K, seconds, air, middle) == "does_not_fit"
