"""A lantern maker's fortnight for the founder's pages, played through the real actions from a moment given."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TypeVar

from sites.models import Site
from tests import factory
from tests.factory import CheckRow, Op
from traveller.batches.actions.finish_step import finish_step
from traveller.batches.actions.loads import end_load, start_load
from traveller.batches.actions.receive import arrived_unannounced, receive
from traveller.batches.actions.report import report
from traveller.batches.actions.send import send
from traveller.batches.actions.start_step import start_step
from traveller.batches.models import Batch, Load, Step
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import Consignment
from traveller.journal.event_context import EventContext
from traveller.journal.refusal import Refusal
from traveller.orders.models import BatchShare, Order, OrderLine
from traveller.products.models import Part

T = TypeVar("T")
OVEN = CheckRow("oven", "window", {"least": "20", "most": "60", "unit": "min"}, scope="load", blocks="sending")
WATER = CheckRow("water", "every_piece", {"name": "water test"}, scope="piece", blocks="sending")


def done(answer: T | Refusal) -> T:
    """What an action answered; a refusal is a fault of the scene."""
    assert not isinstance(answer, Refusal), answer
    return answer


@dataclass
class Scene:
    """The cast and what they did; `at(days)` is so many days after the start."""

    start: datetime
    reported: int = 0
    sites: dict[str, Site] = field(default_factory=dict)
    parts: dict[str, Part] = field(default_factory=dict)
    batches: dict[str, Batch] = field(default_factory=dict)
    order: Order = field(init=False)
    line: OrderLine = field(init=False)

    def at(self, days: float) -> datetime:
        return self.start + timedelta(days=days)

    def by(self, site: str, days: float) -> EventContext:
        self.reported += 1
        return factory.event_context(
            f"scene {self.reported}", at=self.at(days), actor=factory.operator(self.sites[site])
        )

    def step(self, batch: str, number: int) -> Step:
        return self.batches[batch].steps.get(number=number)

    def report(self, batch: str, number: int, days: float, good: int, **more: object) -> None:
        step = self.step(batch, number)
        site = next(name for name, row in self.sites.items() if row.pk == step.site_id)
        done(report(event_context=self.by(site, days), step_id=step.pk, good=good, **more))  # type: ignore[arg-type]
        self.batches[batch].refresh_from_db()

    def send(self, batch: str, origin: str, to: str, days: float, pieces: int, from_step: int = 0) -> Consignment:
        lot = self.batches[batch].lot
        assert lot is not None
        return done(
            send(
                event_context=self.by(origin, days),
                origin_id=self.sites[origin].pk,
                destination_id=self.sites[to].pk,
                lines=[SendLine(lot.pk, pieces, from_step)],
                purpose="stock",
            )
        )

    def receive(self, consignment: Consignment, to: str, days: float, pieces: int) -> None:
        line = consignment.lines.get()
        done(receive(event_context=self.by(to, days), line_id=line.pk, quantity=pieces))


def stage(start: datetime) -> Scene:
    """Sites, parts, routings, one order and its released batches; nothing made yet."""
    scene = Scene(start)
    zone = {"timezone": "America/New_York"}
    scene.sites = {
        "moulder": factory.make_site("moulder", turnaround_days=5, contact="Dale", phone="+1 260 555 0124", **zone),
        "printer": factory.make_site("printer", turnaround_days=4, contact="Inés", phone="+52 614 555 0142", **zone),
        "bench": factory.make_bench(name="Own bench", turnaround_days=2, **zone),
    }
    moulder, printer, bench = scene.sites.values()
    lantern = factory.make_part("LANTERN-AM", name="Lantern", variant="amber")
    globe = factory.make_part("GLOBE-AM", name="Globe", variant="amber")
    band = factory.make_part("BAND-AM", name="Band, printed", variant="amber")
    puck = factory.make_part("PUCK", "bought", name="Light puck")
    scene.parts = {"lantern": lantern, "globe": globe, "band": band, "puck": puck}
    for component in (globe, band, puck):
        factory.make_bill(lantern, component, step=10)
    factory.make_routing(
        globe,
        [
            Op(10, moulder, "mould", "make", yield_=0.97),
            Op(20, moulder, "deburr"),
            Op(30, moulder, "water test", checks=[WATER]),
        ],
    )
    factory.make_routing(
        band,
        [
            Op(10, printer, "print first colour", "make"),
            Op(20, printer, "oven", checks=[OVEN]),
            Op(30, printer, "print second colour"),
        ],
    )
    factory.make_routing(lantern, [Op(10, bench, "assemble", "make")])
    scene.order = factory.make_order("1042")
    due = (start + timedelta(days=18)).date()
    scene.line = factory.make_line(scene.order, lantern, 1000, due_on=due, released=1000)
    for name, part, wanted, start_with in (
        ("globe", globe, 1000, 1060),
        ("band", band, 1000, 1030),
        ("lantern", lantern, 1000, 1000),
    ):
        batch = factory.make_batch(part, wanted=wanted, start=start_with, destination=bench, due_on=due)
        BatchShare.objects.create(batch=batch, line=scene.line, quantity=wanted)
        scene.batches[name] = batch
    return scene


def play(start: datetime) -> Scene:
    """Globes at the bench with ten missing, bands held after a short bake, pucks on the shelf, assembly waiting."""
    scene = stage(start)
    done(start_step(event_context=scene.by("moulder", 0.2), step_id=scene.step("globe", 10).pk))
    scene.report("globe", 10, 1.1, 500, scrap={"short": 9})
    scene.report("globe", 10, 2.3, 523, scrap={"short": 21, "flash": 4}, done=True)
    scene.report("globe", 20, 3.0, 1018, scrap={"dirty": 5}, done=True)
    scene.report("globe", 30, 4.2, 970, scrap={"short": 36}, rework=12, done=True)
    ahead = scene.send("globe", "moulder", "bench", 4.3, 400)
    scene.receive(ahead, "bench", 5.4, 400)
    rest = scene.send("globe", "moulder", "bench", 6.3, 570)
    scene.receive(rest, "bench", 7.4, 560)
    scene.report("band", 10, 5.1, 640, scrap={"dirty": 12})
    scene.report("band", 10, 6.1, 360, done=True)
    _bake(scene, 7.0, [(300, 25), (300, 24), (210, 14)])
    factory.make_stock(scene.parts["puck"], scene.sites["bench"], 700)
    return scene


def _bake(scene: Scene, days: float, charges: list[tuple[int, int]]) -> None:
    """Oven charges of so many pieces for so many minutes; too short a one is split off and held."""
    step = scene.step("band", 20)
    for number, (pieces, minutes) in enumerate(charges):
        begin = days + number * 0.1
        reported = done(start_load(event_context=scene.by("printer", begin), step_id=step.pk, quantity=pieces))
        load = Load.objects.get(uid=reported.event.uid)
        done(end_load(event_context=scene.by("printer", begin + minutes / 1440), load_id=load.pk))
    baked = sum(pieces for pieces, minutes in charges if minutes >= 20)
    scene.report("band", 20, days + 0.5, baked)
    scene.report("band", 30, days + 1.0, baked - 20, scrap={"dirty": 8})
    for batch in Batch.objects.filter(parent=scene.batches["band"]):
        scene.batches["short bake"] = batch


def trouble(scene: Scene, days: float) -> None:
    """What else asks for the founder: goods that nobody sent, a step told before the one ahead of it."""
    lot = scene.batches["band"].lot
    assert lot is not None
    bench = scene.sites["bench"]
    event_context = scene.by("bench", days)
    done(arrived_unannounced(event_context=event_context, site_id=bench.pk, lot_id=lot.pk, quantity=60))
    late = factory.make_batch(scene.parts["globe"], wanted=200, destination=bench, name="late")
    scene.batches["late"] = late
    scene.report("late", 10, days, 100)
    scene.report("late", 20, days + 0.1, 130)


def finish(scene: Scene, batch: str, number: int, days: float, lost: int = 0) -> None:
    """A shop says that a step is done."""
    step = scene.step(batch, number)
    site = next(name for name, row in scene.sites.items() if row.pk == step.site_id)
    done(finish_step(event_context=scene.by(site, days), step_id=step.pk, lost=lost))
    scene.batches[batch].refresh_from_db()


def send_and_receive(scene: Scene, batch: str, origin: str, to: str, days: float, pieces: int) -> int:
    """Goods go from one site to another and are all found there."""
    scene.receive(scene.send(batch, origin, to, days, pieces), to, days + 1, pieces)
    return pieces
