"""Words for a history: goods between sites, sent, counted, without notice or label, and differences settled."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.utils.translation import gettext as _

from traveller.journal.models import Event
from traveller.rules.codes import TravellerCode, show_code
from traveller.web.founder.work.names_known import NamesKnown

_Told = Mapping[str, Any]


def with_note(words: str, reported: _Told) -> str:
    """A remark stands behind the sentence as it was typed."""
    return f"{words}. “{reported['note']}”" if reported.get("note") else f"{words}."


def _sent_back(known: NamesKnown, event: Event, reported: _Told) -> str:
    return _("%(n)s sent back to step %(step)s.") % {
        "n": known.amount(reported.get("quantity", 0)),
        "step": reported.get("to_step"),
    }


def _sent(known: NamesKnown, event: Event, reported: _Told) -> str:
    lines = reported.get("lines", [])
    own = [line for line in lines if known.lot_id in (None, line[0])]
    figures = {"n": _all_of(known, own), "site": known.site(reported.get("destination"))}
    words = _("%(n)s sent to %(site)s") % figures
    if reported.get("purpose") == "return":
        words = _("%(n)s sent back to %(site)s") % figures
    return with_note(words, reported)


def _all_of(known: NamesKnown, lines: list[Any]) -> str:
    """So much of each lot; where it was converted, as it was typed."""
    if not lines or all(line[0] == lines[0][0] for line in lines):
        said = known.amount(sum(line[1] for line in lines), lines[0][0] if lines else None)
        typed = lines[0][7].get("typed") if len(lines) == 1 and len(lines[0]) > 7 else ""
        return f"{typed} = {said}" if typed else said
    return ", ".join(known.amount(line[1], line[0]) for line in lines)


def _received(known: NamesKnown, event: Event, reported: _Told) -> str:
    if "quantity" not in reported:
        return _("What had been counted on arrival is booked now.")
    typed, n = (reported.get("how") or {}).get("typed"), known.amount(reported["quantity"])
    return with_note(_("%(n)s counted on arrival") % {"n": f"{typed} = {n}" if typed else n}, reported)


def _counted_again(known: NamesKnown, event: Event, reported: _Told) -> str:
    words = _("%(n)s counted again on arrival") % {"n": known.amount(reported.get("quantity", 0))}
    if used := event.data.get("used"):
        words = _("%(words)s, after %(n)s more had been used") % {"words": words, "n": known.amount(used)}
    return with_note(words, reported)


def _taken_back(known: NamesKnown, event: Event, reported: _Told) -> str:
    code = show_code(TravellerCode(event.data.get("consignment", "")))
    return _("Dispatch %(code)s taken back: it never left.") % {"code": code}


def _unannounced(known: NamesKnown, event: Event, reported: _Told) -> str:
    if event.data.get("misdirected"):
        return with_note(
            _("%(n)s arrived at the wrong site") % {"n": known.amount(reported.get("quantity", 0))}, reported
        )
    words = _("%(n)s arrived that nobody had told were sent") % {"n": known.amount(reported.get("quantity", 0))}
    return with_note(words, reported)


def _settled(known: NamesKnown, event: Event, reported: _Told) -> str:
    found = {"lost": _("lost on the way"), "at_sender": _("still at the sender"), "never_counted": _("never counted")}
    figures = {
        "n": known.amount(abs(event.data.get("difference", 0))), "finding": found.get(reported.get("finding", ""), ""),
        "reason": reported.get("reason", ""),
    }  # fmt: skip
    return _("Difference of %(n)s settled, %(finding)s: %(reason)s") % figures


def _unknown(known: NamesKnown, event: Event, reported: _Told) -> str:
    figures = {"n": known.amount(reported.get("quantity", 0)), "words": reported.get("words") or "–"}
    return with_note(_("%(n)s arrived of an unknown lot: %(words)s") % figures, reported)


def _matched(known: NamesKnown, event: Event, reported: _Told) -> str:
    what = ", ".join(show_code(TravellerCode(code)) for code in event.data.get("lots", []))
    return _("What had come without a label is %(what)s: %(reason)s.") % {
        "what": what or _("a lot of its own"), "reason": reported.get("reason", ""),
    }  # fmt: skip


def _over(known: NamesKnown, event: Event, reported: _Told) -> str:
    figures = {"n": known.amount(event.data.get("surplus", 0)), "most": known.amount(event.data.get("most", 0))}
    return _("%(n)s set apart and held: more than the %(most)s that the tolerance allows.") % figures


def _mixed(known: NamesKnown, event: Event, reported: _Told) -> str:
    words = _("%(n)s counted on arrival, several lots mixed in one tote") % {
        "n": known.amount(reported.get("quantity", 0))
    }
    return with_note(words, reported)


def _rest_settled(known: NamesKnown, event: Event, reported: _Told) -> str:
    found = {"lost": _("lost"), "found": _("found again"), "never_counted": _("never counted")}
    figures = {
        "n": known.amount(abs(event.data.get("quantity", 0))), "finding": found.get(reported.get("finding", ""), ""),
        "reason": reported.get("reason", ""),
    }  # fmt: skip
    return _("%(n)s unexplained settled, %(finding)s: %(reason)s.") % figures


WORDS: Mapping[str, Callable[[NamesKnown, Event, _Told], str]] = {
    "sent back to step": _sent_back,
    "sent": _sent,
    "received": _received,
    "counted again": _counted_again,
    "dispatch taken back": _taken_back,
    "arrived unannounced": _unannounced,
    "difference settled": _settled,
    "arrived unknown": _unknown,
    "unknown matched": _matched,
    "over tolerance": _over,
    "mixed": _mixed,
    "unexplained settled": _rest_settled,
}
