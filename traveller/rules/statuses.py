"""What may be said of goods in a word: on pages, phones, labels and papers the same one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from traveller.rules.purposes import Purpose

__all__ = ["FREE_WORDS", "NEXT_WORDS", "STATUS_WORDS", "StatusKind", "kind_of_stop", "status_word"]

StatusKind = Literal[
    "not_made", "in_process", "rework", "unproved", "held", "expired", "disputed", "road", "misplaced", "free"
]

STATUS_WORDS: Mapping[StatusKind, str] = {
    "not_made": "Not made yet",
    "in_process": "In process",
    "rework": "For rework",
    "unproved": "Waits for proof",
    "held": "HELD: do not use",
    "expired": "EXPIRED: do not use",
    "disputed": "Count disputed",
    "road": "On the road",
    "misplaced": "Not here",
    "free": "Free",
}

# Free for what: a label of goods that may leave a shop does not say that they may be packed.
FREE_WORDS: Mapping[Purpose, str] = {
    "start": "Free to start",
    "send": "Free to send",
    "consume": "Free to use",
    "pack": "Free to pack",
    "ship": "Free to ship",
}

# What goods wait for where no step of their batch comes next. Goods that are sent wait for the shelf that wants them.
NEXT_WORDS: Mapping[Purpose, str] = {
    "start": "work",
    "send": "stock",
    "consume": "use",
    "pack": "packing",
    "ship": "shipping",
}

_KINDS: Mapping[str, StatusKind] = {
    "held": "held",
    "expired": "expired",
    "not_proved": "unproved",
    "component_not_proved": "unproved",
    "not_here": "misplaced",
}


def kind_of_stop(code: str) -> StatusKind:
    """The kind for the code of a stop (of traveller.batches.usable). Raises KeyError for any other code."""
    return _KINDS[code]


def status_word(kind: StatusKind, purpose: Purpose) -> str:
    """The word in English; free goods say what for.

    >>> status_word("free", "send")
    'Free to send'
    """
    return FREE_WORDS[purpose] if kind == "free" else STATUS_WORDS[kind]
