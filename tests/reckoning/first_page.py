"""The first page: its sentence, who was heard when, the tags, the most urgent order, the kits, every batch."""

from __future__ import annotations

import json
import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime

from tests.reckoning import batches, kits, orders, standing, stays
from tests.reckoning.claims import Book, Rule, as_of
from tests.reckoning.figures import Day, Expected, Lapse, Words, tokens
from tests.reckoning.goods import LYING, Known
from tests.reckoning.page import Page
from tests.reckoning.rows import Row
from tests.reckoning.visits import Visits

MORE = re.compile(r"(\d+) more of this kind\.")
NO_SAMPLE = "no sample was looked at"
READY = ("Can be assembled", "Can be packed")
COMPONENTS = {"Here": "here", "One step off": "one", "Two or more off": "two", "On the road": "road", "Held": "held"}
EACH_MOST = 4
# What is said of production, whoever says it; the rest is done at the founder's desk.
REPORTS = {
    "counted", "load started", "load ended", "measured", "step started", "step done", "sent", "received", "packed",
    "shipped", "undone",
}  # fmt: skip


def compare(page: Page, known: Known, book: Book) -> None:
    found = kits.products(known)
    own = [as_of(known), *_headline(page, known), *_heard(known), *_headings(known)]
    book.sentences(page, "first page", [*own, *kits.sentence_rules(known, found)])
    _tags(page, known, book, found)
    first = next(iter(orders.opened(known)), None)
    if first:
        mine = orders.batches_of(known, first)
        stays.compare(page.table(*stays.COLUMNS), known, book, mine)
    _components(page, known, book, found)
    batches.compare(page.table(*batches.COLUMNS), known, book, batches.under_way(known))


def _headline(page: Page, known: Known) -> Iterable[Rule]:
    """How many orders, which is late or due next, how its line stands, how many things need the founder."""
    opened, late = orders.opened(known), orders.late(known)
    first = next(iter(late or opened), None)
    line = orders.due(known, first.id) if first else None
    asks = sum(
        int(found[1]) if (found := MORE.fullmatch(tag.text)) else 1 for tag in page.tags if tag.word not in READY
    )
    figures: dict[str, Expected] = {
        "n": len(opened),
        "order": first.number if first else None,
        "day": Day(line.due_on, known.today) if line else None,
    }
    start = r"(?P<n>\w+) orders? (?:is|are) open"
    if not late:
        yield Rule(rf"{start}, none late; (?P<order>\S+) is due next, (?P<day>.+)\.", _just(figures))
    elif len(late) == 1:
        yield Rule(rf"{start}; (?P<order>\S+) is late \(due (?P<day>.+)\)\.", _just(figures))
    else:
        form = rf"{start}, (?P<late>\w+) of them late; (?P<order>\S+) was due (?P<day>.+)\."
        yield Rule(form, _just({**figures, "late": len(late)}))
    yield Rule(r"(?:(?P<asks>\w+) things? needs? you|Nothing needs a decision)\.", _just({"asks": asks or None}))
    if first:
        yield from standing.rules(known, standing.owed(known, first)[:1])


def _heard(known: Known) -> Iterable[Rule]:
    """What people of the shop reported, or by phone through the founder; only where goods lie."""
    lying = {place.site for place in known.rows.lying(*LYING)}
    for site in known.rows.sites.values():
        if site.id in lying and site.kind != "supplier":
            heard = [event.recorded_at for event in known.rows.events.values() if _is_report(event, site)]
            lapse = Lapse(known.now - max(heard)) if heard else None
            yield Rule(rf"{site.name}: (?:heard (?P<lapse>.+) ago|not heard from yet)", _just({"lapse": lapse}))


def _is_report(event: Row, site: Row) -> bool:
    """At her own bench the founder is one of its people; what only follows from news is none."""
    if event.site_id != site.id or event.kind == "judged":
        return False
    if event.actor_kind in ("operator", "packer"):
        return True
    return event.kind in REPORTS and (bool(event.on_behalf) or site.kind == "own")


