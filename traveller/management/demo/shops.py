"""What each shop of the demo does with one batch: the moulder, the rubber shop, the printer, the own bench."""

from __future__ import annotations

from datetime import timedelta

from traveller.batches.actions.decide_first_piece import decide_first_piece
from traveller.batches.models import Batch, Load
from traveller.batches.proof.readings import ReadingTold
from traveller.ledger.models import Lot
from traveller.management.demo.ovens import air_log, core_log
from traveller.management.demo.teller import Teller, scans


def dry(t: Teller, globe: Batch, day: int, *, hours: str = "10:22") -> None:
    """Resin into the dryer before the shift, out at `hours`."""
    t.start(globe, 10, t.at(day, "06:05", "moulder"))
    load = t.load_in(globe, 10, t.at(day, "06:10", "moulder"), place="dryer 2")
    out = t.at(day, hours, "moulder")
    readings = [ReadingTold("dry", "temperature", "120", "C", load=load.uid)]
    t.load_out(load, out, readings)
    t.finish(globe, 10, out + timedelta(minutes=4))


def mould(t: Teller, globe: Batch, day: int, resin: Lot, *, share: float = 1.0) -> None:
    """Shots on two cavities, both rims measured, first off approved by the founder, scrap by reason."""
    t.start(globe, 20, t.at(day, "10:40", "moulder"))
    rims = [
        ReadingTold("rim", "rim diameter", value, "in", cavity=cavity)
        for cavity, value in ((1, "3.1262"), (2, "3.1238"))
    ]
    t.read(globe, 20, t.at(day, "11:05", "moulder"), rims)
    approved = t.event_context(t.at(day, "11:20"))
    step = t.step(globe, 20)
    t.done(
        decide_first_piece, event_context=approved, step_id=step.pk, approved=True, reason="Both rims measured, clean"
    )
    pieces = int(globe.start * share)
    bad = {"short": max(1, pieces // 120), "splay": max(1, pieces // 90)}
    t.count(
        globe,
        20,
        t.at(day, "14:30", "moulder"),
        good=pieces - sum(bad.values()),
        scrap=bad,
        shots=-(-pieces // 2) + 4,
        used=scans(resin),
    )
    if share == 1.0:
        t.finish(globe, 20, t.at(day, "14:36", "moulder"))


def cool(t: Teller, globe: Batch, day: int, *, short: dict[int, int] | None = None, most: int = 10_000) -> None:
    """Fixture after fixture, sixteen minutes each; `short` are those that came off too early."""
    t.start(globe, 30, t.at(day, "14:40", "moulder"))
    t.loads(
        globe,
        30,
        t.at(day, "14:42", "moulder"),
        size=24,
        minutes=16,
        every=17,
        short=short,
        scrap={2: ("warped", 1)},
        place="fixture A",
        most=most,
    )


def finish_globes(t: Teller, globe: Batch, day: int, inserts: Lot, *, leaks: int = 3) -> None:
    """Inserts in the morning, water test before noon, the test master found before and after it."""
    t.finish(globe, 30, t.at(day, "06:20", "moulder"))
    t.start(globe, 40, t.at(day, "06:30", "moulder"))
    here = t.waiting(globe, 40)
    t.count(
        globe, 40, t.at(day, "09:10", "moulder"), good=here - 1, scrap={"cracked": 1}, used=scans(inserts), done=True
    )
    t.start(globe, 50, t.at(day, "09:30", "moulder"))
    t.read(globe, 50, t.at(day, "09:32", "moulder"), [ReadingTold("water", "master", "1")])
    here = t.waiting(globe, 50)
    bad = {"leak at gate": leaks, "leak at insert": 1}
    t.read(globe, 50, t.at(day, "11:40", "moulder"), [ReadingTold("water", "master", "1")])
    t.count(globe, 50, t.at(day, "11:45", "moulder"), good=here - leaks - 1, scrap=bad, done=True)


def rubber(t: Teller, batch: Batch, day: int, lots: list[Lot], *, size: int, milled: bool = False) -> None:
    """Mill, extrude, cure: presses of `size`, nine minutes closed, two pieces of the first cut open."""
    if not milled:
        t.start(batch, 10, t.at(day, "07:10", "rubber"))
        t.finish(batch, 10, t.at(day, "09:00", "rubber"))
        t.start(batch, 20, t.at(day, "09:30", "rubber"))
        good = batch.start - 3
        t.count(batch, 20, t.at(day, "12:10", "rubber"), good=good, scrap={"scorched": 3}, used=scans(*lots), done=True)
    t.start(batch, 30, t.at(day + 1, "07:05", "rubber"))
    t.loads(
        batch,
        30,
        t.at(day + 1, "07:10", "rubber"),
        size=size,
        minutes=9,
        every=12,
        scrap={1: ("porous", 1), 4: ("flash", 1), 7: ("torn", 1)},
        samples={1: 2},
        place="press 1",
    )
    if batch.part.number == "FOOT":
        hard = [ReadingTold("hardness", "hardness", value, "Shore A") for value in ("60", "61", "59")]
        t.read(batch, 30, t.at(day + 1, "15:10", "rubber"), hard, beside=True)
    t.finish(batch, 30, t.at(day + 1, "15:20", "rubber"))


def between_colours(t: Teller, band: Batch, day: int, *, short: dict[int, int] | None = None) -> None:
    t.start(band, 20, t.at(day, "11:40", "printer"))
    t.loads(band, 20, t.at(day, "11:45", "printer"), size=60, minutes=26, every=30, short=short, place="box oven")
    t.finish(band, 20, t.at(day, "16:30", "printer"))


def second_colour(t: Teller, band: Batch, day: int, word: str, *, lost: int = 2) -> None:
    t.start(band, 30, t.at(day, "08:20", "printer"))
    t.read(band, 30, t.at(day, "08:25", "printer"), [ReadingTold("artwork", "variant", word)])
    here = t.waiting(band, 30)
    t.count(band, 30, t.at(day, "12:20", "printer"), good=here - lost, scrap={"off register": lost}, done=True)


def mix_ink(t: Teller, band: Batch, day: int, *, mixed: str, room: str) -> None:
    """Ink and hardener are weighed and mixed before the first print: when, and how warm it is where the pot stands."""
    values = [
        ReadingTold("ink", "mixed_at", t.at(day, mixed, "printer").isoformat()),
        ReadingTold("ink", "room", room, "C"),
    ]
    t.read(band, 10, t.at(day, "08:16", "printer"), values, beside=True)


def final_bake(
    t: Teller,
    band: Batch,
    day: int,
    *,
    short: dict[int, int] | None = None,
    lifts: int = 0,
    logged: bool = False,
) -> None:
    """Baked load by load; when they are cold, tape is torn off three bands, from so many of which ink `lifts`.

    Where it is `logged`: the air of the oven all along, and a band of the first, full load inside.
    """
    t.start(band, 40, t.at(day, "12:30", "printer"))
    t.loads(band, 40, t.at(day, "12:35", "printer"), size=60, minutes=36, every=40, short=short, place="box oven")
    if logged:
        loads = list(Load.objects.filter(step=t.step(band, 40)).select_related("step__site").order_by("number"))
        t.send_log(band, 40, t.at(day, "16:20", "printer"), "horno-de-caja.csv", air_log(loads))
        inside = core_log(loads[0], loads)
        t.send_log(band, 40, t.at(day, "16:24", "printer"), "banda-centro.csv", inside, kind="core", load=loads[0])
    taped = [ReadingTold("adhesion", "looked_at", "3"), ReadingTold("adhesion", "bad", str(lifts))]
    t.read(band, 40, t.at(day, "16:40", "printer"), taped, beside=True)
    t.finish(band, 40, t.at(day, "16:50", "printer"))


def assemble(
    t: Teller, lantern: Batch, day: int, lots: list[Lot], *, good: int, scratched: int = 1, done: bool = True
) -> None:
    """Put together; on the first three the ring is tried with a torque screwdriver."""
    t.start(lantern, 10, t.at(day, "08:30"))
    rings = [
        ReadingTold("ring", "band ring", value, "N m", piece=n) for n, value in enumerate(("1.18", "1.22", "1.25"), 1)
    ]
    t.read(lantern, 10, t.at(day, "08:50"), rings, beside=True)
    t.count(
        lantern,
        10,
        t.at(day, "15:10"),
        good=good,
        scrap={"scratched": scratched},
        used=scans(*lots),
        done=done,
    )
