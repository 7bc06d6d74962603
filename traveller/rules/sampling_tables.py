"""Sampling tables of MIL-STD-105E (10 May 1989), a work of the United States government: Tables I and II-A.

Data, not code: another family of plans is another table. `v` and `^` are the standard's arrows: use the first
plan below or above, with its own sample size.
"""

from __future__ import annotations

from typing import Final

__all__ = ["ACCEPTANCE_LIMITS", "CODE_LETTERS", "LEVELS", "PLANS", "SAMPLE_SIZES"]

LEVELS: Final = ("S-1", "S-2", "S-3", "S-4", "I", "II", "III")

# Largest lot of each row (the last has no end), then a letter for each level.
CODE_LETTERS: Final[tuple[tuple[int | None, str], ...]] = (
    (8, "AAAAAAB"),
    (15, "AAAAABC"),
    (25, "AABBBCD"),
    (50, "ABBCCDE"),
    (90, "BBCCCEF"),
    (150, "BBCDDFG"),
    (280, "BCDEEGH"),
    (500, "BCDEFHJ"),
    (1200, "CCEFGJK"),
    (3200, "CDEGHKL"),
    (10000, "CDFGJLM"),
    (35000, "CDFHKMN"),
    (150000, "DEGJLNP"),
    (500000, "DEGJMPQ"),
    (None, "DEHKNQR"),
)

SAMPLE_SIZES: Final = {
    "A": 2, "B": 3, "C": 5, "D": 8, "E": 13, "F": 20, "G": 32, "H": 50,
    "J": 80, "K": 125, "L": 200, "M": 315, "N": 500, "P": 800, "Q": 1250, "R": 2000,
}  # fmt: skip

ACCEPTANCE_LIMITS: Final = (
    "0.010", "0.015", "0.025", "0.040", "0.065", "0.10", "0.15", "0.25", "0.40", "0.65", "1.0", "1.5", "2.5",
    "4.0", "6.5", "10", "15", "25", "40", "65", "100", "150", "250", "400", "650", "1000",
)  # fmt: skip

# A row for each letter, a column for each acceptance limit: the number at which the lot is still accepted.
PLANS: Final = {
    "A": "v v v v v v v v v v v v v v 0 v v 1 2 3 5 7 10 14 21 30",
    "B": "v v v v v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 30 44",
    "C": "v v v v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 30 44 ^",
    "D": "v v v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 30 44 ^ ^",
    "E": "v v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 30 44 ^ ^ ^",
    "F": "v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^",
    "G": "v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^",
    "H": "v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^",
    "J": "v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^",
    "K": "v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^",
    "L": "v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^",
    "M": "v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^",
    "N": "v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^",
    "P": "v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^",
    "Q": "0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^",
    "R": "^ ^ 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^",
}