def _just(expected: Mapping[str, Expected]) -> Callable[[Mapping[str, str]], Mapping[str, Expected]]:
    return lambda _shown: expected


def _headings(known: Known) -> Iterable[Rule]:
    """The order that is shown is the one due first."""
    first = next(iter(orders.opened(known)), None)
    if first:
        line = orders.due(known, first.id)
        day = Day(line.due_on, known.today) if line else None
        form = r"Order (?P<order>\S+): (?P<what>.+) by (?P<day>.+)"
        yield Rule(form, _just({"order": first.number, "what": orders.what(known, first), "day": day}))


def _tags(page: Page, known: Known, book: Book, found: list[kits.Product]) -> None:
    held = r"(?P<part>.+?), (?P<code>\w{3}-\w{3}-\w): (?P<lies>.+?): (?P<why>.+)"
    book.tags(page.tags, "Held", held, [_held(known, hold) for hold in _open_holds(known)])
    differ = (
        r"(?P<origin>.+) sent (?P<sent>\S+) (?P<part>.+), (?P<to>.+) counted (?P<counted>\S+): "
        r"(?:(?P<missing>\S+) missing|(?P<many>\S+) too many)\."
    )
    book.tags(page.tags, "Counts differ", differ, list(_differences(known)))
    form = r"(?P<n>\S+) of (?P<wanted>\S+) (?P<part>.+?): every part is here and free\.(?: (?P<limits>.+?) limits?\.)?"
    form += r"(?: Batch (?P<code>\S+), for order (?P<orders>.+)\.)?"
    ready = [one for one in found if one.kits][:EACH_MOST]
    book.tags(page.tags, "Can be assembled", form, [_assemble(known, one) for one in ready])
    packed = r"(?P<n>\S+) of (?P<left>\S+) (?P<part>.+) for order (?P<order>\S+) lie finished and free\."
    book.tags(page.tags, "Can be packed", packed, _packable(known)[:EACH_MOST])
    longer = r"(?P<n>\S+) (?P<part>.+), (?P<code>\w{3}-\w{3}-\w), at (?P<site>.+) for (?P<days>[^;]+); (?P<bound>.+)\."
    book.tags(page.tags, "Longer than usual", longer + "(?P<phone> .+)?", _longer(known))
    standing.missing_tags(page, known, book)
    waits = r"(?P<part>.+), (?P<code>\w{3}-\w{3}-\w), step (?P<step>\d+), (?P<verb>.+) \((?P<site>[^)]+)\): (?P<why>.+)"
    book.tags(page.tags, "Check waits", waits, _waiting(known, page))
    book.tags(page.tags, "First-off waits", waits, _first_pieces(known, page))
    taken = {"Missing", "Check waits", "First-off waits", "Longer than usual", "Held", "Counts differ", *READY}
    for tag in page.tags:
        if tag.word not in taken:
            book.differ(f"tag {tag.word}: not reckoned: {tag.text!r}")


def _open_holds(known: Known) -> list[Row]:
    """Nobody has decided them; those inherited fall with them."""
    rows = known.rows.holds.values()
    return [one for one in rows if one.closed_at is None and not one.root_id and not one.disposition]


def _held(known: Known, hold: Row) -> dict[str, Expected]:
    lies: dict[str, int] = defaultdict(int)
    for place, n in known.rows.lying(*LYING).items():
        if place.lot == hold.lot_id:
            lies[known.rows.sites[place.site].name] += n
    return {
        "part": known.title_of(hold.lot_id),
        "code": known.code(known.rows.lots[hold.lot_id].code),
        "lies": ", ".join(f"{n:,} at {site}" for site, n in sorted(lies.items())),
        "why": known.why_held(hold),
    }


