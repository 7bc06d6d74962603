"""What the words of a history need besides its events."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from sites.models import Site
from traveller.journal.models import Event

__all__ = ["NamesKnown"]


@dataclass(frozen=True)
class NamesKnown:
    """Names of sites, verbs of steps, and lots by id."""

    verbs: Mapping[int, str] = field(default_factory=dict)
    lot_id: int | None = None
    sites: Mapping[int, str] = field(default_factory=lambda: dict(Site.objects.values_list("pk", "name")))

    def step(self, event: Event) -> str:
        number = event.data.get("number", event.data.get("step"))
        if number is None:
            return ""
        verb = self.verbs.get(number, "")
        return f"{number}, {verb}: " if verb else f"{number}: "

    def site(self, pk: Any) -> str:
        return self.sites.get(pk, "–")
