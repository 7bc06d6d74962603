"""How long do batches usually stay at a shop? Measured from visits, those that are not over counted as "at least".

The share of visits that last longer than so many days is estimated by the product-limit (E. L. Kaplan and P. Meier,
"Nonparametric estimation from incomplete observations", J. Am. Stat. Assoc. 53, 1958; from memory): at each length at
which visits ended, the share that remains is multiplied by (at risk - ended) / at risk, where a visit that is still
open counts among those at risk up to the length that it has reached. To leave open visits out would make a shop look
quicker than it is: the long ones are open for longest.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

__all__ = ["HIGH_FROM", "MEDIAN_FROM", "StayLength", "UsualStay", "stay_within", "usual_stay"]

# So many visits have to be over before a figure is shown as fact, and not only counted (common practice, no source).
MEDIAN_FROM = 5
HIGH_FROM = 10
_HALF = Fraction(1, 2)
_FOUR_IN_FIVE = Fraction(4, 5)


@dataclass(frozen=True, slots=True)
class StayLength:
    """A visit's length in whole working days of its shop; not `over`: at least so many, it may go on."""

    days: int
    over: bool = True


@dataclass(frozen=True, slots=True)
class UsualStay:
    """What is known of a shop's stays, in whole working days.

    `over`, `at_least`: how many visits have ended, and of how many only the least length is known. `median` and `high`
    (within which four in five visits end): None while too few have ended, or while the others leave it open. `agreed`:
    the number that the shop promised, assumed where nothing is measured.
    """

    agreed: int
    over: int = 0
    at_least: int = 0
    median: int | None = None
    high: int | None = None

    @property
    def usual(self) -> int:
        """The median where it is a fact, else the agreed number."""
        return self.agreed if self.median is None else self.median

    @property
    def longest(self) -> int:
        """What more is longer than usual: what four in five visits end within where that is a fact, else the agreed
        number; the median would call every second visit late."""
        return self.agreed if self.high is None else self.high


def stay_within(stays: Iterable[StayLength], share: Fraction) -> int | None:
    """The least number of days within which this share of visits (0 to 1) ends; None where the visits that go on
    leave it open, or where there are none.

    >>> stay_within([StayLength(2), StayLength(3), StayLength(7, over=False), StayLength(8)], Fraction(1, 2))
    3
    >>> stay_within([StayLength(2), StayLength(3, over=False), StayLength(7, over=False)], Fraction(1, 2)) is None
    True
    """
    ended: Counter[int] = Counter()
    reached: Counter[int] = Counter()
    for stay in stays:
        reached[stay.days] += 1
        ended[stay.days] += stay.over
    at_risk = reached.total()
    longer = Fraction(1)
    for days in sorted(reached):
        if ended[days]:
            longer *= Fraction(at_risk - ended[days], at_risk)
            if longer <= 1 - share:
                return days
        # One that was open at this length was still at risk of ending at it.
        at_risk -= reached[days]
    return None


def usual_stay(stays: Sequence[StayLength], agreed: int) -> UsualStay:
    """Median and four-in-five length of a shop's visits, as far as they are facts; `agreed` in working days.

    >>> usual_stay([StayLength(days) for days in (1, 2, 2, 3, 9)], agreed=4)
    UsualStay(agreed=4, over=5, at_least=0, median=2, high=None)
    >>> usual_stay([StayLength(2)] * 4, agreed=4).usual
    4
    """
    over = sum(stay.over for stay in stays)
    return UsualStay(
        agreed=agreed,
        over=over,
        at_least=len(stays) - over,
        median=stay_within(stays, _HALF) if over >= MEDIAN_FROM else None,
        high=stay_within(stays, _FOUR_IN_FIVE) if over >= HIGH_FROM else None,
    )
