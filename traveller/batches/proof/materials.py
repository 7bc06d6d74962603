"""Which lots did a step use, and when: what a check of age has to know."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from django.db.models import Max, Q, Sum

from traveller.batches.models import Step
from traveller.ledger.models import Link, Lot
from traveller.rules.checks.base import MaterialEvidence, ReadingEvidence
from traveller.rules.checks.limits import in_unit
from traveller.rules.moments import on_clocks, read_moment

MIXED_AT, ROOM = "mixed_at", "room"


def used_at(step: Step, readings: Sequence[ReadingEvidence]) -> tuple[MaterialEvidence, ...]:
    """Lots used at this step, by what was counted there, at the last time of their use in the site's zone.

    A material is named by its part's name. A mix carries the time of mixing and the degrees that the shop read;
    a lot that was made here as a batch of its own was mixed when it was born.
    """
    zone = step.site.zone
    reported = {reading.name: reading for reading in readings}
    # A correction that took all of a use back leaves nothing that was used.
    rows = (
        Link.objects.filter(event__counts__step=step)
        .values("parent")
        .annotate(used=Sum("quantity"), last=Max("event__happened_at", filter=Q(quantity__gt=0)))
        .filter(used__gt=0)
        .order_by("last", "parent")
    )
    found = list(rows)
    lots = Lot.objects.select_related("part").defer("part__picture").in_bulk([row["parent"] for row in found])
    return tuple(
        MaterialEvidence(
            lot=lots[row["parent"]].outside_number or lots[row["parent"]].code,
            kind=lots[row["parent"]].part.name,
            expires_on=lots[row["parent"]].expires_on,
            mixed_at=_mixed_at(reported.get(MIXED_AT), lots[row["parent"]]),
            used_at=on_clocks(row["last"], zone),
            temperature_c=_degrees(reported.get(ROOM)),
        )
        for row in found
    )


def _mixed_at(reading: ReadingEvidence | None, lot: Lot) -> datetime | None:
    if reading is not None:
        return read_moment(reading.text)
    return lot.born_at if lot.origin in ("batch", "split") else None


def _degrees(reading: ReadingEvidence | None) -> Decimal | None:
    """Degrees C of a reading in C or F; None when it is no number."""
    if reading is None or reading.number is None:
        return None
    celsius = in_unit(reading.number, reading.unit, "C")
    return None if celsius is None else Decimal(celsius.numerator) / Decimal(celsius.denominator)
