"""What open order lines can count on, piece by piece, and what nothing covers: at best, as if all came out good."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from fractions import Fraction

from tests.reckoning.goods import LYING, Known
from tests.reckoning.rows import Place, Row

# The nearer to being shipped, the sooner a line has them.
NEAREST = ("ready", "road", "away", "stopped", "work", "unborn")
WORDS = {
    "short": "missing",
    "unreleased": "not released",
    "stopped": "finished but held or not proved",
    "unborn": "not made yet",
    "work": "being worked on",
    "away": "finished at another shop",
    "road": "on the road",
    "ready": "ready to pack",
    "packed": "packed, not shipped",
}


@dataclass
class Heap:
    """Pieces of a batch's family, or of a lot of no batch, that are equally far; `ahead`: the next step, 0 for none."""

    state: str
    ahead: int
    pieces: int
    routing: int | None = None


@dataclass
class Supply:
    """What there is and will be of one batch with all that was split off it, or of one lot."""

    heaps: list[Heap]
    promised: dict[int, int]
    root: int | None = None

    def take(self, want: int) -> list[Heap]:
        """The nearest first."""
        taken = []
        for heap in sorted(self.heaps, key=lambda one: (NEAREST.index(one.state), -one.ahead)):
            pieces = min(want, heap.pieces)
            if pieces:
                heap.pieces -= pieces
                want -= pieces
                taken.append(Heap(heap.state, heap.ahead, pieces, heap.routing))
        return taken


@dataclass
class Outlook:
    line: Row
    pieces: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    expected: int = 0

    def words(self) -> str:
        return ", ".join(f"{self.pieces[name]:,} {words}" for name, words in WORDS.items() if self.pieces[name])


