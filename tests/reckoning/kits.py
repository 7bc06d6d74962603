"""Kits: how many of each product can be put together from what lies free at the own bench, and what stops it."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from tests.reckoning import coming
from tests.reckoning.claims import Book, Rule, as_of
from tests.reckoning.figures import Amount, Expected, Words, says
from tests.reckoning.goods import LYING, Known
from tests.reckoning.page import Page, Table
from tests.reckoning.rows import Row

DISTANCES = {
    "Here": "here",
    "One step off": "one",
    "Two or more off": "two",
    "On the road": "road",
    "Held, expired or not proved": "held",
}


@dataclass
class Component:
    part: Row
    per_thousand: int
    # By how far they are from being ready at the bench.
    pieces: dict[str, int] = field(default_factory=lambda: defaultdict(int))

    def reach(self, pieces: int) -> int:
        """Kits from so many pieces."""
        return pieces * 1000 // self.per_thousand

    @property
    def per_kit(self) -> str:
        return (
            f"{Decimal(self.per_thousand) / 1000:f}".rstrip("0").rstrip(".")
            if self.per_thousand % 1000
            else str(self.per_thousand // 1000)
        )


@dataclass
class Product:
    part: Row
    wanted: int
    components: list[Component]
    kits: int = 0
    limiting: list[Component] = field(default_factory=list)

    @property
    def following(self) -> Component | None:
        """What would stop it next, by all that lies here."""
        rest = [one for one in self.components if one not in self.limiting]
        return min(rest, key=lambda one: one.reach(one.pieces["here"]), default=None)


def products(known: Known) -> list[Product]:
    """Products that open orders still want, due first; a piece that several share is given once, in that order."""
    rows = known.rows
    due: dict[int, tuple[object, int]] = {}
    left: dict[int, int] = defaultdict(int)
    for line in sorted(rows.lines.values(), key=lambda one: (one.due_on, one.id)):
        if rows.orders[line.order_id].closed_at is None and known.unpacked(line) > 0:
            due.setdefault(line.part_id, (line.due_on, line.id))
            left[line.part_id] += known.unpacked(line)
    found = []
    given: dict[int, int] = defaultdict(int)
    for part in sorted(due, key=lambda one: due[one]):
        bill = _bill(known, part)
        if not bill:
            continue
        one = Product(rows.parts[part], max(0, left[part] - known.finished_here(part)), bill)
        reach = {id(c): c.reach(c.pieces["here"] - given[c.part.id]) for c in bill}
        one.kits = max(0, min(one.wanted, *reach.values()))
        if one.kits < one.wanted:
            one.limiting = [c for c in bill if reach[id(c)] <= one.kits]
        for c in bill:
            given[c.part.id] += -(-one.kits * c.per_thousand // 1000)
        found.append(one)
    return found


def _bill(known: Known, part: int) -> list[Component]:
    """What the present routing puts into one at the bench; what is added at packing is no part of a kit."""
    routings = [row for row in known.rows.routings.values() if row.part_id == part]
    if not routings:
        return []
    routing = max(routings, key=lambda row: row.revision)
    lines = [line for line in known.rows.bill.values() if line.routing_id == routing.id and line.step]
    found = []
    for line in lines:
        one = Component(known.rows.parts[line.component_id], line.per_thousand)
        _by_distance(known, one)
        found.append(one)
    return found


def _by_distance(known: Known, one: Component) -> None:
    """Here, on the road, or so many steps away; what may not be used counts as neither."""
    for place, n in known.rows.lying(*LYING).items():
        if known.rows.lots[place.lot].part_id != one.part.id or place.condition == "packed":
            continue
        if place.lot in known.held or known.expired(place.lot):
            one.pieces["held"] += n
        elif place.condition == "on_the_road":
            one.pieces["road"] += n
        elif place.condition == "stock" and not place.step:
            stopped = known.why_not(place, "consume")
            at_bench = place.site == known.bench.id
            one.pieces["held" if stopped else "here" if at_bench else "one"] += n
        else:
            one.pieces["one" if known.steps_left(place) <= 1 else "two"] += n


def compare(page: Page, known: Known, book: Book) -> None:
    found = products(known)
    book.sentences(page, "kits", [as_of(known), *_headline(known, found), *sentence_rules(known, found)])
    ready = [one for one in found if one.kits]
    book.tags(
        page.tags,
        "Can be assembled",
        r"(?P<n>\S+) (?P<part>.+?): every part is here and free\.",
        [{"n": one.kits, "part": known.title(one.part)} for one in ready],
    )
    book.table(page.table("Product", "Kits now"), "by product", ["Product"], [_row(known, one, page) for one in found])
    for one in found:
        table = page.table("Component", "Per kit", section=f"Components awaiting assembly, {known.title(one.part)}")
        book.table(table, "components", ["Component"], [_component(known, one, c, table) for c in one.components])


def _headline(known: Known, found: list[Product]) -> list[Rule]:
    wanted = [one for one in found if one.wanted]

    def claims(shown: Mapping[str, str]) -> dict[str, Expected]:
        what = ", ".join(f"{one.kits:,} of {one.wanted:,} {known.title(one.part)}" for one in wanted[:3])
        expected: dict[str, Expected] = {"what": what} if "what" in shown else {}
        first = next((one for one in wanted if one.limiting), None)
        if "which" in shown:
            expected["which"] = known.title(first.part) if first else None
            expected["limits"] = names(known, first.limiting) if first else None
        return expected

    return [
        Rule(r"Can be assembled now: (?P<what>[^.]+)\.", claims),
        Rule(r"(?P<limits>.+?) limits? (?P<which>[^.]+)\.", claims),
    ]


def names(known: Known, some: list[Component]) -> str:
    return ", ".join(known.title(one.part) for one in some)


def named(known: Known, some: list[Component]) -> Words:
    """All of them, or one."""
    return Words("|".join(re.escape(one) for one in [names(known, some), *(known.title(c.part) for c in some)]))


def sentence_rules(known: Known, found: list[Product]) -> list[Rule]:
    """Of one product: so many of so many, and what limits."""
    by_name = {known.title(one.part): one for one in found}

    def claims(shown: Mapping[str, str]) -> dict[str, Expected]:
        one = by_name[shown["part"]]
        return {
            "n": one.kits,
            "wanted": one.wanted,
            "part": known.title(one.part),
            **({"limits": named(known, one.limiting)} if "limits" in shown else {}),
        }

    def limiting(shown: Mapping[str, str]) -> dict[str, Expected]:
        """Said of the product that was just spoken of: one that something limits."""
        some = [one for one in found if says(shown["limits"], named(known, one.limiting)) and one.limiting]
        return {"limits": shown["limits"] if some else "nothing that limits"}

    def following(shown: Mapping[str, str]) -> dict[str, Expected]:
        part = next(c.part.id for one in found for c in one.limiting if known.title(c.part) == shown["part"])
        return {"part": shown["part"], "where": coming.sentence(known, shown["where"], part)}

    whole = r"(?P<n>\S+) of (?P<wanted>\S+) (?P<part>.+?) can be assembled now\.(?: (?P<limits>.+?) limits?\.)?"
    return [
        Rule(whole, claims),
        Rule(r"(?P<limits>.+?) limits?\.", limiting),
        Rule(r"Next (?P<part>[^:]+): (?P<where>.+)\.", following),
    ]


def _row(known: Known, one: Product, page: Page) -> dict[str, Expected]:
    then = one.following
    shown = _shown(page.table("Product", "Kits now"), "Product", known.title(one.part), "Its next pieces")
    return {
        "Its next pieces": coming.cell(known, shown, [c.part.id for c in one.limiting]),
        "Product": known.title(one.part),
        "Still to assemble": one.wanted,
        "Kits now": one.kits,
        "What limits": names(known, one.limiting) if one.limiting else None,
        "What limits next": f"{known.title(then.part)}, at {then.reach(then.pieces['here']):,}" if then else None,
    }


def _shown(table: Table | None, key: str, name: str, column: str) -> str:
    rows = [row for row in table.rows if row[key] == name] if table else []
    return rows[0].get(column, "") if rows else ""


def _component(known: Known, product: Product, one: Component, table: Table | None) -> dict[str, Expected]:
    note = "limits" if one in product.limiting else "next" if one is product.following else None
    return {
        "Component": known.title(one.part),
        "Per kit": one.per_kit,
        **{
            column: Amount(one.pieces[kind], one.part.unit) if one.pieces[kind] else None
            for column, kind in DISTANCES.items()
        },
        "Next pieces": coming.cell(
            known, _shown(table, "Component", known.title(one.part), "Next pieces"), [one.part.id]
        ),
        "Then": note,
    }
