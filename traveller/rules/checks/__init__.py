"""Is it proved? One file for each kind of check; KINDS is all that there are."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from traveller.rules.checks import (
    age,
    approval,
    cure,
    dimension,
    drying,
    dwell,
    every_piece,
    reading,
    sample,
    soak,
    variant,
    window,
)
from traveller.rules.checks.base import CheckKind

__all__ = ["COLUMNS", "KINDS", "WORDS"]

# Each kind has its own parameters, so the table cannot say more than that a kind fits itself.
KINDS: Mapping[str, CheckKind[Any]] = {
    kind.name: kind
    for kind in (
        window.KIND,
        dwell.KIND,
        drying.KIND,
        soak.KIND,
        cure.KIND,
        every_piece.KIND,
        dimension.KIND,
        reading.KIND,
        sample.KIND,
        age.KIND,
        approval.KIND,
        variant.KIND,
    )
}

# Every column that some kind reads, in the order of the workbook.
COLUMNS: tuple[str, ...] = tuple(dict.fromkeys(column for kind in KINDS.values() for column in kind.columns))

# Every sentence that a verdict, a limit or a question may need, by its code.
WORDS: Mapping[str, str] = {code: words for kind in KINDS.values() for code, words in kind.words.items()}