class Lookout:
    """All open lines at once, users before what they use."""

    def __init__(self, known: Known) -> None:
        self.known, self.rows = known, known.rows
        open_lines = [one for one in self.rows.lines.values() if self.rows.orders[one.order_id].closed_at is None]
        self.lines = sorted(open_lines, key=lambda one: (one.due_on, self.rows.orders[one.order_id].number, one.number))
        self.bills = self._bills()
        # Thousandths of pieces wanted, by part and line; what is missing, and what was given, the same way.
        self.wants: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
        self.short: dict[int, dict[int, int]] = defaultdict(dict)
        self.given: dict[tuple[int, int], list[Heap]] = defaultdict(list)
        self.of: dict[int, Outlook] = {}
        self._look()

    @classmethod
    def at(cls, known: Known) -> Lookout:
        """Reckoned once a moment."""
        if "lookout" not in known.kept:
            known.kept["lookout"] = cls(known)
        found: Lookout = known.kept["lookout"]
        return found

    def _bills(self) -> dict[int, list[Row]]:
        """What the present routing of each part takes, step by step."""
        latest: dict[int, Row] = {}
        for routing in self.rows.routings.values():
            if routing.part_id not in latest or routing.revision > latest[routing.part_id].revision:
                latest[routing.part_id] = routing
        found: dict[int, list[Row]] = {part: [] for part in latest}
        for line in self.rows.bill.values():
            part = self.rows.routings[line.routing_id].part_id
            if latest[part].id == line.routing_id:
                found[part].append(line)
        return found

    def _is_made(self, part: int) -> bool:
        return part in self.bills and any(
            step.kind == "make" for step in self.rows.operations.values() if step.routing_id in self._routings_of(part)
        )

    def _routings_of(self, part: int) -> set[int]:
        return {row.id for row in self.rows.routings.values() if row.part_id == part}

    # --- the look
    def _look(self) -> None:
        for line in self.lines:
            seen = self.of[line.id] = Outlook(line)
            ready = min(int(line.quantity), self.known.released(line))
            packed, shipped = self.known.packed(line), self.known.shipped(line)
            seen.pieces["packed"] = packed - shipped
            seen.pieces["unreleased"] = max(0, int(line.quantity) - max(ready, packed))
            self.wants[line.part_id][line.id] += max(0, ready - packed) * 1000
        for part in self._users_first():
            self._cover(part)
        for line in self.lines:
            self._fill(self.of[line.id])

    def _users_first(self) -> list[int]:
        """Every made part that open lines want at any depth, after all that is made of it."""
        depth: dict[int, int] = {}
        todo = [(line.part_id, 0) for line in self.lines]
        while todo:
            part, level = todo.pop()
            if level > depth.get(part, -1) and self._is_made(part):
                depth[part] = level
                todo += [(bill.component_id, level + 1) for bill in self.bills[part]]
        return sorted(depth, key=lambda part: (depth[part], self.rows.parts[part].number))

    def _cover(self, part: int) -> None:
        """First each line from what was promised to it, then, due first, from what is spare."""
        left = {one.id: -(-self.wants[part][one.id] // 1000) for one in self.lines if self.wants[part].get(one.id)}
        supplies = self._supplies(part)
        for by_promise in (True, False):
            for line in left:
                for supply in supplies:
                    most = min(left[line], supply.promised.get(line, 0)) if by_promise else left[line]
                    for heap in supply.take(most):
                        left[line] -= heap.pieces
                        self.given[part, line].append(heap)
                        self._want_components(part, line, heap.pieces, heap)
        for line, n in left.items():
            if n:
                self.short[part][line] = n
                self._want_components(part, line, n, None)

    def _want_components(self, part: int, line: int, pieces: int, heap: Heap | None) -> None:
        """What has to be made anew wants all of them anew; what is under way, those of the steps ahead."""
        for bill in self.bills[part]:
            anew = heap is None or heap.state == "unborn"
            if bill.step and (anew or (heap is not None and heap.ahead and bill.step >= heap.ahead)):
                self.wants[bill.component_id][line] += pieces * bill.per_thousand

    def _fill(self, seen: Outlook) -> None:
        part, line = seen.line.part_id, seen.line.id
        good = Fraction(self.known.packed(seen.line))
        for heap in self.given[part, line]:
            seen.pieces[heap.state] += heap.pieces
            good += heap.pieces * self._yield(heap)
        seen.pieces["short"] = self.short[part].get(line, 0)
        lacking = [
            -(-self.short[bill.component_id].get(line, 0) * 1000 // bill.per_thousand)
            for bill in self.bills.get(part, [])
            if bill.step
        ]
        good -= min(seen.pieces["unborn"], max(lacking, default=0))
        seen.expected = int(good)

    def _yield(self, heap: Heap) -> Fraction:
        """Of pieces between two steps, what the steps ahead are planned to bring through."""
        share = Fraction(1)
        if heap.state == "work":
            for step in self.rows.operations.values():
                if step.routing_id == heap.routing and step.kind != "prepare" and step.number >= heap.ahead:
                    share *= Fraction(step.yield_ppm, 1_000_000)
        return share

    # --- what there is
    def _supplies(self, part: int) -> list[Supply]:
        found: list[Supply] = []
        families: dict[int, list[Row]] = defaultdict(list)
        for batch in self.rows.batches.values():
            if batch.part_id == part:
                families[self.known.root(batch.id)].append(batch)
        for root, batches in families.items():
            heaps = [heap for batch in batches for heap in self._lying(batch.lot_id, batch.routing_id)]
            if unborn := self.unborn(root):
                heaps.append(Heap("unborn", 0, unborn))
            lots = {batch.lot_id for batch in batches if batch.lot_id}
            promised = self.share_left(root)
            for line, n in self._reserved(lots).items():
                promised[line] = promised.get(line, 0) + n
            found.append(Supply(heaps, promised, root))
        for lot in self.rows.lots.values():
            if lot.part_id == part and self.rows.batch_of(lot.id) is None:
                found.append(Supply(self._lying(lot.id, None), self._reserved({lot.id})))
        return found

    def _lying(self, lot: int | None, routing: int | None) -> list[Heap]:
        found = []
        for place, n in self.rows.lying(*LYING).items():
            if place.lot == lot and place.condition != "packed":
                found.append(Heap(*self._far(place, routing), n, routing))
        return found

    def _far(self, place: Place, routing: int | None) -> tuple[str, int]:
        if place.condition == "on_the_road":
            return ("work", place.step) if place.step else ("road", 0)
        if place.condition != "stock":
            return "work", place.step
        if place.step:
            later = [
                s.number for s in self.rows.operations.values() if s.routing_id == routing and s.number > place.step
            ]
            return "work", min(later)
        if self.known.why_not(place, self.known.purpose(place)):
            return "stopped", 0
        return ("ready" if place.site == self.known.bench.id else "away"), 0

    def unborn(self, root: int) -> int:
        """What a batch was released for and has not brought yet, while it is still being made."""
        batch = self.rows.batches[root]
        steps = self.rows.steps_of(root) if batch.closed_at is None else []
        making = any(self.rows.operations[s.operation_id].kind == "make" and s.state != "done" for s in steps)
        return max(0, int(batch.wanted) - self.brought(root)) if making else 0

    def share_left(self, root: int) -> dict[int, int]:
        """What each line was promised of a batch and has not had yet."""
        left = {s.line_id: int(s.quantity) for s in self.rows.shares.values() if s.batch_id == root}
        lots = {b.lot_id for b in self.rows.batches.values() if b.lot_id and self.known.root(b.id) == root}
        for link in self.rows.links.values():
            if link.parent_id in lots and link.child_id not in lots:
                child = self.rows.batch_of(link.child_id)
                used = int(link.quantity)
                for line in sorted(self.known.lines_of(child.id) if child else ()):
                    taken = min(used, left.get(line, 0))
                    left[line] = left.get(line, 0) - taken
                    used -= taken
        for inside in self.rows.in_cartons.values():
            carton = self.rows.cartons[inside.carton_id]
            if inside.lot_id in lots and carton.opened_event_id is None and carton.line_id in left:
                left[carton.line_id] = max(0, left[carton.line_id] - int(inside.quantity))
        return left

    def _reserved(self, lots: set[int]) -> dict[int, int]:
        found: dict[int, int] = defaultdict(int)
        for kept, left in self.known.reservations.items():
            row = self.rows.reserved[kept]
            if row.lot_id in lots and left:
                found[row.line_id] += left
        return dict(found)

    def fell_short(self, part: int) -> list[tuple[str, int, int]]:
        """Batches that bring less than lines that lack pieces were promised of them: code, that, what was promised."""
        found = []
        for batch in self.rows.batches.values():
            if batch.part_id == part and batch.parent_id is None:
                shares = {s.line_id: int(s.quantity) for s in self.rows.shares.values() if s.batch_id == batch.id}
                brings, promised = self._brings(batch), sum(shares.values())
                if brings < promised and set(shares) & set(self.short[part]):
                    found.append((self.known.code(batch.code), brings, promised))
        return found

    def _brings(self, batch: Row) -> int:
        """All that went on, lies somewhere, or can still be born."""
        return self.brought(batch.id) + self.unborn(batch.id)

    def brought(self, root: int) -> int:
        """Good pieces that went on or lie somewhere; what was split off is counted where it lies now."""
        lots = {b.lot_id for b in self.rows.batches.values() if b.lot_id and self.known.root(b.id) == root}
        went = ("made_into", "sold_to", *LYING)
        made = sum(n for place, n in self.rows.balance.items() if place.lot in lots and place.condition in went)
        split = sum(int(link.quantity) for link in self.rows.links.values() if {link.parent_id, link.child_id} <= lots)
        return made - split
