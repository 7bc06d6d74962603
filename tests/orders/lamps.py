"""A lamp for tests: assembled at the bench of a moulded globe and a bought puck, packed with a leaflet."""

from __future__ import annotations

from dataclasses import dataclass

from sites.models import Site
from tests import factory
from tests.factory import CheckRow, Op
from traveller.orders.models import Order, OrderLine
from traveller.products.models import Part


@dataclass(frozen=True)
class Lamps:
    bench: Site
    moulder: Site
    supplier: Site
    lamp: Part
    globe: Part
    puck: Part
    leaflet: Part
    resin: Part

    def line(self, quantity: int = 95, *, order: Order | None = None, number: int = 1) -> OrderLine:
        return factory.make_line(order or factory.make_order(), self.lamp, quantity, number=number)


def make_lamps(*, checks: tuple[CheckRow, ...] = ()) -> Lamps:
    """`checks` are on the assembly. 95 lamps take 100 of each component, and 125 mouldings."""
    bench, moulder = factory.make_bench(), factory.make_site()
    supplier = factory.make_site("supplier", "supplier")
    lamp, globe = factory.make_part("LAMP"), factory.make_part("GLOBE")
    puck = factory.make_part("PUCK", "bought", supplier=supplier)
    leaflet = factory.make_part("LEAFLET", "bought", supplier=supplier)
    resin = factory.make_part("RESIN", "material", unit="GRM", supplier=supplier)
    factory.make_routing(globe, [Op(10, moulder, "dry", "prepare"), Op(20, moulder, "mould", "make", 0.8)])
    factory.make_routing(lamp, [Op(10, bench, "assemble", "make", 0.95, checks=checks)])
    factory.make_bill(globe, resin, each=30, step=10)
    factory.make_bill(lamp, globe, step=10)
    factory.make_bill(lamp, puck, step=10)
    factory.make_bill(lamp, leaflet, step=0)
    return Lamps(bench, moulder, supplier, lamp, globe, puck, leaflet, resin)
