"""Trials: what the program promises under bad conditions, tried on real processes and printed beside the promise.

Each module or package here is one trial: TITLE (one line) and
`run(seed: int, *, short: bool, out: Callable[[str], None]) -> int`, which prints its seed and every figure beside
its goal and returns 0 when all goals held.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable
from dataclasses import dataclass
from types import ModuleType
from typing import Protocol

Out = Callable[[str], None]


class _Run(Protocol):
    """How a trial is run: 0 when every goal held."""

    def __call__(self, seed: int, *, short: bool, out: Out) -> int: ...


@dataclass(frozen=True)
class Trial:
    """One trial as the command shows and starts it."""

    name: str
    title: str
    run: _Run


def names() -> list[str]:
    """The names of all trials, in alphabetical order."""
    return sorted(module.name for module in pkgutil.iter_modules(__path__))


def find_trial(name: str) -> Trial:
    """The trial of this name; KeyError when there is none."""
    if name not in names():
        raise KeyError(name)
    return trial_of(name, importlib.import_module(f"{__name__}.{name}"))


def trial_of(name: str, module: ModuleType) -> Trial:
    """What a module says of itself as a trial; TypeError, in words, when it says too little."""
    title, run = getattr(module, "TITLE", None), getattr(module, "run", None)
    if not isinstance(title, str) or not callable(run):
        raise TypeError(f"{module.__name__} is no trial: it needs TITLE and run(seed, *, short, out).")
    return Trial(name, title, run)
