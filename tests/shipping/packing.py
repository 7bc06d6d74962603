"""A bench with finished lamps and leaflets on it, and an order line that wants them."""

from __future__ import annotations

from dataclasses import dataclass

from tests import factory
from tests.factory import CheckRow
from tests.orders.lamps import Lamps, make_lamps
from traveller.batches.actions.report import report
from traveller.batches.models import Batch
from traveller.ledger.models import Lot
from traveller.orders.models import OrderLine
from traveller.shipping.actions.pack import pack
from traveller.shipping.models import Carton


@dataclass
class Bench:
    lamps: Lamps
    line: OrderLine
    batch: Batch
    lot: Lot
    leaflets: Lot

    def pack(self, n: int, quantity: int = 10, *, leaflets: int | None = None, line: OrderLine | None = None) -> object:
        """`leaflets`: one each unless told otherwise."""
        added = quantity if leaflets is None else leaflets
        lots = [(self.lot.pk, quantity), *([(self.leaflets.pk, added)] if added else [])]
        return pack(
            event_context=factory.event_context(n),
            line_id=(line or self.line).pk,
            site_id=self.lamps.bench.pk,
            quantity=quantity,
            lots=lots,
            packer="Tomas",
        )

    def carton(self, n: int, quantity: int = 10) -> Carton:
        carton = self.pack(n, quantity)
        assert isinstance(carton, Carton), carton
        return carton


def make_bench(*, ordered: int = 50, finished: int = 60, checks: tuple[CheckRow, ...] = ()) -> Bench:
    lamps = make_lamps(checks=checks)
    line = lamps.line(ordered)
    factory.make_stock(lamps.globe, lamps.bench, 100)
    factory.make_stock(lamps.puck, lamps.bench, 100)
    leaflets = factory.make_stock(lamps.leaflet, lamps.bench, 80)
    batch = factory.make_batch(lamps.lamp, wanted=finished)
    report(event_context=factory.event_context("assembled"), step_id=batch.steps.get().pk, good=finished)
    batch.refresh_from_db()
    assert batch.lot is not None
    return Bench(lamps, line, batch, batch.lot, leaflets)
