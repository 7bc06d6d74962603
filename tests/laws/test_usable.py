"""What the packer's page shows can be packed, and not one piece more; whatever is wrong with a lot.

Every example is a bench of its own. What is right is worked out from how the lots were made, never from `usable`: an
independent reckoning that a fault in the judge cannot follow.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from unittest.mock import patch

import pytest
from django.db.models import Q
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from sites.models import Site
from tests import factory
from tests.factory import CheckRow, Op
from tests.laws.acts import fresh
from traveller.batches.actions.hold import hold_lot
from traveller.batches.actions.measure import measure
from traveller.batches.actions.report import report
from traveller.batches.models import Batch
from traveller.batches.proof import stops
from traveller.batches.proof.readings import ReadingTold
from traveller.batches.steps.consume import Used
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Lot
from traveller.orders.models import OrderLine
from traveller.products.models import Part
from traveller.shipping.actions.pack import pack
from traveller.shipping.models import Carton, CartonLot
from traveller.shipping.queries import lines_to_pack, shelves

pytestmark = pytest.mark.django_db

ON = factory.MONDAY.date()
BORE = CheckRow(
    "bore", "dimension", {"nominal": "10", "tolerance": "0.1", "unit": "mm", "pieces": "1"}, "lot", "packing"
)
SOUND = ("sound", "tonight")
FAULTS = ("held", "unproved", "inside", "expired", "unfinished")
# Two lamps that share a leaflet: (which lamp, what is wrong with the lot, pieces).
LAMPS = st.lists(
    st.tuples(st.sampled_from(["RED", "BLUE"]), st.sampled_from([*SOUND, *FAULTS]), st.integers(1, 9)),
    min_size=1,
    max_size=4,
)
LEAFLETS = st.lists(
    st.tuples(st.sampled_from(["sound", "tonight", "held", "expired"]), st.integers(1, 12)), min_size=1, max_size=3
)


@dataclass
class _Bench:
    """A bench with lots of which the test knows what is wrong."""

    site: Site
    lines: list[OrderLine]
    tags: dict[int, str] = field(default_factory=dict)
    pieces: dict[int, int] = field(default_factory=dict)
    parts: dict[int, int] = field(default_factory=dict)

    def put(self, lot: Lot, tag: str, pieces: int) -> None:
        self.tags[lot.pk], self.pieces[lot.pk], self.parts[lot.pk] = tag, pieces, lot.part_id

    def sound(self, part: Part) -> int:
        return sum(self.pieces[pk] for pk, tag in self.tags.items() if self.parts[pk] == part.pk and tag in SOUND)


def _measured(batch: Batch, n: str) -> None:
    told = [ReadingTold("bore", "dimension", "10.02", "mm")]
    answer = measure(event_context=factory.event_context(f"m{n}"), step_id=batch.steps.get(number=10).pk, readings=told)
    assert not isinstance(answer, Refusal), answer


def _made(part: Part, pieces: int, name: str, *, used: Lot | None = None, measured: bool = True) -> Lot:
    """A batch of which so many were made at its first step."""
    batch = factory.make_batch(part, wanted=pieces, name=name)
    told = [Used(used.pk, pieces)] if used else []
    step = batch.steps.get(number=10)
    answer = report(event_context=factory.event_context(f"r{name}"), step_id=step.pk, good=pieces, used=told)
    assert not isinstance(answer, Refusal), answer
    if measured:
        _measured(batch, name)
    batch.refresh_from_db()
    assert batch.lot is not None
    return batch.lot


def _bench(lamps: list[tuple[str, str, int]], leaflets: list[tuple[str, int]]) -> _Bench:
    site = factory.make_bench()
    leaflet = factory.make_part("LEAFLET", "bought")
    globe = factory.make_part("GLOBE")
    factory.make_routing(globe, [Op(10, site, "mould", "make", checks=(BORE,))])
    parts = {}
    for name in ("RED", "BLUE"):
        parts[name] = factory.make_part(name)
        ops = [Op(10, site, "assemble", "make", checks=(BORE,)), Op(20, site, "wipe")]
        factory.make_routing(parts[name], ops)
        factory.make_bill(parts[name], globe, step=10)
        factory.make_bill(parts[name], leaflet, step=0)
    order = factory.make_order()
    # More than can ever lie here: only pieces run short, never the order.
    lines = [factory.make_line(order, parts[name], 200, number=n) for n, name in enumerate(("RED", "BLUE"), 1)]
    bench = _Bench(site, lines)
    for n, (name, tag, pieces) in enumerate(lamps):
        inside = _made(globe, pieces, f"globe {n}", measured=tag != "inside")
        lot = _made(parts[name], pieces, f"lamp {n}", used=inside, measured=tag != "unproved")
        if tag != "unfinished":
            wiped = Batch.objects.get(lot=lot).steps.get(number=20).pk
            answer = report(event_context=factory.event_context(f"w{n}"), step_id=wiped, good=pieces)
            assert not isinstance(answer, Refusal), answer
        _spoil(lot, tag, f"lamp {n}")
        bench.put(lot, tag, pieces)
    for n, (tag, pieces) in enumerate(leaflets):
        lot = factory.make_stock(leaflet, site, pieces, name=str(n))
        _spoil(lot, tag, f"leaflet {n}")
        bench.put(lot, tag, pieces)
    return bench


def _spoil(lot: Lot, tag: str, name: str) -> None:
    if tag == "held":
        hold_lot(event_context=factory.event_context(f"h{name}"), lot_id=lot.pk, reason="scratched")
    if tag in ("tonight", "expired"):
        day = ON if tag == "tonight" else ON - timedelta(days=1)
        Lot.objects.filter(pk=lot.pk).update(expires_on=day)


def _expected(bench: _Bench) -> list[int]:
    """Kits of each line in the page's order: sound lamps, each with a sound leaflet, none counted twice."""
    leaflet = Part.objects.get(number="LEAFLET")
    left = bench.sound(leaflet)
    found = []
    for line in bench.lines:
        found.append(min(bench.sound(line.part), left))
        left -= found[-1]
    return found


