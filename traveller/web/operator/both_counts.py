"""What sender and receiver see of the same goods: when they arrived, every count, the difference and who settles it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from typing import Any, cast

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet
from django.utils.translation import gettext as _

from traveller.dispatches.actions.count_again import may_count_again
from traveller.dispatches.actions.take_back import is_uncounted
from traveller.dispatches.models import Consignment, ConsignmentLine
from traveller.dispatches.queries import ArrivalCount, counts_of, counts_of_all, unsettled
from traveller.dispatches.weighed import sides_of
from traveller.rules.counts import compare_counts
from traveller.web.language.numbers import quantity_words
from traveller.web.templatetags.look import moment_words
from traveller.web.templatetags.shop import amount

LISTED_MOST = 12
_Counts = Sequence[ArrivalCount]
# A mark, its word, and the sentence behind them; nothing where there is nothing to be said yet.
_Words = dict[str, str]


def counted_rows(consignment: Consignment, lines: Iterable[ConsignmentLine]) -> list[dict[str, Any]]:
    """For the receiver: every line that is counted, with both figures and all its counts."""
    counts = counts_of(consignment)
    return [_counted(line, counts[line.pk]) for line in lines if line.closed and not line.taken_back_event_id]


def _counted(line: ConsignmentLine, counts: _Counts) -> dict[str, Any]:
    """Both figures once the receiver's stands, and the least difference that such counts can tell."""
    counted = _found(line, counts)
    unit = cast(Any, line.lot.part.unit)
    found = compare_counts(*sides_of(line, counted))
    return {
        "line": line,
        "part": line.lot.part,
        "sent": quantity_words(line.sent, unit),
        "counted": quantity_words(counted, unit),
        "booked": quantity_words(line.received + line.misdirected, unit),
        "booked_theirs": line.received + line.misdirected != counted,
        "resolves": quantity_words(found.resolves, unit),
        "exact": found.resolves == 0,
        "difference": quantity_words(abs(found.difference), unit),
        "same": found.difference == 0,
        "short": found.difference < 0,
        "inside": line.difference == 0 or line.settled_event_id is not None,
        "counts": _history(line, counts),
        "used": _used(line, counts),
        "may_again": may_count_again(line),
    }


def _found(line: ConsignmentLine, counts: _Counts) -> int:
    """What the receiver counted of it in the end: parts together, or the count that was made of all once more."""
    counted = 0
    for count in counts:
        if count.recorded:
            counted = line.misdirected + count.quantity if count.again else counted + count.quantity
    return counted if counts else line.received + line.misdirected


def _history(line: ConsignmentLine, counts: _Counts) -> list[dict[str, Any]]:
    """Count after count, where there was more than one of the whole."""
    if not any(count.again or not count.recorded for count in counts):
        return []
    return [{"count": count, "n": amount(count.quantity, line.lot.part.unit)} for count in counts]


def _used(line: ConsignmentLine, counts: _Counts) -> str:
    """Pieces that had been used by the time of the newest count, and that it does not have."""
    used = counts[-1].used if counts else 0
    return amount(used, line.lot.part.unit) if used and line.settled_event_id is None else ""


def sent_rows(consignment: Consignment, lines: Iterable[ConsignmentLine]) -> list[dict[str, Any]]:
    """For the sender: what became of each line."""
    counts = counts_of(consignment)
    return [
        {
            "line": line,
            "sent": amount(line.sent, line.lot.part.unit),
            "counts": _history(line, counts[line.pk]),
            "used": _used(line, counts[line.pk]),
            "may_take_back": is_uncounted(line),
            **_became(line, counts[line.pk]),
        }
        for line in lines
    ]


def lately_sent(site_id: int, since: datetime) -> list[dict[str, Any]]:
    """For the sender's list: what is on the road, what arrived since then, and what differs and is not settled."""
    return _lately(Consignment.objects.filter(Q(received_at=None) | _stands(since), origin=site_id), _became)


def lately_counted(site_id: int, since: datetime) -> list[dict[str, Any]]:
    """For the receiver's list: what was counted here since then, and what differs and is not settled."""
    return _lately(Consignment.objects.filter(_stands(since), destination=site_id), _was_counted)


def _stands(since: datetime) -> Q:
    return Q(received_at__gte=since) | Q(Exists(unsettled().filter(consignment=OuterRef("pk"))))


def _lately(rows: QuerySet[Consignment], words: Callable[[ConsignmentLine, _Counts], _Words]) -> list[dict[str, Any]]:
    """The latest, one more than are shown; four queries."""
    lines = ConsignmentLine.objects.select_related("lot__part", "taken_back_event").defer("lot__part__picture")
    shown = rows.select_related("origin", "destination").prefetch_related(Prefetch("lines", lines.order_by("id")))
    found = list(shown.order_by("-sent_at", "-id")[: LISTED_MOST + 1])
    counts = counts_of_all(found)
    told = [[(line, words(line, counts[line.pk])) for line in one.lines.all()] for one in found]
    return [
        {"consignment": one, "lines": [{"line": line, **said} for line, said in lines if said]}
        for one, lines in zip(found, told, strict=True)
        if any(said for _line, said in lines)
    ]


def _was_counted(line: ConsignmentLine, counts: _Counts) -> _Words:
    """Both figures to who has counted; of a line that is not closed not a word about what was sent."""
    if not counts or not line.closed:
        return {}
    unit = line.lot.part.unit
    figures = {"n": amount(_found(line, counts), unit), "sent": amount(line.sent, unit)}
    words = _("%(n)s counted, %(sent)s sent.") % figures
    if line.difference and line.settled_event_id is None:
        return {"mark": "doubt", "word": _missing(line), "words": words}
    return {"mark": "free", "word": _("Settled") if line.difference else _("Agreed"), "words": words}


def _missing(line: ConsignmentLine) -> str:
    rest = {"n": amount(abs(line.difference), line.lot.part.unit)}
    return (_("%(n)s missing") if line.difference > 0 else _("%(n)s too many")) % rest


def _became(line: ConsignmentLine, counts: _Counts) -> _Words:
    """Its mark and its words: "Arrived 26 Nov, 10 of your 12 counted"."""
    unit = line.lot.part.unit
    figures = {
        "n": amount(_found(line, counts), unit),
        "sent": amount(line.sent, unit),
        "at": moment_words(counts[0].event.happened_at) if counts else "",
    }
    if line.taken_back_event is not None:
        words = f"{moment_words(line.taken_back_event.happened_at)} · {line.taken_back_event.person}"
        return {"mark": "here", "word": _("Taken back"), "words": words}
    if not counts:
        return {"mark": "road", "word": "", "words": ""}
    if not line.closed:
        road = {**figures, "road": amount(max(0, line.remaining), unit)}
        words = _("%(n)s of your %(sent)s counted so far, first on %(at)s; %(road)s on the road.") % road
        return {"mark": "road", "word": "", "words": words}
    words = _("Arrived %(at)s: %(n)s of your %(sent)s counted.") % figures
    if not line.difference:
        return {"mark": "free", "word": _("Arrived"), "words": words}
    if line.settled_event_id is not None:
        settled = {"words": words, "rest": _missing(line)}
        return {"mark": "free", "word": _("Settled"), "words": _("%(words)s %(rest)s: settled.") % settled}
    return {"mark": "doubt", "word": _missing(line), "words": words}
