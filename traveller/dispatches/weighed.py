"""Counts by weight: what a line keeps of how each was made, and what is known of how much the pieces of a part differ.

A line keeps of a weighed count (`sent_scale`, `received_scale`): the weight of the sample and the steps of the scales
as typed ("5 g"), how often the error of a weight enters the goods' (`readings`), the spread of a piece that it was
judged by (`cv_ppm`, from so many `pairs`, 0: assumed), and what was counted, where it was counted once.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any, cast

from django.db.models import Q

from traveller.dispatches.models import ConsignmentLine
from traveller.rules.counts import ASSUMED_CV_PPM, CountHow, Method, PieceSpread, learned
from traveller.rules.units import UnitError, convert

Scale = Mapping[str, Any]
# So many counts of a part are looked at, the newest ones: moulds wear.
_PAIRS_MOST = 60


def count_how(quantity: int, method: str, sample: int, scale: Scale) -> CountHow:
    """A count with all that is known of how it was made; `scale` as a line keeps it."""
    if method != "weight":
        return CountHow(quantity, cast(Method, method), sample)
    piece = _grams(scale.get("weight", "")) / sample if sample else Fraction(0)
    of_sample, of_goods = (_grams(scale.get(name, "")) for name in ("sample_step", "step"))
    return CountHow(
        quantity,
        "weight",
        sample,
        int(scale.get("cv_ppm", ASSUMED_CV_PPM)),
        piece / of_sample if of_sample else Fraction(0),
        piece / of_goods if of_goods else Fraction(0),
        int(scale.get("readings", 1)),
    )


def _grams(typed: str) -> Fraction:
    """ "5 g", as this module keeps weights; 0 where nothing was said."""
    number, _, unit = typed.partition(" ")
    found = convert(Decimal(number), unit, "g") if number else Fraction(0)
    return Fraction(0) if isinstance(found, UnitError) else found


def sides_of(line: ConsignmentLine, received: int | None = None) -> tuple[CountHow, CountHow]:
    """What was sent and what was counted on arrival, with how; `received`: another figure than what was booked."""
    here = line.received + line.misdirected if received is None else received
    return (
        count_how(line.sent, line.sent_method, line.sent_sample, line.sent_scale),
        count_how(here, line.received_method or "hand", line.received_sample, line.received_scale),
    )


def kept_scale(part_id: int, method: str, how: Mapping[str, Any] | None) -> dict[str, Any]:
    """What a line keeps of a count by weight, the spread of a piece among it, as it is known now; else nothing."""
    if method != "weight":
        return {}
    spread = piece_spreads([part_id])[part_id]
    return {**(how or {}).get("scale", {}), "cv_ppm": spread.cv_ppm, "pairs": spread.pairs}


def piece_spreads(part_ids: Iterable[int]) -> dict[int, PieceSpread]:
    """How much the weight of a piece varies, by part: learned from lines that one side weighed on a scale whose step
    is known and the other counted by hand, without knowing the first figure; else assumed. One query."""
    wanted = set(part_ids)
    rows = (
        ConsignmentLine.objects.filter(
            Q(sent_method="weight", received_method="hand") | Q(sent_method="hand", received_method="weight"),
            lot__part__in=wanted,
            closed=True,
            misdirected=0,
            seen=False,
        )
        .select_related("lot")
        .order_by("-id")
    )
    found: dict[int, list[tuple[int, CountHow]]] = defaultdict(list)
    for line in rows[: _PAIRS_MOST * len(wanted)] if wanted else ():
        sent, received = sides_of(line, line.received_scale.get("counted"))
        weighed, other = (sent, received) if sent.method == "weight" else (received, sent)
        once = sent.method == "weight" or "counted" in line.received_scale
        if weighed.steps and weighed.sample_steps and once:
            found[line.lot.part_id].append((other.quantity, weighed))
    return {part_id: learned(found[part_id][:_PAIRS_MOST]) for part_id in wanted}


def steps_at(site_id: int) -> dict[str, str]:
    """The steps of the scales there, as they were said last ("1 g"), of the sample's and of the totes'; or nothing."""
    weighed = ConsignmentLine.objects.order_by("-id")
    came = weighed.filter(consignment__destination=site_id, received_method="weight")
    went = weighed.filter(consignment__origin=site_id, sent_method="weight")
    told = [
        *came.exclude(received_scale={}).values_list("id", "received_scale")[:1],
        *went.exclude(sent_scale={}).values_list("id", "sent_scale")[:1],
    ]
    for _, scale in sorted(told, key=lambda row: -row[0]):
        if "step" in scale:
            return {name: scale[name] for name in ("sample_step", "step")}
    return {}
