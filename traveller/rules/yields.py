"""How many must be started? Quantities backward through a route, exact, and the chance that they suffice."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Context, Decimal, localcontext
from fractions import Fraction

__all__ = [
    "MILLION",
    "StepQuantity",
    "YieldStep",
    "chance_of_enough",
    "first_pass_yield",
    "rolled_yield",
    "start_for_confidence",
    "start_quantities",
    "start_quantity",
]

MILLION = 1_000_000
_EXACT_ENOUGH = Context(prec=40)  # no underflow at p**10000, where a float is 0


@dataclass(frozen=True, slots=True)
class YieldStep:
    """One step of a route: its yield, what is taken from it, and the moulds or loads it runs in.

    yield_ppm is good pieces per million entered; so many good pieces are taken (destroyed or kept);
    cavities > 0 makes it a step counted in shots, load_size > 0 one done in loads.
    """

    number: int
    yield_ppm: int
    taken: int = 0
    cavities: int = 0
    startup_shots: int = 0
    load_size: int = 0

    def __post_init__(self) -> None:
        if not 1 <= self.yield_ppm <= MILLION:
            raise ValueError(f"step {self.number}: a yield lies in 1..{MILLION} ppm, not {self.yield_ppm}")
        if min(self.taken, self.cavities, self.startup_shots, self.load_size) < 0:
            raise ValueError(f"step {self.number}: pieces taken, cavities, shots and load sizes are not negative")


@dataclass(frozen=True, slots=True)
class StepQuantity:
    """What one step of the plan takes in and hands on (what is taken already gone), in pieces, shots and loads."""

    number: int
    enters: int
    leaves: int
    shots: int | None
    loads: int | None


def _ceil_div(dividend: int, divisor: int) -> int:
    return -(-dividend // divisor)


def start_quantities(wanted: int, steps: Sequence[YieldStep]) -> tuple[StepQuantity, ...]:
    """Each step's quantities, in the order given, so that at the planned yields `wanted` leave the last.

    Backward: enters = ceil((leaves + taken) / yield), shots = ceil(enters / cavities) + start-up shots,
    loads = ceil(enters / load size). Each is rounded up at its own step, since pieces are whole there.

    >>> [step.enters for step in start_quantities(1000, [YieldStep(10, 970_000), YieldStep(20, 995_000)])]
    [1038, 1006]
    """
    if wanted < 0:
        raise ValueError(f"a wanted quantity is not negative: {wanted}")
    planned: list[StepQuantity] = []
    leaves = wanted
    for step in reversed(steps):
        enters = _ceil_div((leaves + step.taken) * MILLION, step.yield_ppm) if leaves else 0
        startup_shots = step.startup_shots if enters else 0
        shots = _ceil_div(enters, step.cavities) + startup_shots if step.cavities else None
        loads = _ceil_div(enters, step.load_size) if step.load_size else None
        planned.append(StepQuantity(step.number, enters, leaves, shots, loads))
        leaves = enters
    return tuple(reversed(planned))


def start_quantity(wanted: int, steps: Sequence[YieldStep]) -> int:
    """Pieces to start at the first step so that `wanted` leave the last; `wanted` itself without steps."""
    planned = start_quantities(wanted, steps)
    return planned[0].enters if planned else wanted


def rolled_yield(yields_ppm: Iterable[int]) -> Fraction:
    """Share that passes every step: the product of the steps' first-pass yields, never their sum."""
    return math.prod((Fraction(ppm, MILLION) for ppm in yields_ppm), start=Fraction(1))


def first_pass_yield(entered: int, scrapped: int, reworked: int) -> Fraction | None:
    """Share of first entries that passed at once; a reworked piece counts against it though it ends good.

    None when nothing entered.
    """
    if min(scrapped, reworked, entered - scrapped - reworked) < 0:
        raise ValueError(f"{scrapped} scrapped and {reworked} reworked do not fit into {entered} entered")
    return Fraction(entered - scrapped - reworked, entered) if entered else None


def _as_decimal(share: Decimal | Fraction | float) -> Decimal:
    if isinstance(share, Fraction):
        return _EXACT_ENOUGH.divide(Decimal(share.numerator), Decimal(share.denominator))
    return share if isinstance(share, Decimal) else Decimal(str(share))


def chance_of_enough(start: int, need: int, p_good: Decimal | Fraction | float) -> float:
    """Chance that of `start` pieces at least `need` are good, if pieces fail independently (binomial)."""
    good = _as_decimal(p_good)
    if not 0 <= good <= 1:
        raise ValueError(f"a chance lies in 0..1, not {p_good}")
    if need <= 0:
        return 1.0
    if start < need or good == 0:
        return 0.0
    with localcontext(_EXACT_ENOUGH):
        term = total = good**need
        for tried in range(need, start):
            term = term * (1 - good) * tried / (tried + 1 - need)
            total += term
        return float(min(total, Decimal(1)))


def start_for_confidence(need: int, p_good: Decimal | Fraction | float, confidence: Decimal | float) -> int:
    """The least start quantity that gives `need` good pieces with at least this confidence (binomial).

    Sums the negative binomial: the chance that the last needed piece is the n-th tried. Real runs
    cluster, so the answer is a floor; show the worst of the last runs beside it.

    >>> start_for_confidence(5, 0.95, 0.95), start_for_confidence(100, 0.95, 0.99)
    (6, 111)
    """
    good, sure = _as_decimal(p_good), _as_decimal(confidence)
    if not 0 < good <= 1 or not 0 < sure < 1:
        raise ValueError(f"need 0 < p_good <= 1 and 0 < confidence < 1, not {p_good} and {confidence}")
    if need <= 0:
        return 0
    with localcontext(_EXACT_ENOUGH):
        start = need
        term = total = good**need
        while total < sure:
            term = term * (1 - good) * start / (start + 1 - need)
            total += term
            start += 1
        return start
