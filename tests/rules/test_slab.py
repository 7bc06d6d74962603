"""Laws of a part in the air of an oven, as properties."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from traveller.rules.slab import Body, Shape, heated_through, roots
from traveller.rules.transfer import biot_of

thick = st.floats(4, 40)
shapes: st.SearchStrategy[Shape] = st.sampled_from(["plate", "cylinder"])
transfers = st.floats(3, 200)


@settings(max_examples=25)
@given(thick, shapes, transfers, st.floats(60, 1200))
def test_the_middle_is_never_hotter_than_the_face_nor_the_face_than_the_air(
    thickness: float, shape: Shape, h: float, seconds: float
) -> None:
    body = Body(thickness, 0.1, biot_of(h, 0.25, thickness), shape)
    _, centre, face = heated_through(body, [0.0, seconds], [160.0, 160.0], start_c=25.0)
    assert (centre >= 25 - 0.2).all() and (centre <= face + 0.2).all() and (face <= 160 + 1e-6).all()


@settings(max_examples=25)
@given(thick, shapes, transfers, st.floats(1.05, 3), st.floats(300, 1200))
def test_better_air_never_leaves_a_part_colder(
    thickness: float, shape: Shape, h: float, better: float, seconds: float
) -> None:
    slow, quick = (
        heated_through(
            Body(thickness, 0.1, biot_of(one, 0.25, thickness), shape),
            [0, seconds],
            [160, 160],
            start_c=25.0,
            fine=False,
        )
        for one in (h, h * better)
    )
    assert quick[1][-1] >= slow[1][-1] - 1e-6 and quick[2][-1] >= slow[2][-1] - 1e-6


@pytest.mark.parametrize("shape", ["plate", "cylinder"])
def test_air_that_carries_heat_without_end_holds_the_face(shape: Shape) -> None:
    held = heated_through(Body(12.0, 0.1, math.inf, shape), [0, 600], [160, 160], start_c=25.0)
    blown = heated_through(Body(12.0, 0.1, 1e7, shape), [0, 600], [160, 160], start_c=25.0)
    assert float(blown[1][-1]) == pytest.approx(float(held[1][-1]), abs=0.01)
    assert float(held[2][-1]) == 160.0


@pytest.mark.parametrize("shape", ["plate", "cylinder"])
@pytest.mark.parametrize("biot", [1e-4, 0.3, 7.0, 1e4, math.inf])
def test_each_root_lies_behind_the_one_before(shape: Shape, biot: float) -> None:
    found = roots(biot, 60, shape)
    assert found[0] > 0 and (np.diff(found) > 1.5).all()


@pytest.mark.parametrize("wrong", [{"thickness_mm": 0.0}, {"diffusivity_mm2_s": -1.0}, {"biot": 0.0}])
def test_a_body_without_a_size_is_none(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="above zero"):
        Body(**{"thickness_mm": 12.0, "diffusivity_mm2_s": 0.1, **wrong})  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="above zero"):
        roots(0.0)