def _longer(known: Known) -> list[dict[str, Expected]]:
    """Pieces of one batch at one shop for longer than batches stay there; what is held waits for the founder."""
    visits = Visits.of(known)
    lying: dict[tuple[datetime, int, int], int] = defaultdict(int)
    for place, n in known.rows.lying(*LYING).items():
        batch = known.rows.batch_of(place.lot)
        if visits.at_work(place) and place.lot not in known.held and batch and batch.closed_at is None:
            lying[visits.here_since(place), place.lot, place.site] += n
    found: list[dict[str, Expected]] = []
    for (since, lot, at), n in sorted(lying.items()):
        site, lasted = known.rows.sites[at], visits.worked(at, since, known.now)
        if lasted > visits.usual[at].longest:
            found.append(
                {
                    "n": n,
                    "part": known.title_of(lot),
                    "code": known.code(known.rows.lots[lot].code),
                    "site": site.name,
                    "days": batches.days(lasted),
                    "bound": batches.bound(visits.usual[at]),
                    "phone": f" {site.contact} {site.phone}".rstrip() or None,
                }
            )
    return found


def _waiting(known: Known, page: Page) -> list[dict[str, Expected]]:
    """Pieces were counted good, and what a gate of that step asks for is not there yet."""
    found: list[dict[str, Expected]] = []
    for verdict in known.rows.verdicts.values():
        step = known.rows.steps[verdict.step_id]
        batch = known.rows.batches[step.batch_id]
        asked = (step.operation_id, verdict.check_key)
        check = next((c for c in known.rows.checks.values() if (c.operation_id, c.key) == asked), None)
        told = verdict.latest and verdict.load_id is None and verdict.outcome == "missing"
        under_way = step.good > 0 and step.state != "done" and batch.closed_at is None
        if check is None or check.blocks == "nothing" or check.kind == "approval" or not (told and under_way):
            continue
        code = known.code(batch.code)
        about = f" {code}, step {step.number},"
        said = [tag.text.partition("): ")[2] for tag in page.tags if tag.word == "Check waits" and about in tag.text]
        found.append(
            {
                "part": known.title(known.rows.parts[batch.part_id]),
                "code": code,
                "step": step.number,
                "verb": known.rows.operations[step.operation_id].verb,
                "site": known.rows.sites[step.site_id].name,
                "why": _what_is_wanted(known, step, check, verdict, said),
            }
        )
    return found


def _first_pieces(known: Known, page: Page) -> list[dict[str, Expected]]:
    """Of each that is said to wait: the step that asks for approval, while nobody has decided about its first piece."""
    decided = {one.step_id for one in known.rows.first_pieces.values()}
    asking = {check.operation_id for check in known.rows.checks.values() if check.kind == "approval"}
    found: list[dict[str, Expected]] = []
    for step in known.rows.steps.values():
        batch = known.rows.batches[step.batch_id]
        code = known.code(batch.code)
        said = any(tag.word == "First-off waits" and f" {code}, step {step.number}," in tag.text for tag in page.tags)
        if said and step.operation_id in asking and step.id not in decided and batch.closed_at is None:
            found.append(
                {
                    "part": known.title(known.rows.parts[batch.part_id]),
                    "code": code,
                    "step": step.number,
                    "verb": known.rows.operations[step.operation_id].verb,
                    "site": known.rows.sites[step.site_id].name,
                }
            )
    return found


def _what_is_wanted(known: Known, step: Row, check: Row, verdict: Row, said: list[str]) -> Expected:
    """Of a sample its size and what it is drawn from; of the rest only figures that the verdict itself stands on."""
    size = check.parameters.get("sample") or check.parameters.get("size")
    if check.kind == "sample" and size and any(NO_SAMPLE in one for one in said):
        lot = known.rows.batches[step.batch_id].lot_id
        moves = [move for place, some in known.rows.moves.items() if place.lot == lot for move in some]
        came = sum(max(0, m.quantity) for m in moves if (m.condition, m.step) == ("in_process", step.number))
        form = r".+: no sample was looked at; (?P<size>\S+) of (?P<lot>\S+) are wanted\."
        return Words(form, (("size", int(size)), ("lot", came)))
    loads = [load.number for load in known.rows.loads.values() if load.step_id == step.id]
    stands_on = json.dumps([verdict.figures, check.parameters, loads])
    for one in said:
        figures = [token[0].replace(",", "") for token in tokens(one)]
        if NO_SAMPLE not in one and all(re.search(rf"\b{figure}\b", stands_on) for figure in figures):
            return one
    return stands_on


