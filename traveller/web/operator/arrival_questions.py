"""What is asked before a count on arrival becomes news, and what the answers say.

Before the receiver's figure stands, no question tells what was sent: "far above" is measured by what the batch was
started for, which its traveller says. Only who has counted more than was sent is shown the sender's figure before the
count is recorded; the figure that was typed first is then kept beside the next one.
"""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid5

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _

from traveller.batches.models import Batch
from traveller.dispatches.actions.receive import beyond_sent
from traveller.dispatches.models import Consignment, ConsignmentLine
from traveller.web.door import Asked, queued_of
from traveller.web.operator.reporting import SURE, already_recorded, ask, carried, event_here
from traveller.web.operator.shop import page
from traveller.web.operator.weighing import CountedHere, How, how_counted, questions, read_totes
from traveller.web.templatetags.look import whole
from traveller.web.templatetags.shop import amount
from traveller.web.words import say

# A batch's tote holds no more than this without somebody having slipped a figure.
MANY = 100_000
# So many times what the batch was started for never came out of it.
FAR_ABOVE = 2
ON_THE_ROAD = "road"
FIRST = "first:"
_Lines = list[tuple[ConsignmentLine, CountedHere]]
_Mixes = list[tuple[dict[str, Any], CountedHere]]


def typed_lines(request: HttpRequest, lines: list[ConsignmentLine]) -> list[ConsignmentLine]:
    """Lines with a figure in this form that this form has not recorded yet, whatever became of them meanwhile."""
    if request.method != "POST":
        return []
    typed = [line for line in lines if request.POST.get(f"line:{line.pk}", "").strip()]
    return [line for line in typed if not (line.closed and _own(request, line))]


def _own(request: HttpRequest, line: ConsignmentLine) -> bool:
    """This very form closed it: sent again, it says the same."""
    try:
        uid = UUID(request.POST.get("news_id", ""))
    except ValueError:
        return False
    return event_here(request, str(uuid5(uid, f"line:{line.pk}"))) is not None


def questions_of(
    request: HttpRequest, consignment: Consignment, how: How, together: _Mixes, counts: _Lines, lines_open: int
) -> list[Asked]:
    """In the order in which they are asked; the one that shows what was sent comes last."""
    if already_recorded(request):
        return []
    every = [counted for _, counted in [*together, *counts]]
    found = _of_struck(consignment, counts)
    left = lines_open - sum(not line.closed for line, _ in counts) - sum(len(mix["lines"]) for mix, _ in together)
    if left:
        found.append(Asked("lines_left", {"left": left, "all": lines_open}))
    if any(not counted.quantity for counted in every) and request.POST.get(f"{SURE}nothing_arrived") != ON_THE_ROAD:
        found.append(Asked("nothing_arrived", {}))
    pieces = [(line, counted.quantity) for line, counted in counts if line.lot.part.unit == "C62"]
    many = [quantity for _, quantity in pieces if quantity > MANY]
    found += [Asked("very_many", {"counted": quantity}) for quantity in many[:1]]
    if not many:
        found += _far_above(pieces)
    return [*found, *questions(how, every), *_over_sent(together, counts)]


def _of_struck(consignment: Consignment, counts: _Lines) -> list[Asked]:
    if not any(line.taken_back_event_id for line, _ in counts):
        return []
    return [Asked("taken_back_there", {"consignment": consignment.code, "site": consignment.origin.name})]


def _far_above(pieces: list[tuple[ConsignmentLine, int]]) -> list[Asked]:
    started = dict(Batch.objects.filter(lot__in=[line.lot_id for line, _ in pieces]).values_list("lot_id", "start"))
    return [
        Asked("far_above", {"counted": quantity})
        for line, quantity in pieces
        if quantity > FAR_ABOVE * started.get(line.lot_id, MANY)
    ][:1]


def _over_sent(together: _Mixes, counts: _Lines) -> list[Asked]:
    """More than was sent, and more than such counts can be apart."""
    for line, counted in counts:
        if line.closed:
            continue
        if over := beyond_sent(line, counted.quantity, counted.method, counted.sample, counted.scale):
            return [over_sent(line.lot.part.unit, line.sent, line.sent + over)]
    for mix, counted in together:
        sent = sum(max(0, line.remaining) for line in mix["lines"])
        if counted.quantity > sent:
            return [over_sent(mix["part"].unit, sent, counted.quantity)]
    return []


def over_sent(unit: str, sent: int, counted: int) -> Asked:
    """ "110 counted, 78 were sent": in the unit that people use."""
    figures = {"counted": counted, "sent": sent, "over": counted - sent}
    return Asked("over_sent", {name: str(amount(quantity, unit)) for name, quantity in figures.items()})


def ask_arrival(request: HttpRequest, asked: Asked, context: dict[str, Any]) -> HttpResponse:
    """The question, with one button for each thing that the count can mean."""
    buttons = _buttons(asked)
    if not buttons or queued_of(request):
        return ask(request, asked, context)
    name = f"{SURE}{asked.code}"
    shown = {"question": say(asked.code, asked.figures), "sure": name, "carried": carried(request, name)}
    return page(request, "arrival_ask.html", {**context, **shown, "buttons": buttons})


def _buttons(asked: Asked) -> list[tuple[str, str]]:
    """What is sent, and what it means; the first is the count as it was typed."""
    figures = asked.figures
    if asked.code == "over_sent":
        return [
            ("yes", _("%(over)s more came: record %(counted)s") % figures),
            ("no", _("Count again")),
        ]
    if asked.code == "nothing_arrived":
        return [
            ("yes", _("None of it came: record 0")),
            (ON_THE_ROAD, _("Not here yet: it stays on the road")),
            ("no", _("Change the figure")),
        ]
    if asked.code == "none_after_all":
        return [("yes", _("None of it came: record 0")), ("no", _("Change the figure"))]
    if asked.code == "far_above":
        return [("yes", _("%(n)s is right") % {"n": whole(int(str(figures["counted"])))}), ("no", _("Count again"))]
    if asked.code == "taken_back_there":
        return [("yes", _("It is here: record it")), ("no", _("It is not here"))]
    return []


def still_on_the_road(request: HttpRequest, counted: CountedHere) -> bool:
    """0 was typed, and meant: not yet."""
    return not counted.quantity and request.POST.get(f"{SURE}nothing_arrived") == ON_THE_ROAD


def was_seen(request: HttpRequest) -> bool:
    """The counter had the sender's figure: so they say, or the page showed it since more had been counted."""
    return request.POST.get("seen") == "yes" or any(name.startswith(FIRST) for name in request.POST)


def first_count(request: HttpRequest, line: ConsignmentLine) -> int:
    """What was typed before the sender's figure was shown; 0 where it never was."""
    text = request.POST.get(f"{FIRST}{line.pk}", "")
    return int(text) if text.isdecimal() and len(text) < 13 else 0


def shown_before(request: HttpRequest, line: ConsignmentLine, cv_ppm: int) -> dict[str, Any]:
    """For who chose to count again: the sender's figure, an empty field, and what is kept of the first count."""
    first = first_count(request, line)
    if request.POST.get(f"{SURE}over_sent") == "no" and not line.closed:
        how, _wrong = how_counted(request)
        counted = read_totes(how, request.POST.get(f"line:{line.pk}", ""), line.lot.part.unit, cv_ppm)
        if not isinstance(counted, str) and _over_sent([], [(line, counted)]):
            return {"first": first or counted.quantity, "sent": amount(line.sent, line.lot.part.unit), "value": ""}
    return {"first": first, "sent": amount(line.sent, line.lot.part.unit)} if first else {}
