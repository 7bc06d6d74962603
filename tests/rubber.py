"""A rubber shop with a batch of bands that was taken over: nobody recorded of which gum it was made."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta

from sites.models import Site
from tests import factory
from tests.factory import Op
from tests.web.founder.scene import done
from traveller.batches.actions.report import report
from traveller.batches.models import Batch
from traveller.batches.steps.consume import Used
from traveller.journal.event_context import EventContext
from traveller.ledger.models import Lot
from traveller.orders.actions.adopt_batch import adopt_batch
from traveller.orders.actions.receive_purchase import receive_purchase
from traveller.products.models import Part


@dataclass
class Rubber:
    """Bands of gum, printed at the same shop: `taken` is a batch of 220 bands taken over after step 10."""

    shop: Site = field(default_factory=lambda: factory.make_site("rubber"))
    told: int = 0
    gum: Part = field(init=False)
    band: Part = field(init=False)
    printed: Part = field(init=False)
    gum_lot: Lot = field(init=False)
    taken: Batch = field(init=False)

    def __post_init__(self) -> None:
        self.gum = factory.make_part("GUM", "material", unit="GRM")
        self.band, self.printed = factory.make_part("BAND"), factory.make_part("BAND-AM")
        factory.make_bill(self.band, self.gum, per_thousand=17_000, step=10)
        factory.make_routing(self.band, [Op(10, self.shop, "press", "make"), Op(20, self.shop, "trim")])
        factory.make_bill(self.printed, self.band, step=10)
        factory.make_routing(self.printed, [Op(10, self.shop, "print", "make")])
        self.gum_lot = factory.make_stock(self.gum, self.shop, 60_000, name="NR-2209")
        self.taken = done(
            adopt_batch(event_context=self.at(1), reference="RUN-88", part_id=self.band.pk, good={10: 220})
        )

    def at(self, days: float) -> EventContext:
        self.told += 1
        when = factory.MONDAY + timedelta(days=days)
        return factory.event_context(f"rubber {self.told}", at=when, actor=factory.operator(self.shop))

    def count(self, batch: Batch, number: int, days: float, good: int, *used: Used, scrap: int = 0) -> Lot:
        done(
            report(
                event_context=self.at(days), step_id=batch.steps.get(number=number).pk, good=good, used=used,
                scrap={"dirty": scrap} if scrap else None,
            )
        )  # fmt: skip
        batch.refresh_from_db()
        assert batch.lot is not None
        return batch.lot

    def buy(self, days: float) -> Lot:
        """A delivery of gum on some day."""
        stamp = self.at(days)
        return done(receive_purchase(event_context=stamp, site_id=self.shop.pk, part_id=self.gum.pk, quantity=5000)).lot


def lot_of(batch: Batch) -> Lot:
    assert batch.lot is not None
    return batch.lot