def _differences(known: Known) -> Iterable[dict[str, Expected]]:
    """By the postings of sending and of counting; what is not explained stands where it was sent from."""
    for line in known.rows.sent.values():
        if not line.closed or line.settled_event_id or not line.difference:
            continue
        way = known.rows.consignments[line.consignment_id]
        sent = sum(
            move.quantity
            for move in known.rows.postings
            if (move.event_id, move.lot_id, move.condition) == (way.sent_event_id, line.lot_id, "on_the_road")
        )
        rest = sum(
            n
            for place, n in known.rows.balance.items()
            if (place.lot, place.site, place.condition) == (line.lot_id, way.origin_id, "unexplained")
        )
        yield {
            "origin": known.rows.sites[way.origin_id].name,
            "sent": sent,
            "part": known.title_of(line.lot_id),
            "to": known.rows.sites[way.destination_id].name,
            "counted": sent - rest,
            "missing": rest if rest > 0 else None,
            "many": -rest if rest < 0 else None,
        }


def _assemble(known: Known, one: kits.Product) -> dict[str, Expected]:
    limits = Words("|".join(known.title(c.part) for c in one.limiting)) if one.limiting else None
    return {
        "n": one.kits,
        "wanted": one.wanted,
        "part": known.title(one.part),
        "limits": limits,
        **_next_batch(known, one),
    }


def _next_batch(known: Known, one: kits.Product) -> dict[str, Expected]:
    """The batch to put together next: of those that are still being made for open orders, the one due first."""
    served: dict[int, set[str]] = defaultdict(set)
    for share in known.rows.shares.values():
        order = known.rows.orders[known.rows.lines[share.line_id].order_id]
        if order.closed_at is None:
            served[share.batch_id].add(order.number)
    making = [
        batch
        for batch in known.rows.batches.values()
        if batch.part_id == one.part.id
        and batch.closed_at is None
        and served[batch.id]
        and _is_being_made(known, batch)
    ]
    if not making:
        return {"code": None, "orders": None}
    first = min(making, key=lambda batch: (batch.due_on, batch.id))
    return {"code": known.code(first.code), "orders": ", ".join(sorted(served[first.id]))}


def _is_being_made(known: Known, batch: Row) -> bool:
    steps = known.rows.steps_of(batch.id) if batch.closed_at is None else []
    return any(known.rows.operations[s.operation_id].kind == "make" and s.state != "done" for s in steps)


def _packable(known: Known) -> list[dict[str, Expected]]:
    """Finished, free to be packed, at the own bench; the line due first takes first."""
    free: dict[int, int] = defaultdict(int)
    for place, n in known.rows.lying("stock").items():
        if place.site == known.bench.id and not place.step and not known.why_not(place, "pack"):
            free[known.rows.lots[place.lot].part_id] += n
    found: list[dict[str, Expected]] = []
    for line in sorted(known.rows.lines.values(), key=lambda one: (one.due_on, one.id)):
        left = known.unpacked(line)
        order = known.rows.orders[line.order_id]
        pieces = min(free[line.part_id], left)
        if order.closed_at is None and pieces > 0 and known.released(line):
            free[line.part_id] -= pieces
            part = known.title(known.rows.parts[line.part_id])
            found.append({"n": pieces, "left": left, "part": part, "order": order.number})
    return found


def _components(page: Page, known: Known, book: Book, found: list[kits.Product]) -> None:
    """The drawing of one product in figures: the one whose name stands over it."""
    heading = "Components awaiting assembly: "
    for one in found:
        table = page.table("Component", "Held", section=heading + known.title(one.part))
        if table:
            rows: list[dict[str, Expected]] = [
                {"Component": known.title(c.part), **{column: c.pieces[kind] for column, kind in COMPONENTS.items()}}
                for c in one.components
            ]
            book.table(table, "components", ["Component"], rows)
