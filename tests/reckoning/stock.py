"""The stock page: what lies where, by part and by lot, and what of it is free."""

from __future__ import annotations

import re
from collections import defaultdict

from tests.reckoning.claims import Book, Rule, as_of
from tests.reckoning.figures import Amount, Day, Expected, Words, amount, filled
from tests.reckoning.goods import LYING, Known
from tests.reckoning.page import Page
from tests.reckoning.rows import Place

WORDS = {"held": "Held", "expired": "Expired", "unproved": "Not proved"}


def compare(page: Page, known: Known, book: Book) -> None:
    lying = known.rows.lying(*LYING)
    book.sentences(page, "stock", [as_of(known), *_headline(known, lying)])
    held = {place.lot for place in lying if place.lot in known.held}
    old = {place.lot for place in lying if known.expired(place.lot)}
    count = r"(?P<n>\S+) lots? .*"
    book.tags(page.tags, "Held", count, [{"n": len(held)}] if held else [])
    book.tags(page.tags, "Expired", count, [{"n": len(old)}] if old else [])
    book.table(page.table("Part", "Free", "In process", section="By part"), "by part", ["Part"], _by_part(known, lying))
    book.table(page.table("Part", "Lot", section="By lot"), "by lot", ["Lot", "Site"], _by_lot(known, lying))
    _sums(page, known, book)


def _headline(known: Known, lying: dict[Place, int]) -> list[Rule]:
    """How much lies about, and of how many lots nothing may be used; what is none is said to be none, or not said."""
    lots = {place.lot for place in lying}
    everything: dict[str, Expected] = {
        "lots": len(lots),
        "parts": len({known.rows.lots[lot].part_id for lot in lots}),
        "sites": len({place.site for place in lying}),
    }
    held = sum(lot in known.held for lot in lots)
    expired = sum(known.expired(lot) for lot in lots)
    stopped: dict[str, Expected] = {"held": held or None, "expired": expired or None}
    some = r"(?:(?P<held>\S+) lots? (?:is|are) held)?(?:, )?(?:(?P<expired>\S+)(?: lots?)? ha(?:s|ve) expired)?\."
    return [
        Rule(r"(?P<lots>\S+) lots? of (?P<parts>\S+) parts? at (?P<sites>\S+) sites?\.", lambda _shown: everything),
        Rule(r"Nothing is held and nothing has expired\.", lambda _shown: stopped),
        Rule(some, lambda _shown: stopped),
    ]


def _by_part(known: Known, lying: dict[Place, int]) -> list[dict[str, Expected]]:
    sums: dict[int, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for place, n in lying.items():
        own = sums[known.rows.lots[place.lot].part_id]
        if place.condition == "on_the_road":
            own["On the road"] += n
        elif place.condition == "packed":
            own["Packed"] += n
        elif place.condition in ("in_process", "rework") or place.step:
            own["In process"] += n
        elif place.condition == "stock":
            shelf = known.shelves[place]
            if shelf.why_not:
                own[WORDS[shelf.why_not]] += n
            own["Free"] += shelf.free
            own["Reserved"] += 0 if shelf.why_not else shelf.kept
    columns = ("Free", "Reserved", "Held", "Expired", "Not proved", "In process", "On the road", "Packed")
    return [
        {
            "Part": known.title(part := known.rows.parts[pk]),
            **{column: Amount(own[column], part.unit) if own[column] else None for column in columns},
        }
        for pk, own in sums.items()
    ]


def _by_lot(known: Known, lying: dict[Place, int]) -> list[dict[str, Expected]]:
    found: list[dict[str, Expected]] = []
    for place, n in lying.items():
        part = known.rows.part_of(place.lot)
        lot = known.rows.lots[place.lot]
        shelf = known.shelves.get(place)
        kept = 0 if shelf is None or shelf.why_not else shelf.kept
        found.append(
            {
                "Part": known.title(part),
                "Lot": known.code(lot.code),
                "Site": known.rows.sites[place.site].name,
                "Quantity": Amount(n, part.unit),
                "Free": Amount(shelf.free, part.unit) if shelf and shelf.free else None,
                "Reserved": Amount(kept, part.unit) if kept else None,
                "Use by": Day(lot.expires_on, known.today) if lot.expires_on else None,
                "Where": _where(known, place),
                "State": _state(known, place),
            }
        )
    return found


def _where(known: Known, place: Place) -> Expected:
    verb = re.escape(known.verb(place))
    if place.condition == "on_the_road":
        return Words(r"on the road to .+")
    if place.condition in ("in_process", "rework"):
        return Words(rf"{'rework' if place.condition == 'rework' else 'waits for'}: {verb}")
    if place.condition == "packed":
        return "packed"
    return Words(rf"done: {verb}; to be sent on") if place.step else "in stock"


def _state(known: Known, place: Place) -> Expected:
    """Free only what may be used; what is held says why, in figures."""
    if place.lot in known.held:
        code, title = known.code(known.rows.lots[place.lot].code), re.escape(known.title_of(place.lot))
        why = known.why_held(
            next(one for one in known.rows.holds.values() if one.lot_id == place.lot and not one.closed_at)
        )
        return Words(rf"HELD: .* Lot {code}, {title}, is held\. {filled(why)} \D*")
    if place.condition in ("stock", "packed"):
        stopped = known.why_not(place, known.purpose(place))
        return Words(r"(?!Free).*") if stopped else Words(r"Free to (?:pack|send|use|ship)")
    return "On the road" if place.condition == "on_the_road" else "In process"


def _sums(page: Page, known: Known, book: Book) -> None:
    """What is shown by part is what is shown by lot, added up."""
    parts = page.table("Part", "Free", "In process", section="By part")
    lots = page.table("Part", "Lot", section="By lot")
    if parts is None or lots is None:
        return
    unit = {known.title(part): part.unit for part in known.rows.parts.values()}

    def total(rows: tuple[dict[str, str], ...], part: str, *columns: str) -> object:
        shown = [row[one] for row in rows if row["Part"] == part for one in columns if row[one] not in ("", "–")]
        return sum(amount(text, unit[part]) or 0 for text in shown)

    for row in parts.rows:
        name = row["Part"]
        apart = total(parts.rows, name, *(column for column in parts.columns if column != "Part"))
        if apart != total(lots.rows, name, "Quantity"):
            book.differ(f"by part: the columns of {name} do not add up to its lots")
        for column in ("Free", "Reserved"):
            if total(parts.rows, name, column) != total(lots.rows, name, column):
                book.differ(f"by part: {column} of {name} is not the sum of its lots")
