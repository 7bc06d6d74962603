"""Hostile files, each made by code from a seed: what a stranger may send to any door of the program.

A file is made in full or in small (`scale` from 0 to 1): small ones have the same form and cost little.
"""

from __future__ import annotations

import importlib
from random import Random

from traveller.management.trials.hostile.files.kinds import HOSTILE_KINDS, Hostile

__all__ = ["Hostile", "every_kind", "made"]

MODULES = (
    "postscript",
    "png",
    "jpeg",
    "moving_pictures",
    "old_pictures",
    "wide_pictures",
    "tiff",
    "pdf",
    "pdf_drawing",
    "logs",
    "sheets",
    "zips",
    "envelopes",
    "forms",
)


def every_kind() -> list[Hostile]:
    """All kinds, in the order of MODULES and in each as they are declared, whoever was imported first."""
    for name in MODULES:
        importlib.import_module(f"{__name__}.{name}")
    return sorted(HOSTILE_KINDS.values(), key=lambda kind: MODULES.index(kind.make.__module__.rpartition(".")[2]))


def made(kind: Hostile, seed: int, scale: float = 1.0) -> bytes:
    """The bytes of a kind: the same for the same seed, whatever else was made before."""
    return kind.make(Random(f"{seed} {kind.name}"), scale)
