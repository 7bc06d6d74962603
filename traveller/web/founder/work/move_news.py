"""Words for a history: what happened to a batch's pieces where they lay."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.utils.translation import gettext as _

from traveller.journal.models import Event
from traveller.web.founder.work.names_known import NamesKnown
from traveller.web.templatetags.look import whole

_Told = Mapping[str, Any]


def _undone(known: NamesKnown, event: Event, reported: _Told) -> str:
    return known.step(event) + _("taken back: it did not occur.")


def _split(known: NamesKnown, event: Event, reported: _Told) -> str:
    figures = {
        "n": known.amount(reported["quantity"]),
        "site": known.site(reported["site"]),
        "reason": reported["reason"],
    }
    return _("%(n)s at %(site)s set apart as a batch of their own: %(reason)s") % figures


def _recombined(known: NamesKnown, event: Event, reported: _Told) -> str:
    taken = sum(event.data.get("taken", {}).values())
    figures = {"n": known.amount(taken), "site": known.site(reported["site"]), "reason": reported["reason"]}
    return _("Joined at %(site)s, %(n)s in all: %(reason)s") % figures


def _rest(known: NamesKnown, event: Event, reported: _Told) -> str:
    figures = {
        "n": known.amount(event.data["quantity"]),
        "from": known.site(reported["site"]),
        "reason": reported["reason"],
    }
    if reported["to_site"] is not None:
        words = _("%(n)s carried from %(from)s to %(to)s: %(reason)s")
        return words % {**figures, "to": known.site(reported["to_site"])}
    return _("%(n)s at %(from)s moved from one batch to another: %(reason)s") % figures


def _found(known: NamesKnown, event: Event, reported: _Told) -> str:
    figures = {"n": known.amount(reported["quantity"]), "reason": reported["reason"]}
    return known.step(event) + _("%(n)s told as scrap were found good: %(reason)s") % figures


def _cavities(known: NamesKnown, event: Event, reported: _Told) -> str:
    figures = {"n": reported["open_cavities"], "before": event.data["before"], "shots": whole(reported["shots"])}
    words = _("%(n)s cavities open, %(before)s before.") % figures
    if reported["shots"]:
        words += " " + _("%(shots)s shots since the last count till then.") % figures
    return known.step(event) + (f"{words} “{reported['reason']}”" if reported["reason"] else words)


def _rerouted(known: NamesKnown, event: Event, reported: _Told) -> str:
    figures = {
        "old": known.site(event.data["old_site"]),
        "new": known.site(reported["site"]),
        "reason": reported["reason"],
    }
    return known.step(event) + _("to be done at %(new)s instead of %(old)s: %(reason)s") % figures


def _written_off(known: NamesKnown, event: Event, reported: _Told) -> str:
    figures = {
        "n": known.amount(reported["quantity"]),
        "site": known.site(reported["site"]),
        "reason": reported["reason"],
    }
    return _("%(n)s at %(site)s written off: %(reason)s") % figures


def _again(known: NamesKnown, event: Event, reported: _Told) -> str:
    return _("%(n)s that were missing are made again in a new batch.") % {"n": known.amount(event.data["wanted"])}


def _own_number(known: NamesKnown, event: Event, reported: _Told) -> str:
    return _("The shop calls it %(number)s.") % {"number": reported["number"]}


WORDS: Mapping[str, Callable[[Any, Event, _Told], str]] = {
    "undone": _undone,
    "split": _split,
    "recombined": _recombined,
    "rest moved": _rest,
    "scrap found good": _found,
    "cavities changed": _cavities,
    "own number told": _own_number,
    "step rerouted": _rerouted,
    "written off": _written_off,
    "made again": _again,
}
