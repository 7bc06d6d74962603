"""Can a check against a published figure fail? Each figure is altered once, beyond its tolerance, and must be noticed.

A module of published checks keeps its figures as data: `Case(given, published, within)`, a check that takes one case
and asserts, and `PUBLISHED = {"what it is": (CASES, check)}`. `test_altered.py` finds every such table.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

__all__ = ["Case", "Check", "alterations", "altered"]


@dataclass(frozen=True)
class Case:
    """What the source puts in, what it prints (a figure, a word, or tuples, lists and mappings of them), and how
    far our own may lie off; cases whose figures have different tolerances are different cases."""

    given: Any
    published: Any
    within: float | Fraction = 0


Check = Callable[[Case], None]


def _figure(value: Any, within: float | Fraction) -> Iterator[Any]:
    """A figure with another in its place: above and below, by more than twice the tolerance where it has one.

    Twice: our own may lie off by all of it already. Exact figures change by one in their last printed digit.
    """
    if isinstance(value, bool):
        yield not value
    elif isinstance(value, date):
        yield from (value + timedelta(days=days) for days in (1, -1))
    elif isinstance(value, int | float | Decimal | Fraction):
        far = Fraction(within) * 201 / 100 or _last_digit(value)
        for moved in (Fraction(value) + far, Fraction(value) - far):
            if isinstance(value, Decimal):
                yield Decimal(moved.numerator) / moved.denominator
            elif isinstance(value, Fraction) or (isinstance(value, int) and moved.denominator == 1):
                yield type(value)(moved)
            else:
                yield float(moved)
    elif isinstance(value, str):
        yield f"{value}?"


def _last_digit(value: int | float | Decimal | Fraction) -> Fraction:
    """One in the last digit that is printed; of a fraction a millionth."""
    if isinstance(value, Fraction):
        return abs(value) / 10**6 or Fraction(1)
    return Fraction(10) ** int(Decimal(str(value)).as_tuple().exponent)


def alterations(published: Any, within: float | Fraction = 0) -> Iterator[Any]:
    """All that was published, each time with one figure or word altered, a key of a mapping too."""
    if isinstance(published, Mapping):
        for key, value in published.items():
            rest = {other: one for other, one in published.items() if other != key}
            yield from ({**rest, key: other} for other in alterations(value, within))
            yield from ({**rest, other: value} for other in _figure(key, 0) if other not in published)
    elif isinstance(published, tuple | list):
        for place, value in enumerate(published):
            for other in alterations(value, within):
                yield type(published)([*published[:place], other, *published[place + 1 :]])
    else:
        yield from _figure(published, within)


def altered(cases: Iterable[Case], check: Check) -> int:
    """How many alterations were noticed. Fails where one was not, or where a case holds nothing that is published."""
    noticed = 0
    for case in cases:
        check(case)
        before = noticed
        for other in alterations(case.published, case.within):
            try:
                check(replace(case, published=other))
            except AssertionError:
                noticed += 1
            else:
                raise AssertionError(f"{check.__name__} takes {other} for {case.published} as well (of {case.given})")
        assert noticed > before, f"nothing is published in {case}"
    return noticed
