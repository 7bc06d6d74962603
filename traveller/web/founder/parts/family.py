"""A lot's family: what it was made of, or what was made of it, as a nested list; quantities net of corrections."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from traveller.ledger import genealogy
from traveller.ledger.models import Account, Hold, Link, Lot
from traveller.web.founder.desk.listing import amount
from traveller.web.words import CONDITIONS

_LYING = ("in_process", "rework", "stock", "packed", "on_the_road", "sold_to")
# A list longer than this is not read by anybody; the table below it has every lot.
SHOWN_MOST = 150


@dataclass
class Kin:
    """A lot in the tree; `again`: its own family stands further up already."""

    lot: Lot
    amount: str
    inferred: bool
    where: str
    held: bool
    again: bool = False
    kin: list[Kin] = field(default_factory=list)


@dataclass(frozen=True)
class Family:
    """The tree, and every lot in it once."""

    tree: list[Kin]
    lots: list[Kin]


def family(lot: Lot, *, down: bool) -> Family:
    """One recursive query for the lots, then three for what is known of them."""
    ids = genealogy.descendants(lot.pk) if down else genealogy.ancestors(lot.pk)
    near, far = ("parent_id", "child_id") if down else ("child_id", "parent_id")
    sums: dict[tuple[int, int], int] = defaultdict(int)
    guessed: dict[tuple[int, int], bool] = defaultdict(bool)
    links = Link.objects.filter(**{f"{near}__in": [lot.pk, *ids], f"{far}__in": ids}).order_by("id")
    for start, end, quantity, inferred in links.values_list(near, far, "quantity", "inferred"):
        sums[start, end] += quantity
        guessed[start, end] |= inferred
    lots = Lot.objects.select_related("part").defer("part__picture").in_bulk([lot.pk, *ids])
    places = _places(set(ids))
    held = set(Hold.objects.filter(lot__in=ids, closed_at=None).values_list("lot_id", flat=True))
    below: dict[int, list[int]] = defaultdict(list)
    for start, end in sums:
        if sums[start, end] or guessed[start, end]:
            below[start].append(end)
    seen: set[int] = set()

    def kin(start: int, end: int) -> Kin:
        unit = lots[start if down else end].part.unit
        row = Kin(
            lots[end],
            amount(sums[start, end], unit),
            guessed[start, end],
            places.get(end, ""),
            end in held,
            end in seen,
        )
        if not row.again and len(seen) < SHOWN_MOST:
            seen.add(end)
            row.kin = [kin(end, further) for further in below[end]]
        return row

    tree = [kin(lot.pk, end) for end in below[lot.pk]]
    once: dict[int, Kin] = {}
    _flatten(tree, once)
    return Family(tree, sorted(once.values(), key=lambda row: row.lot.pk))


def _flatten(rows: list[Kin], once: dict[int, Kin]) -> None:
    for row in rows:
        once.setdefault(row.lot.pk, row)
        _flatten(row.kin, once)


def _places(lot_ids: set[int]) -> dict[int, str]:
    """Where each lot lies now, in words."""
    words: dict[int, list[str]] = defaultdict(list)
    rows = Account.objects.filter(lot__in=lot_ids, condition__in=_LYING, balance__gt=0)
    for lot, unit, site, condition, balance in rows.order_by("site__name", "step").values_list(
        "lot_id", "lot__part__unit", "site__name", "condition", "balance"
    ):
        words[lot].append(f"{amount(balance, unit)} {CONDITIONS[condition]}, {site}")
    return {lot: "; ".join(said) for lot, said in words.items()}
