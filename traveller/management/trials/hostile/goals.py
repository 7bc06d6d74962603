"""Figures beside their goals, and whether all of them held."""

from __future__ import annotations

from dataclasses import dataclass, field

from traveller.management.trials import Out


@dataclass
class Goals:
    """Prints each goal as soon as it is judged."""

    out: Out
    missed: list[str] = field(default_factory=list)

    def judge(self, what: str, figure: str, goal: str, held: bool) -> None:
        self.out(f"  {'held  ' if held else 'MISSED'}  {what}: {figure} (goal: {goal})")
        if not held:
            self.missed.append(what)

    def note(self, what: str, figure: str) -> None:
        """A figure that is told and not judged."""
        self.out(f"          {what}: {figure}")

    def none(self, what: str, found: list[str], shown: int = 8) -> None:
        """There should be none of these; the first of them are named."""
        self.judge(what, str(len(found)), "0", not found)
        for one in found[:shown]:
            self.out(f"            {one}")

    @property
    def code(self) -> int:
        return 1 if self.missed else 0
