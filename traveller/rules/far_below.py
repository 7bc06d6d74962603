"""Is so little recorded, against what a plan expects, that somebody should be asked whether it is all?"""

from __future__ import annotations

from fractions import Fraction

from traveller.rules.yields import MILLION

__all__ = ["far_below"]

# Common practice, no source: runs cluster, so that one tenth below the mean is nothing rare; more than that is.
_SHARE = Fraction(9, 10)
# Standard deviations of the binomial: in small lots chance alone takes more than a tenth.
_SPREADS = 2


def far_below(recorded: int, entered: int, yield_ppm: int = MILLION) -> bool:
    """Fewer than nine tenths of what `entered` pieces bring at this yield, and further below than chance explains.

    recorded, entered in pieces; yield_ppm good pieces per million. The mean is n p, its spread two standard deviations
    of the binomial, sqrt(n p (1 - p)); both must be undercut, exactly. Nothing is below nothing.

    >>> far_below(80, 223, 970_000), far_below(205, 223, 970_000), far_below(3, 5, 800_000)
    (True, False, False)
    """
    if entered <= 0:
        return False
    share = Fraction(yield_ppm, MILLION)
    mean = entered * share
    missing = mean - recorded
    return recorded < _SHARE * mean and missing * missing > _SPREADS * _SPREADS * mean * (1 - share)
