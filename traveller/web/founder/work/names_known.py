"""What the words of a history need besides its events."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from sites.models import Site
from traveller.journal.models import Event
from traveller.ledger.models import Lot
from traveller.web.founder.desk.listing import amount

__all__ = ["NamesKnown"]


@dataclass(frozen=True)
class NamesKnown:
    """Names of sites, verbs of steps, lots by id, and what each of these is counted in."""

    verbs: Mapping[int, str] = field(default_factory=dict)
    lot_id: int | None = None
    sites: Mapping[int, str] = field(default_factory=lambda: dict(Site.objects.values_list("pk", "name")))
    units: dict[int, str] = field(default_factory=dict)

    def amount(self, quantity: int, lot_id: int | None = None) -> str:
        """A quantity of the lot whose history it is, or of another, as people say it."""
        lot = lot_id or self.lot_id
        if lot is not None and lot not in self.units:
            self.units.update(Lot.objects.filter(pk=lot).values_list("pk", "part__unit"))
        return amount(quantity, self.units.get(lot or 0, "C62"))

    def step(self, event: Event) -> str:
        number = event.data.get("number", event.data.get("step"))
        if number is None:
            return ""
        verb = self.verbs.get(number, "")
        return f"{number}, {verb}: " if verb else f"{number}: "

    def site(self, pk: Any) -> str:
        return self.sites.get(pk, "–")
