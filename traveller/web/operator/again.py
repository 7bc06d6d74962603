"""Goods told once more, because the answer was lost: by then they have left the shelf, or the line is closed.

Other forms say by their action that they were told before. These are filled in from what lies there or is still to
come, which is gone once they are told: so they are recognised by the figures that stand in the journal.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from uuid import UUID, uuid5

from django.http import HttpRequest

from traveller.dispatches.models import Consignment, ConsignmentLine
from traveller.journal.models import Event
from traveller.ledger.models import Account
from traveller.web.operator.reporting import already_recorded
from traveller.web.operator.shop import site_of
from traveller.web.operator.weighing import How, how_counted, read_totes

SHELF, LINE, MIXED = "q:", "line:", "mix:"


def sent_again(request: HttpRequest) -> Consignment | None:
    """The consignment that this very form became before: the same pieces from the same shelves."""
    before = already_recorded(request) if request.method == "POST" else None
    if before is None or before.kind != "sent":
        return None
    typed = _figures(request, SHELF)
    shelves = Account.objects.filter(pk__in=typed, site=site_of(request)).select_related("lot__part")
    how, _wrong = how_counted(request)
    counted = Counter[tuple[int, str, int]]()
    for shelf in shelves:
        counted[shelf.lot_id, shelf.condition, shelf.step] += _quantity(how, typed[shelf.pk], shelf.lot.part.unit)
    reported = Counter[tuple[int, str, int]]()
    for lot, quantity, from_step, _to_step, _method, _sample, condition, *_how in before.data["told"]["lines"]:
        reported[lot, condition, from_step] += quantity
    return Consignment.objects.get(sent_event=before) if +counted == reported else None


def arrived_again(request: HttpRequest, lines: Iterable[ConsignmentLine]) -> bool:
    """Each figure of this form stands in the journal, as the very telling that this form is."""
    try:
        uid = UUID(request.POST.get("news_id", ""))
    except ValueError:
        return False
    by_pk = {line.pk: line for line in lines}
    typed = {**_figures(request, LINE), **_figures(request, MIXED)}
    how, _wrong = how_counted(request)
    events = {
        event.uid: event.data["told"].get("quantity")
        for event in Event.objects.filter(uid__in=[uuid5(uid, f"{LINE}{pk}") for pk in typed], site=site_of(request))
    }
    return bool(typed) and all(
        pk in by_pk and events.get(uuid5(uid, f"{LINE}{pk}")) == _quantity(how, text, by_pk[pk].lot.part.unit)
        for pk, text in typed.items()
    )


def _figures(request: HttpRequest, prefix: str) -> dict[int, str]:
    """What was typed into the fields of one kind, by the number in their names."""
    found = {}
    for name, value in request.POST.items():
        number = name.removeprefix(prefix)
        if name.startswith(prefix) and number.isdecimal() and len(number) < 19 and str(value).strip():
            found[int(number)] = str(value)
    return found


def _quantity(how: How, text: str, unit: str) -> int:
    """Below none where it cannot be read: nothing in the journal is equal to it."""
    counted = read_totes(how, text.strip(), unit)
    return -1 if isinstance(counted, str) else counted.quantity