def _takes(bench: _Bench, part: Part, quantity: int, lots: Mapping[int, int]) -> list[tuple[int, int]]:
    """So many of a part out of these lots, in their order."""
    found = []
    for lot_id, there in lots.items():
        take = min(quantity, there) if bench.parts[lot_id] == part.pk else 0
        if take:
            found.append((lot_id, take))
            quantity -= take
    return found


def _pack(bench: _Bench, line: OrderLine, quantity: int, lots: list[tuple[int, int]], n: str) -> Carton | Refusal:
    event_context = factory.event_context(n, at=factory.MONDAY + timedelta(hours=2))
    return pack(
        event_context=event_context,
        line_id=line.pk,
        site_id=bench.site.pk,
        quantity=quantity,
        lots=lots,
        packer="Tomas",
    )


def shown_is_what_can_be_packed(lamps: list[tuple[str, str, int]], leaflets: list[tuple[str, int]]) -> None:
    """The law. Raises AssertionError where page, scan and the test's own reckoning differ."""
    bench = _bench(lamps, leaflets)
    leaflet = Part.objects.get(number="LEAFLET")
    rows = lines_to_pack(bench.site, on=ON)
    assert [row.now for row in rows] == _expected(bench)
    parts = [*(line.part_id for line in bench.lines), leaflet.pk]
    here = shelves(parts, bench.site, on=ON)
    assert {shelf.lot_id for shelf in here if not shelf.why} == {pk for pk, tag in bench.tags.items() if tag in SOUND}
    left = {shelf.lot_id: shelf.balance for shelf in here if not shelf.why}
    for row in rows:
        if row.now:
            lots = [*_takes(bench, row.line.part, row.now, left), *_takes(bench, leaflet, row.now, left)]
            assert isinstance(_pack(bench, row.line, row.now, lots, f"p{row.line.pk}"), Carton)
            for lot_id, take in lots:
                left[lot_id] -= take
    packed = set(CartonLot.objects.values_list("lot_id", flat=True))
    assert {bench.tags[pk] for pk in packed} <= set(SOUND), "a bad lot went into a carton"
    for row in rows:
        _one_more_lacks_pieces(bench, row.line, leaflet, left)


