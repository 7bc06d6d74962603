"""Parts in the air of an oven: the series of a plate and of a round bar against published figures, and against a
solution by small steps that has nothing of the series in it.

One-term figures: the table of first roots and strengths for one-dimensional transient conduction, Incropera and DeWitt,
Fundamentals of Heat and Mass Transfer, table 5.1 (from memory; the roots also follow from Carslaw and Jaeger,
Conduction of Heat in Solids, appendix IV, from memory). Brass plates: Cengel, problem 4-36. A bar of two plates: Som,
example 9. Twelve and six millimetres of rubber: worked out beforehand by another program.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import pytest

from traveller.rules.cure import Doubling, equivalent_minutes
from traveller.rules.slab import Body, Shape, heated_through, roots
from traveller.rules.transfer import biot_of

# Bi, first root and strength of a plate, of a cylinder.
ONE_TERM: Final = (
    (0.01, 0.0998, 1.0017, 0.1412, 1.0025),
    (0.1, 0.3111, 1.0161, 0.4417, 1.0246),
    (0.5, 0.6533, 1.0701, 0.9408, 1.1143),
    (1.0, 0.8603, 1.1191, 1.2558, 1.2071),
    (5.0, 1.3138, 1.2403, 1.9898, 1.5029),
    (10.0, 1.4289, 1.2620, 2.1795, 1.5677),
    (100.0, 1.5552, 1.2731, 2.3809, 1.6015),
)
# Half of the last place, and a little for a five that was rounded either way.
_PLACE: Final = 0.7e-4
# Thickness in mm, heat transfer in W/(m2 K), minutes worth at 160 C in the middle: 30 min in air of 160 C from 25 C,
# 0.1 mm2/s, 0.25 W/(m K), twice as fast for 10 C more.
RUBBER: Final = ((12, 10, 0.3), (12, 25, 3.5), (12, 60, 12.0), (6, 10, 3.1), (6, 25, 14.5), (6, 60, 22.4))


def left_of(body: Body, fourier: float) -> tuple[float, float]:
    """What is left of a first difference of 1, in the middle and at the face, after that many diffusive times."""
    seconds = fourier * body.half_mm**2 / body.diffusivity_mm2_s
    _, centre, face = heated_through(body, [0.0, seconds], [0.0, 0.0], start_c=1.0, fine=False)
    return float(centre[-1]), float(face[-1])


def wrong_one_terms(table: tuple[tuple[float, float, float, float, float], ...]) -> list[tuple[float, str]]:
    """Rows of the table that the program's own roots and middles do not give, to the table's four places."""
    found = []
    for biot, *figures in table:
        for shape, (root, strength) in zip(("plate", "cylinder"), (figures[:2], figures[2:]), strict=True):
            own = roots(biot, 1, "plate" if shape == "plate" else "cylinder")[0]
            body = Body(10.0, 0.1, biot, "plate" if shape == "plate" else "cylinder")
            # From a diffusive time on the first term is all: strength x exp(-root^2 Fo).
            middle, _ = left_of(body, 2.0)
            if abs(own - root) > _PLACE or abs(middle * math.exp(2 * own**2) - strength) > _PLACE:
                found.append((biot, shape))
    return found


def test_roots_and_middles_are_those_of_the_one_term_table() -> None:
    assert not wrong_one_terms(ONE_TERM)


@pytest.mark.parametrize("row", range(len(ONE_TERM)))
@pytest.mark.parametrize("column", range(1, 5))
def test_an_altered_figure_of_the_table_is_found(row: int, column: int) -> None:
    altered = list(ONE_TERM[row])
    altered[column] += 0.0003
    table = (*ONE_TERM[:row], tuple(altered), *ONE_TERM[row + 1 :])
    assert wrong_one_terms(table) == [(altered[0], "plate" if column < 3 else "cylinder")]  # type: ignore[arg-type]


def test_brass_plates_in_an_oven_are_as_hot_at_the_face_as_the_series_says() -> None:
    """Cengel, problem 4-36: 448.24 C exact, 445 C printed (a table's root)."""
    brass = Body(30.0, 33.9, biot_of(80.0, 110.0, 30.0))
    _, _, face = heated_through(brass, [0.0, 600.0], [700.0, 700.0], start_c=25.0, fine=False)
    assert float(face[-1]) == pytest.approx(448.24, abs=0.05)


def test_a_bar_in_air_is_the_product_of_two_plates() -> None:
    """Som, chapter 4, example 9: 261.97 C exact, 260.3 C from charts."""
    shares = []
    for side in (180.0, 104.0):
        plate = Body(side, 81.0, biot_of(1100.0, 198.0, side))
        shares.append(left_of(plate, 81.0 * 100 / plate.half_mm**2)[0])
    assert shares == pytest.approx([0.6984, 0.4745], abs=1e-4)
    assert 30 + 700 * shares[0] * shares[1] == pytest.approx(261.97, abs=0.05)


def minutes_in_the_middle(thickness_mm: float, h: float) -> float:
    """Half an hour in air of 160 C."""
    body = Body(thickness_mm, 0.1, biot_of(h, 0.25, thickness_mm))
    times, centre, _ = heated_through(body, [0.0, 1800.0], [160.0, 160.0], start_c=25.0)
    return equivalent_minutes(times, centre, Doubling(10, 160))


@pytest.mark.parametrize(("thickness", "h", "minutes"), RUBBER)
def test_rubber_in_the_air_of_an_oven_is_worth_far_less_than_in_a_press(
    thickness: float, h: float, minutes: float
) -> None:
    found = minutes_in_the_middle(thickness, h)
    assert found == pytest.approx(minutes, abs=0.06)
    # A fifth of a minute more or less in the table is found.
    assert abs(found - (minutes + 0.2)) > 0.06 and abs(found - (minutes - 0.2)) > 0.06
    in_a_press = heated_through(Body(thickness, 0.1), [0.0, 1800.0], [160.0, 160.0], start_c=25.0)
    assert equivalent_minutes(*in_a_press[:2], Doubling(10, 160)) > {12: 22.5, 6: 28.0}[int(thickness)]


def by_small_steps(body: Body, minutes: float, air_c: list[float], start_c: float) -> tuple[float, float]:
    """Middle and face after so many minutes, by shells that exchange heat: explicit, a thousandth of a mm2/s at a time.

    `air_c` in equal pieces, each a straight line. Fluxes between shells, areas by their distance from the middle.
    """
    shells = 40
    wide = body.half_mm / shells
    edges = np.arange(shells + 1) * wide
    plate = body.shape == "plate"
    area = np.ones(shells + 1) if plate else edges
    volume = np.diff(edges) if plate else np.diff(edges**2) / 2
    step = 0.2 * wide**2 / body.diffusivity_mm2_s
    count = math.ceil(minutes * 60 / step)
    step = minutes * 60 / count
    at = np.linspace(0, len(air_c) - 1, count + 1)
    around = np.interp((at[:-1] + at[1:]) / 2, np.arange(len(air_c)), air_c)
    celsius = np.full(shells, start_c)
    # From the last shell's middle through its half to the face and into the air: two resistances in a row.
    last = 1 / (wide / 2 + (0.0 if math.isinf(body.biot) else body.half_mm / body.biot))
    for air in around:
        flow = area[1:-1] * np.diff(celsius) / wide
        outer = area[-1] * (air - celsius[-1]) * last
        change = np.concatenate((flow, [outer])) - np.concatenate(([0.0], flow))
        celsius = celsius + step * body.diffusivity_mm2_s * change / volume
    face = celsius[-1] + (around[-1] - celsius[-1]) * last * wide / 2
    return float(celsius[0]), float(face)


@pytest.mark.parametrize("shape", ["plate", "cylinder"])
@pytest.mark.parametrize("h", [10.0, 25.0, 60.0, math.inf])
def test_the_series_is_what_small_steps_come_to(shape: Shape, h: float) -> None:
    """An oven that warms up, stays, and is opened: 12 mm of rubber."""
    biot = math.inf if math.isinf(h) else biot_of(h, 0.25, 12.0)
    body = Body(12.0, 0.1, biot, shape)
    air = [90.0, 165.0, 160.0, 160.0, 110.0]
    seconds = np.linspace(0, 1800, len(air))
    _, centre, face = heated_through(body, seconds, air, start_c=25.0)
    middle, outside = by_small_steps(body, 30.0, air, 25.0)
    assert float(centre[-1]) == pytest.approx(middle, abs=0.3)
    assert float(face[-1]) == pytest.approx(outside, abs=0.5)
