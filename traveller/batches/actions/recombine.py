"""Lots that were kept apart become one again: the same part, on the same routing, waiting for the same step here."""

from __future__ import annotations

from collections.abc import Sequence

from traveller.batches.models import Batch, Load
from traveller.batches.splitting.mixing import check, first_step, mix
from traveller.batches.splitting.places import SEPARABLE
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.fetch import lock_batches_of
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused, refuse_without
from traveller.ledger.models import Lot
from traveller.ledger.post import Balances, Place

KIND = "recombined"


@action
def recombine(
    *, event_context: EventContext, lot_ids: Sequence[int], site_id: int, condition: str, step: int, reason: str
) -> Answer:
    """All that these lots have there becomes a lot and a batch of its own, with both as parents.

    A lot of its own, so that none is its own ancestor; what holds any of them holds it, it expires with the first,
    and what any of them has not proved yet it has not proved.
    """
    wanted = sorted(set(lot_ids))
    reported = {
        "lots": wanted,
        "site": site_id,
        "condition": condition,
        "step": step,
        "reason": reason,
    }
    if before := earlier(event_context, KIND, reported):
        return Answer(before, repeated=True)
    refuse_without(reason)
    if condition not in SEPARABLE:
        raise Refused("not_on_a_shelf", condition=condition)
    lock_batches_of(wanted)
    parents = list(Lot.objects.filter(pk__in=wanted).select_related("part", "subject").order_by("id"))
    batches = check(parents)
    taken = _taken(parents, Place(0, site_id, condition, step))
    _refuse_open_load(batches, step)
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[lot.subject_id for lot in parents],
        reported=reported,
        site_id=site_id,
        first_step=first_step(next(iter(taken))),
        taken={str(place.lot_id): quantity for place, quantity in taken.items()},
    )
    mix(event, parents, batches, taken)
    return Answer(event)


def _taken(parents: Sequence[Lot], like: Place) -> dict[Place, int]:
    """All of each lot at the place; a lot of which nothing lies there has nothing to join."""
    balances = Balances([lot.pk for lot in parents])
    taken: dict[Place, int] = {}
    for lot in parents:
        place = Place(lot.pk, like.site_id, like.condition, like.step)
        quantity = balances.at(place)
        if quantity <= 0:
            raise Refused("nothing_of_it_there", lot=lot.code)
        taken[place] = quantity
    return taken


def _refuse_open_load(batches: Sequence[Batch], step: int) -> None:
    """Pieces in a load are proved with it: they join when they are out and counted."""
    inside = Load.objects.filter(step__batch__in=batches, step__number=step, ended_at=None, struck_by=None)
    load = inside.select_related("step__batch").first() if step else None
    if load:
        raise Refused("load_is_in", there=load.quantity)