def _one_more_lacks_pieces(bench: _Bench, line: OrderLine, leaflet: Part, left: dict[int, int]) -> None:
    """One more kit, of sound pieces first, then of any that lie here: there is a piece too few, or a lot that stops."""
    line.refresh_from_db()
    for pool in (left, {**left, **{pk: bench.pieces[pk] for pk, tag in bench.tags.items() if tag in FAULTS}}):
        lots = [*_takes(bench, line.part, 1, pool), *_takes(bench, leaflet, 1, pool)]
        answer = _pack(bench, line, 1, lots, f"more {line.pk} {len(pool)}")
        assert isinstance(answer, Refusal), "a piece more than was shown could be packed"
        lack = ("kit_short", "held", "not_proved", "component_not_proved", "expired", "not_here", "not_enough_here")
        packed = ("in_carton", "in_several_cartons")
        assert answer.code in (*lack, *packed), answer


def check(examples: int) -> Callable[[], None]:
    """The law over drawn benches."""

    @settings(
        max_examples=examples,
        suppress_health_check=list(HealthCheck),
        phases=(Phase.generate,),
        report_multiple_bugs=False,
        database=None,
    )
    @seed(20261130)
    @given(LAMPS, LEAFLETS)
    def law(lamps: list[tuple[str, str, int]], leaflets: list[tuple[str, int]]) -> None:
        with fresh():
            shown_is_what_can_be_packed(lamps, leaflets)

    return law


def test_what_is_shown_can_be_packed_and_no_piece_more() -> None:
    check(12)()


@pytest.mark.long
def test_what_is_shown_can_be_packed_over_many_benches() -> None:
    check(150)()


@contextmanager
def _without(source: str) -> Iterator[None]:
    """The judge forgets one of its sources."""
    if source == "condition":
        # It takes pieces for finished that are still worked at.
        with patch.dict(stops.TAKEN_FROM, {"pack": Q(condition__in=("stock", "in_process"))}):
            yield
        return
    with patch.dict(stops.STOP_SOURCES):
        del stops.STOP_SOURCES[source]
        yield


@pytest.mark.parametrize("source", ["holds", "own checks", "components", "expiry", "condition"])
def test_each_source_that_is_forgotten_breaks_the_law_and_the_bench_that_shows_it_is_named(
    source: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with _without(source), pytest.raises(AssertionError) as caught:
        check(60)()
    example = "\n".join(getattr(caught.value, "__notes__", []))
    assert "law(" in example and "lamps=" in example, example
    with capsys.disabled():
        print(f"\nwithout {source}: {' '.join(example.split())[:200]}")
    shown = {"holds": "held", "own checks": "unproved", "components": "inside", "expiry": "expired"}
    assert shown.get(source, "unfinished") in example


def test_the_sources_that_are_put_out_are_all_there_are() -> None:
    assert set(stops.STOP_SOURCES) == {"holds", "own checks", "components", "expiry", "condition"}


def test_a_reckoning_of_its_own_counts_a_shared_leaflet_once() -> None:
    bench = _bench([("RED", "sound", 3), ("BLUE", "tonight", 4)], [("sound", 5)])
    counts: dict[str, int] = defaultdict(int)
    for pk, tag in bench.tags.items():
        counts[tag] += bench.pieces[pk]
    assert counts == {"sound": 8, "tonight": 4}
    assert _expected(bench) == [3, 2]
