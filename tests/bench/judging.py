"""Kits, the packer's shelves and the packer's list among 2,000 batches and 50,000 lots, against the bare sums in SQL.

The floor sums the same pieces by the same keys in one statement, with what is held or too old apart, and judges no
check: what is beyond it is what the one judge of permission costs.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import date
from statistics import median

from django.db import connection
from django.db.models import Model, QuerySet
from django.test.utils import CaptureQueriesContext

from tests import factory
from tests.bench.figures import Figure, Size
from tests.bench.filling import copy, rows_of
from tests.bench.recording import NAMES
from tests.factory import Op
from tests.globe import BORE, ok
from tests.orders.lamps import Lamps, make_lamps
from traveller.batches.actions.measure import measure as measure_pieces
from traveller.batches.actions.report import report
from traveller.batches.models import Batch
from traveller.batches.proof.readings import ReadingTold
from traveller.batches.steps.consume import Used
from traveller.journal.models import Event, EventSubject, Subject
from traveller.ledger.models import Account, Link, Lot, Posting
from traveller.orders.kits import kits_now
from traveller.products.models import Part
from traveller.shipping.queries import lines_to_pack, shelves

PAIRS: dict[Size, tuple[int, int]] = {"tiny": (10, 20), "quick": (10, 1_000), "full": (10, 1_000)}
# Of each of two bought parts: one that is assembled, one that is packed.
LOTS: dict[Size, tuple[int, int]] = {"tiny": (20, 60), "quick": (20, 24_000), "full": (20, 24_000)}
LOOKS: dict[Size, int] = {"tiny": 3, "quick": 9, "full": 21}
ON = factory.MONDAY.date()
MOST = 3.0
_SUMS = """
SELECT {by}, SUM(a.balance), SUM(CASE WHEN EXISTS (SELECT 1 FROM ledger_hold h WHERE h.lot_id = a.lot_id
    AND h.closed_at IS NULL) OR l.expires_on < %s THEN a.balance ELSE 0 END)
