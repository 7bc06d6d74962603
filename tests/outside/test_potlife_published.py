"""Pot life of a two-component print ink against a published guide.

Siebdruck-Partner, "Richtwerte für Topfzeit" (glass screen ink, the same chemistry as pad inks): 6 to 8 hours at
20 to 25 degrees C, halving for every 10 degrees more. The ink's own data sheet overrides it.
"""

from __future__ import annotations

import pytest

from traveller.rules.potlife import PotLife


@pytest.mark.parametrize(("hours_at_25", "celsius", "minutes"), [(6, 25, 360), (6, 35, 180), (8, 45, 120)])
def test_the_pot_life_halves_every_ten_degrees(hours_at_25: int, celsius: float, minutes: int) -> None:
    assert PotLife(hours_at_25 * 60, 25).minutes_at(celsius) == minutes
