"""Reads that pages need. Each costs a constant number of queries, however many consignments there are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Literal, get_args

from django.db.models import Exists, F, OuterRef, Prefetch, Q, QuerySet

from traveller.dispatches.actions.count_again import COUNTS
from traveller.dispatches.actions.receive import KIND as COUNTED
from traveller.dispatches.models import Consignment, ConsignmentLine
from traveller.journal.models import Event

_State = Literal["road", "differs", "counted"]
_STATES: tuple[_State, ...] = get_args(_State)


@dataclass(frozen=True, slots=True)
class Standing:
    """How many consignments are on the road, and how many counts wait to be settled."""

    on_the_road: int
    differing: int
    all: int


def _lines() -> QuerySet[ConsignmentLine]:
    return (
        ConsignmentLine.objects.select_related("lot__part", "lot__subject", "taken_back_event", "settled_event")
        .defer("lot__part__picture")
        .order_by("id")
    )


def unsettled() -> QuerySet[ConsignmentLine]:
    """Lines whose two counts differ by more than the methods can resolve, and nobody has said why."""
    return ConsignmentLine.objects.filter(closed=True, settled_event=None).exclude(difference=0)


def rests_by_place(lot_id: int | None = None) -> dict[tuple[int, int, int], int]:
    """What of `unexplained` is a matter of counts on arrival, by lot, origin and step travelled to: lines that differ
    and are not settled, or differ inside what such counts can tell; and open lines of which more has come already."""
    rows = ConsignmentLine.objects.all() if lot_id is None else ConsignmentLine.objects.filter(lot=lot_id)
    over = Q(closed=False, received__gt=F("sent") - F("misdirected"))
    differ = Q(closed=True) & ~Q(difference=0) & (Q(settled_event=None) | Q(settled_event__kind__in=COUNTS))
    found: dict[tuple[int, int, int], int] = defaultdict(int)
    for line in rows.filter(over | differ).select_related("consignment"):
        rest = line.difference if line.closed else line.remaining
        found[line.lot_id, line.consignment.origin_id, line.to_step] += rest
    return found


def consignment_list(*, state: str = "", site_id: int | None = None, find: str = "") -> QuerySet[Consignment]:
    """Consignments with their lines, latest first, narrowed as the page asks."""
    rows = Consignment.objects.select_related("origin", "destination").prefetch_related(Prefetch("lines", _lines()))
    differs = Exists(unsettled().filter(consignment=OuterRef("pk")))
    if site_id is not None:
        rows = rows.filter(Q(origin=site_id) | Q(destination=site_id))
    if find:
        plain = find.replace("-", "").upper()
        code = Q(code__startswith=plain) | Q(lines__lot__code__startswith=plain)
        rows = rows.filter(code | Q(lines__lot__part__name__icontains=find)).distinct()
    if state == "road":
        rows = rows.filter(received_at=None)
    elif state == "differs":
        rows = rows.filter(differs)
    elif state == "counted":
        rows = rows.exclude(received_at=None)
    return rows


def standing() -> Standing:
    """The figures of the opening sentence."""
    return Standing(
        Consignment.objects.filter(received_at=None).count(), unsettled().count(), Consignment.objects.count()
    )


def on_the_road() -> QuerySet[Consignment]:
    """Sent and not yet counted in full, the one sent first at the top."""
    return consignment_list(state="road").order_by("sent_at", "id")


def find_consignment(code: str) -> Consignment | None:
    return consignment_list().filter(code=code).select_related("subject", "sent_event").first()


def destinations_of(lot_ids: Iterable[int]) -> dict[tuple[int, int, int], str]:
    """Where a lot's pieces on the road go: by lot, origin and step travelled to; one query."""
    rows = ConsignmentLine.objects.filter(lot__in=list(lot_ids), closed=False).order_by("id")
    return {
        (lot_id, origin_id, step): name
        for lot_id, origin_id, step, name in rows.values_list(
            "lot_id", "consignment__origin_id", "to_step", "consignment__destination__name"
        )
    }


@dataclass(frozen=True, slots=True)
class ArrivalCount:
    """One count of a line on arrival, in the part's base unit. `seen`: with the sender's figure known; `again`: of a
    line that was counted before; not `recorded`: typed, asked about since it was more than sent, and not kept to."""

    event: Event
    quantity: int
    method: str
    sample: int
    seen: bool
    again: bool = False
    recorded: bool = True
    # Pieces that had been used by then and that this count does not have.
    used: int = 0

    @property
    def by_phone(self) -> bool:
        """Told to the founder, who typed it."""
        return self.event.on_behalf


def counts_of(consignment: Consignment) -> dict[int, list[ArrivalCount]]:
    """Every count on arrival by line, the oldest first: what its counter found, whatever was booked; two queries."""
    return counts_of_all([consignment])


def counts_of_all(consignments: Collection[Consignment]) -> dict[int, list[ArrivalCount]]:
    """The same of several, lines without a count left empty."""
    found: dict[int, list[ArrivalCount]] = defaultdict(list)
    shown = {line_id for one in consignments if one.shown for line_id in one.lines.values_list("pk", flat=True)}
    rows = Event.objects.filter(kind__in=COUNTS, about__subject__in=[one.subject_id for one in consignments])
    events = list(rows.order_by("id"))
    met = [event.data["counted_in"] for event in events if "counted_in" in event.data]
    counted_in = {str(event.uid): event for event in Event.objects.filter(uid__in=met)} if met else {}
    for event in events:
        arrival = counted_in.get(event.data.get("counted_in", ""), event)
        told, line_id = arrival.data["told"], event.data["line"]
        how = (str(told["method"]), int(told["sample"]))
        seen = bool(told.get("seen")) or line_id in shown
        if first := told.get("first"):
            found[line_id].append(ArrivalCount(arrival, first, *how, seen=False, recorded=False))
        quantity = int(event.data["quantity"] if "quantity" in event.data else told["quantity"])
        again, used = event.kind != COUNTED, event.data.get("used", 0)
        found[line_id].append(ArrivalCount(arrival, quantity, *how, seen=seen, again=again, used=used))
    return found
