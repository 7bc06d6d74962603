"""What lies where and what it may be used for, from the rows at one moment."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

from tests.reckoning.figures import Words
from tests.reckoning.rows import Place, Row, Rows

LYING = ("in_process", "rework", "stock", "packed", "on_the_road")
# What a check's word of the workbook keeps goods from: the nearer to the customer, the more must be proved.
KEEPS_FROM = {
    "start": {"step"},
    "send": {"step", "sending"},
    "consume": {"step", "sending", "consuming"},
    "pack": {"step", "sending", "consuming", "packing"},
}
USED_FOR_GOOD = ("made_into", "packed", "sold_to")


@dataclass
class Shelf:
    """Finished pieces of one lot at one site: why they may not be used, or what they are kept for."""

    place: Place
    quantity: int
    why_not: str = ""
    reserved: int = 0
    promised: int = 0

    @property
    def kept(self) -> int:
        return self.reserved + self.promised

    @property
    def free(self) -> int:
        return 0 if self.why_not else self.quantity - self.kept


class Known:
    """The rows with the moment and the place from which they are looked at."""

    def __init__(self, rows: Rows, now: datetime) -> None:
        self.rows, self.now = rows, now
        self.bench = min((site for site in rows.sites.values() if site.kind == "own"), key=lambda site: site.id)
        self.zone = ZoneInfo(self.bench.timezone)
        self.today: date = now.astimezone(self.zone).date()
        # What other modules reckoned of this moment, by its name.
        self.kept: dict[str, Any] = {}
        self._proved: dict[tuple[int, str, int | None], bool] = {}

    # --- parts and names
    def title(self, part: Row) -> str:
        return f"{part.name}, {part.variant}" if part.variant else str(part.name)

    def title_of(self, lot: int) -> str:
        return self.title(self.rows.part_of(lot))

    def code(self, code: str) -> str:
        return f"{code[:3]}-{code[3:6]}-{code[6:]}"

    # --- may it be used?
    @cached_property
    def held(self) -> set[int]:
        return {hold.lot_id for hold in self.rows.holds.values() if hold.closed_at is None}

    def expired(self, lot: int) -> bool:
        until = self.rows.lots[lot].expires_on
        return until is not None and until < self.today

    def why_not(self, place: Place, purpose: str) -> str:
        """Empty where pieces may be used; the first reason where they may not."""
        if place.lot in self.held:
            return "held"
        if self.expired(place.lot):
            return "expired"
        until = place.step + 1 if place.condition == "stock" and place.step else None
        batch = self.rows.batch_of(place.lot)
        if batch and not self.proved(batch.id, purpose, until):
            return "unproved"
        for link in self._made_of(place.lot):
            parent, child = self.rows.lots[link.parent_id], self.rows.lots[link.child_id]
            used = self.rows.batch_of(parent.id)
            same_goods = parent.part_id == child.part_id or child.origin == "regrade"
            if used and not same_goods and not self.proved(used.id, purpose, None):
                return "unproved"
        return ""

    def _made_of(self, lot: int) -> list[Row]:
        """Every link above a lot, however far."""
        found: dict[int, Row] = {}
        todo = [lot]
        while todo:
            child = todo.pop()
            for link in self._links_to.get(child, []):
                if link.id not in found:
                    found[link.id] = link
                    todo.append(link.parent_id)
        return list(found.values())

    @cached_property
    def _links_to(self) -> dict[int, list[Row]]:
        found: dict[int, list[Row]] = defaultdict(list)
        for link in self.rows.links.values():
            found[link.child_id].append(link)
        return found

    def proved(self, batch: int, purpose: str, until: int | None) -> bool:
        key = (batch, purpose, until)
        if key not in self._proved:
            self._proved[key] = all(self._passed(batch, *check) for check in self._gates(batch, purpose, until))
        return self._proved[key]

    def _gates(self, batch: int, purpose: str, until: int | None) -> Iterable[tuple[int, str]]:
        routing = self.rows.batches[batch].routing_id
        for check in self.rows.checks.values():
            step = self.rows.operations[check.operation_id]
            before = until is None or step.number < until
            if step.routing_id == routing and before and check.blocks in KEEPS_FROM[purpose]:
                yield step.number, check.key

    def _passed(self, batch: int | None, number: int, key: str) -> bool:
        """At the batch itself, or where it came from if that did the step."""
        while batch is not None:
            step = next((one for one in self.rows.steps_of(batch) if one.number == number), None)
            if step is not None:
                found = self._verdicts.get((step.id, key))
                return found is not None and (found.outcome == "passed" or found.conceded_event_id is not None)
            batch = self.rows.batches[batch].parent_id
        return False

    @cached_property
    def _verdicts(self) -> dict[tuple[int, str], Row]:
        latest = (one for one in self.rows.verdicts.values() if one.latest and one.load_id is None)
        return {(one.step_id, one.check_key): one for one in latest}

    def purpose(self, place: Place) -> str:
        """What finished goods wait for where they lie."""
        batch = self.rows.batch_of(place.lot)
        if batch and (place.step or place.site != batch.destination_id):
            return "send"
        part = self.rows.lots[place.lot].part_id
        steps = {line.step for line in self.rows.bill.values() if line.component_id == part}
        return "consume" if steps and 0 not in steps else "pack"

    # --- finished goods on shelves
    @cached_property
    def shelves(self) -> dict[Place, Shelf]:
        """All that is finished, with what is kept of it for order lines: first what was reserved, then the shares."""
        found = {
            place: Shelf(place, n, self.why_not(place, self.purpose(place)))
            for place, n in self.rows.lying("stock").items()
            if not place.step
        }
        self._reserve(found)
        self._promise(found)
        return found

    def _reserve(self, shelves: dict[Place, Shelf]) -> None:
        for kept, left in self.reservations.items():
            row = self.rows.reserved[kept]
            of_lot = [one for one in shelves.values() if one.place.lot == row.lot_id and not one.why_not]
            # Where it was reserved, and where goods went since: material is sent to the shop that it is kept for.
            for shelf in sorted(of_lot, key=lambda one: one.place.site != row.site_id):
                taken = min(left, shelf.quantity - shelf.reserved)
                shelf.reserved += taken
                left -= taken

    @cached_property
    def reservations(self) -> dict[int, int]:
        """What is still kept of each reservation: neither packed, nor used by the batches of its line since."""
        used: dict[int, int] = defaultdict(int)
        for link in self.rows.links.values():
            child = self.rows.batch_of(link.child_id)
            lines = self.lines_of(child.id) if child else set()
            rest = link.quantity
            for row in self.rows.reserved.values():
                if row.lot_id == link.parent_id and row.line_id in lines and link.event_id > row.event_id:
                    taken = min(rest, row.quantity - row.packed - used[row.id])
                    used[row.id] += taken
                    rest -= taken
        return {
            row.id: max(0, min(row.left, row.quantity - row.packed - used[row.id]))
            for row in self.rows.reserved.values()
        }

    def lines_of(self, batch: int) -> set[int]:
        """The order lines that a batch, or the one that it was split off, has a share for."""
        root = self.root(batch)
        return {share.line_id for share in self.rows.shares.values() if share.batch_id in (batch, root)}

    def root(self, batch: int) -> int:
        while self.rows.batches[batch].parent_id is not None:
            batch = self.rows.batches[batch].parent_id
        return batch

    def _promise(self, shelves: dict[Place, Shelf]) -> None:
        """A batch was released for order lines: its good pieces are theirs, as far as the share is not used yet."""
        by_root: dict[int, list[Shelf]] = defaultdict(list)
        for shelf in shelves.values():
            batch = self.rows.batch_of(shelf.place.lot)
            if batch:
                by_root[self.root(batch.id)].append(shelf)
        for root, some in by_root.items():
            left = self.share_left(root)
            for shelf in some:
                if not shelf.why_not:
                    shelf.promised = min(left, shelf.quantity - shelf.reserved)
                    left -= shelf.promised

    def share_left(self, root: int) -> int:
        """What the shares in a batch still ask of it: what was used otherwise than from reservations is served."""
        share = sum(int(one.quantity) for one in self.rows.shares.values() if one.batch_id == root)
        lots = {one.lot_id for one in self.rows.batches.values() if one.lot_id and self.root(one.id) == root}
        gone = [place for place in self.rows.balance if place.lot in lots and place.condition in USED_FOR_GOOD]
        used = sum(self.rows.balance[place] for place in gone)
        # What was split off is under way for the same lines as before.
        used -= sum(
            int(link.quantity)
            for link in self.rows.links.values()
            if link.parent_id in lots and link.child_id in lots and self.rows.lots[link.child_id].origin == "split"
        )
        kept = {row.id for row in self.rows.reserved.values() if row.lot_id in lots}
        by_others = sum(int(self.rows.reserved[one].quantity) - self.reservations[one] for one in kept)
        return max(0, share - used + by_others)

    def since(self, place: Place) -> datetime:
        """When pieces came there that have not all gone since."""
        lie, began = 0, self.now
        for move in self.rows.moves[place]:
            if lie <= 0 < lie + move.quantity:
                began = move.happened_at
            lie += move.quantity
        return began

    def verb(self, place: Place) -> str:
        """What is done at the step that pieces wait for, or have been through."""
        batch = self.rows.batch_of(place.lot)
        steps = [one for one in self.rows.operations.values() if batch and one.routing_id == batch.routing_id]
        return next((str(one.verb) for one in steps if one.number == place.step), "")

    # --- what orders still want
    def unpacked(self, line: Row) -> int:
        """What of a line is in no carton yet."""
        return int(line.quantity) - self.packed(line)

    def packed(self, line: Row) -> int:
        return sum(
            int(carton.quantity)
            for carton in self.rows.cartons.values()
            if carton.line_id == line.id and carton.opened_event_id is None
        )

    def shipped(self, line: Row) -> int:
        return sum(
            int(carton.quantity)
            for carton in self.rows.cartons.values()
            if carton.line_id == line.id and carton.shipment_id is not None
        )

    def released(self, line: Row) -> int:
        """What batches were made for it, or stock of the product reserved."""
        made = [
            int(share.quantity)
            for share in self.rows.shares.values()
            if share.line_id == line.id and self.rows.batches[share.batch_id].part_id == line.part_id
        ]
        kept = [
            int(row.quantity)
            for row in self.rows.reserved.values()
            if row.line_id == line.id and self.rows.lots[row.lot_id].part_id == line.part_id
        ]
        return sum(made) + sum(kept)

    def finished_here(self, part: int) -> int:
        """Finished pieces at the own bench that are in no carton."""
        return sum(
            n
            for place, n in self.rows.lying("stock").items()
            if place.site == self.bench.id and not place.step and self.rows.lots[place.lot].part_id == part
        )

    def steps_left(self, place: Place) -> int:
        """Steps that pieces between two steps still have before them."""
        batch = self.rows.batch_of(place.lot)
        if batch is None:
            return 0
        numbers = [step.number for step in self.rows.operations.values() if step.routing_id == batch.routing_id]
        first = place.step if place.condition != "stock" else place.step + 1
        return sum(number >= first for number in numbers)

    def why_held(self, hold: Row) -> Words:
        """The figures of a window of time that was too short: from the load's own clock and the check's own limit."""
        asked, _, rest = hold.cause.partition(":")
        number, _, key = rest.partition(":")
        found = self._failed(hold.lot_id, int(number), key) if asked == "check" else None
        names = ("bad", "looked_at", "lot", "reject")
        if found is None and set(names) <= set(hold.figures):
            # A sample's figures are the reader's own, kept with the hold.
            form = r".+: (?P<bad>\d+) bad in (?P<looked_at>\d+) of (?P<lot>\d+); (?P<reject>\d+) reject the lot\."
            return Words(form, tuple((name, int(hold.figures[name])) for name in names))
        if found is None:
            return Words(r"\D*")
        load, least = found
        minutes = int((load.ended_at - load.started_at).total_seconds() // 60)
        form = r"Load (?P<load>\d+): (?P<minutes>\d+) min, at least (?P<least>\d+) min needed\."
        return Words(form, (("load", load.number), ("minutes", minutes), ("least", least)))

    def _failed(self, lot: int, number: int, key: str) -> tuple[Row, int] | None:
        """The first load of a lot, or of the batch that it was split off, that was shorter than its check asks."""
        batch = self.rows.batch_of(lot)
        while batch is not None:
            step = next((one for one in self.rows.steps_of(batch.id) if one.number == number), None)
            if step is not None:
                asked = (step.operation_id, key)
                check = next(one for one in self.rows.checks.values() if (one.operation_id, one.key) == asked)
                least = int(check.parameters.get("least", 0))
                for load in self.rows.loads.values():
                    lasted = (load.ended_at - load.started_at).total_seconds() if load.ended_at else least * 60
                    if load.step_id == step.id and lasted < least * 60:
                        return load, least
            batch = self.rows.batches.get(batch.parent_id) if batch.parent_id else None
        return None
