"""How many to look at, and may the lot pass? Single plans by attributes, and what a plan can and cannot see."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Literal

from traveller.rules.sampling_tables import ACCEPTANCE_LIMITS, CODE_LETTERS, LEVELS, PLANS, SAMPLE_SIZES

__all__ = [
    "Model",
    "SamplingPlan",
    "acceptance_limit",
    "acceptance_probability",
    "code_letter",
    "model_for",
    "single_plan",
]

Model = Literal["binomial", "poisson", "hypergeometric"]
# From a tenth of the lot on, what was taken out changes what is left.
_LARGE_SHARE = 10


@dataclass(frozen=True)
class SamplingPlan:
    """Look at `size` pieces; accept with up to `accept` bad ones, reject from `accept` + 1."""

    size: int
    accept: int
    letter: str = ""
    used_letter: str = ""

    @property
    def reject(self) -> int:
        """So many bad ones reject the lot."""
        return self.accept + 1


def acceptance_limit(text: str) -> str | None:
    """The column of the table that a number means ("1" is 1.0); None where there is no such column."""
    try:
        wanted = Decimal(text.strip().replace(",", "."))
    except InvalidOperation:
        return None
    return next((limit for limit in ACCEPTANCE_LIMITS if Decimal(limit) == wanted), None)


def code_letter(lot: int, level: str = "II") -> str:
    """The sample size's code letter for a lot of 2 or more (MIL-STD-105E, Table I)."""
    if lot < 2:
        raise ValueError("a lot to be sampled has at least two pieces")
    column = LEVELS.index(level)
    return next(letters[column] for most, letters in CODE_LETTERS if most is None or lot <= most)


def single_plan(lot: int, level: str, limit: str) -> SamplingPlan:
    """The single plan for normal inspection, arrows followed; a sample as large as the lot is every piece.

    `limit` is a column of Table II-A, such as "1.0" (MIL-STD-105E).
    """
    letter = code_letter(lot, level)
    column = ACCEPTANCE_LIMITS.index(limit)
    letters = list(PLANS)
    place = letters.index(letter)
    while (cell := PLANS[letters[place]].split()[column]) in ("v", "^"):
        place += 1 if cell == "v" else -1
    used = letters[place]
    return SamplingPlan(min(SAMPLE_SIZES[used], lot), int(cell), letter, used)


def model_for(size: int, lot: int | None) -> Model:
    """The exact model for a sample that is a good part of its lot; else the lot counts as endless."""
    return "hypergeometric" if lot is not None and size * _LARGE_SHARE >= lot else "binomial"


def _log_choose(n: int, k: int) -> float:
    return math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1)


def acceptance_probability(
    plan: SamplingPlan, bad_share: float, *, model: Model = "binomial", lot: int | None = None
) -> float:
    """The chance that a lot with this share of bad pieces is accepted; the model is named with every figure.

    `hypergeometric` needs the lot's size and counts its bad pieces whole, rounded up.
    """
    if not 0 <= bad_share <= 1:
        raise ValueError("a share lies between 0 and 1")
    size, accept = plan.size, min(plan.accept, plan.size)
    if model == "hypergeometric":
        if lot is None or lot < size:
            raise ValueError("a lot holds at least its sample")
        return _hypergeometric(size, accept, math.ceil(round(bad_share * lot, 9)), lot)
    if bad_share == 0:
        return 1.0
    if model == "poisson":
        mean = size * bad_share
        terms = (math.exp(k * math.log(mean) - mean - math.lgamma(k + 1)) for k in range(plan.accept + 1))
        return min(1.0, math.fsum(terms))
    if bad_share == 1:
        return 1.0 if accept >= size else 0.0
    bad, good = math.log(bad_share), math.log1p(-bad_share)
    chances = (math.exp(_log_choose(size, k) + k * bad + (size - k) * good) for k in range(accept + 1))
    return min(1.0, math.fsum(chances))


def _hypergeometric(size: int, accept: int, bad: int, lot: int) -> float:
    total = math.comb(lot, size)
    ways = sum(math.comb(bad, k) * math.comb(lot - bad, size - k) for k in range(min(accept, bad, size) + 1))
    return ways / total