FROM ledger_account a JOIN ledger_lot l ON l.id = a.lot_id
WHERE l.part_id IN ({parts}) AND a.balance > 0 {where} GROUP BY {by}
"""
Look = Callable[[], object]


def measure(size: Size) -> list[Figure]:
    lamps, pair, bought = _played()
    site = lamps.bench
    kit_parts = [lamps.lamp.pk, lamps.leaflet.pk]
    looks: dict[str, tuple[Look, Look]] = {
        "kits": (
            lambda: kits_now(on=ON),
            _sums([lamps.lamp, lamps.globe, lamps.puck], "l.part_id, a.site_id, a.condition, a.step"),
        ),
        "packer's list": (
            lambda: lines_to_pack(site, on=ON),
            _sums([lamps.lamp, lamps.leaflet], "l.part_id", f"AND a.site_id = {site.pk} AND a.condition = 'stock'"),
        ),
        "packer's shelves": (
            lambda: shelves(kit_parts, site, on=ON),
            _sums([lamps.lamp, lamps.leaflet], "a.lot_id, l.code", f"AND a.site_id = {site.pk}"),
        ),
    }
    few = _fill(pair, bought, (1, PAIRS[size][0]), (1, LOTS[size][0]), looks)
    many = _fill(pair, bought, (PAIRS[size][0] + 1, PAIRS[size][1]), (LOTS[size][0] + 1, LOTS[size][1]), looks)
    notes = f"{Batch.objects.count():,} batches, {Lot.objects.count():,} lots"
    figures: list[Figure] = []
    for name, (look, floor) in looks.items():
        title = f"{name}, {NAMES[connection.vendor]}"
        ours, bare = _seconds(look, floor, LOOKS[size])
        figures += [
            Figure(f"{title}: queries more for many lots", many[name] - few[name], "at most", 0, notes=notes),
            Figure(
                f"{title}: time against the bare sums",
                ours / bare,
                "at most",
                MOST,
                "x",
                f"{ours * 1000:.0f} ms, {bare * 1000:.0f} ms bare; {many[name]} queries",
            ),
        ]
    return figures


def _fill(
    pair: dict[type[Model], list[int]],
    bought: dict[type[Model], list[int]],
    pairs: tuple[int, int],
    lots: tuple[int, int],
    looks: dict[str, tuple[Look, Look]],
) -> dict[str, int]:
    """More of each, and the queries that each look then asks."""
    copy(pair, *pairs)
    copy(bought, *lots)
    counts = {}
    for name, (look, _) in looks.items():
        look()
        with CaptureQueriesContext(connection) as asked:
            look()
        counts[name] = len(asked)
    return counts


def _played() -> tuple[Lamps, dict[type[Model], list[int]], dict[type[Model], list[int]]]:
    """A globe and the lamp that was made of it, both measured, and a lot of leaflets: with the keys of their rows."""
    lamps = make_lamps(checks=(BORE,))
    lamps.line(5_000)
    factory.make_routing(lamps.globe, [Op(10, lamps.bench, "mould", "make", checks=(BORE,))], revision=2)
    before = _latest()
    factory.make_stock(lamps.leaflet, lamps.bench, 5)
    factory.make_stock(lamps.puck, lamps.bench, 5)
    bought = _rows_of_stock(before)
    factory.make_stock(lamps.puck, lamps.bench, 100_000, name="many")
    before = _latest()
    globe = _made(lamps.globe, 8, "globe", ())
    lamp = _made(lamps.lamp, 5, "lamp", (Used(globe.lot_id or 0, 5),))
    pair: dict[type[Model], list[int]] = {}
    for batch in (globe, lamp):
        for model, keys in rows_of(batch, since=before).items():
            pair[model] = sorted({*pair.get(model, ()), *keys})
    links = Link.objects.filter(child__in=(globe.lot_id, lamp.lot_id)).values_list("pk", flat=True)
    return lamps, {**pair, Link: sorted(links)}, bought


def _made(part: Part, pieces: int, name: str, used: tuple[Used, ...]) -> Batch:
    batch = factory.make_batch(part, wanted=pieces, name=name)
    step = batch.steps.get()
    ok(report(event_context=factory.event_context(name), step_id=step.pk, good=pieces, used=used))
    told = [ReadingTold("bore", "bore", "2.001", "in")]
    ok(measure_pieces(event_context=factory.event_context(f"{name} measured"), step_id=step.pk, readings=told))
    batch.refresh_from_db()
    return batch


def _rows_of_stock(since: int) -> dict[type[Model], list[int]]:
    """Keys of the lots that were opened since."""
    lots = Lot.objects.filter(born_event__gt=since)
    found: dict[type[Model], QuerySet[Model]] = {
        Subject: Subject.objects.filter(lot__in=lots),
        Event: Event.objects.filter(pk__gt=since),
        EventSubject: EventSubject.objects.filter(event__gt=since),
        Lot: lots,
        Account: Account.objects.filter(lot__in=lots),
        Posting: Posting.objects.filter(event__gt=since),
    }
    return {model: sorted(rows.order_by().values_list("pk", flat=True)) for model, rows in found.items()}


def _latest() -> int:
    return Event.objects.order_by("-pk").values_list("pk", flat=True).first() or 0


def _sums(parts: list[Part], by: str, where: str = "") -> Look:
    """The floor: one statement, whatever it brings read whole."""
    sql = _SUMS.format(by=by, parts=", ".join(str(part.pk) for part in parts), where=where)
    on: date | str = ON if connection.vendor == "postgresql" else str(ON)

    def look() -> object:
        with connection.cursor() as cursor:
            cursor.execute(sql, [on])
            return cursor.fetchall()

    return look


def _seconds(look: Look, floor: Look, looks: int) -> tuple[float, float]:
    """Medians of both, taken in turns."""
    taken: tuple[list[float], list[float]] = ([], [])
    for _ in range(looks):
        for one, times in zip((look, floor), taken, strict=True):
            began = time.perf_counter()
            one()
            times.append(time.perf_counter() - began)
    return median(taken[0]), median(taken[1])
