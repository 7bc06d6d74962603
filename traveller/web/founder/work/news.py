"""Events in words, for a thing's history: what was told, by whom, how late, and what was corrected since."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.utils.translation import ngettext

from traveller.batches.reads.corrected import corrected_by
from traveller.journal.models import Event
from traveller.web.founder.desk.frame import link_to
from traveller.web.founder.work import goods_news, move_news
from traveller.web.founder.work.dispositions import disposition_word
from traveller.web.founder.work.goods_news import with_note
from traveller.web.founder.work.names_known import NamesKnown
from traveller.web.parts.resubmitting import why_for_review
from traveller.web.templatetags.look import lapse_words, whole
from traveller.web.words import say

# What is told at the end of a shift is still told on the spot.
_LATE = timedelta(minutes=30)
# A phone's clock is never quite ours.
CLOCK_OFF = timedelta(minutes=2)
_DOUBTS = ("count corrected", "arrived unannounced", "arrived unknown", "over tolerance", "difference settled")
Words = Callable[[NamesKnown, Event, Mapping[str, Any]], str]


@dataclass(frozen=True)
class Piece:
    """One line of a history, as parts/history.html sets it."""

    at: datetime
    words: str
    by: SafeString | str = ""
    kind: str = ""
    late: str = ""
    struck: bool = False


def history_of(events: Sequence[Event], known: NamesKnown, *, correct: bool = False) -> list[Piece]:
    """The lines of a history in the order given; `correct`: counts lead to their correction."""
    corrected = {event.corrects_id: event for event in events if event.corrects_id}
    return [
        _piece(event, known, corrected.get(event.pk), correct=correct) for event in events if not _only_missing(event)
    ]


def _only_missing(event: Event) -> bool:
    """A verdict that evidence is still to come, which each load gives when it goes in: no news."""
    verdicts = event.data.get("verdicts", [])
    return event.kind == "judged" and bool(verdicts) and all(row["outcome"] == "missing" for row in verdicts)


def _piece(event: Event, known: NamesKnown, corrected: Event | None, *, correct: bool) -> Piece:
    reported: Mapping[str, Any] = event.data.get("told", {})
    words = (
        _WORDS[event.kind](known, event, reported) if event.kind in _WORDS else event.kind[:1].upper() + event.kind[1:]
    )
    by: SafeString | str = _by(event)
    if corrected is not None and corrected.kind == "undone":
        by = _("%(by)s · taken back by %(person)s") % {"by": by, "person": corrected.person}
    elif corrected is not None:
        by = _("%(by)s · corrected: %(reason)s") % {"by": by, "reason": corrected.data["told"].get("reason", "")}
    elif correct and event.kind == "counted":
        by = format_html('{} · <a href="{}">{}</a>', by, link_to("correct", event.pk), _("correct this count"))
    return Piece(
        at=event.happened_at,
        words=words,
        by=by,
        kind=_knot(event),
        late=_late(event),
        struck=corrected is not None,
    )


def _late(event: Event) -> str:
    """How long after it happened it was heard, and whether a phone's clock had to be put right."""
    lapse = event.recorded_at - event.happened_at
    reported = _("told %(lapse)s later") % {"lapse": lapse_words(lapse)} if lapse > _LATE else ""
    return " · ".join(words for words in (reported, clock_words(event.device_offset_ms)) if words)


def clock_words(offset_ms: int | None) -> str:
    """What is said of a phone whose clock was off by more than two minutes when it sent."""
    off = timedelta(milliseconds=offset_ms or 0)
    if abs(off) <= CLOCK_OFF:
        return ""
    minutes = round(abs(off).total_seconds() / 60)
    figures = {"h": minutes // 60, "min": minutes % 60, "d": whole(minutes // 1440)}
    if minutes < 60:
        lapse = _("%(min)s min") % figures
    elif minutes < 2 * 1440:
        lapse = _("%(h)s h %(min)s min") % figures
    else:
        lapse = _("%(d)s days") % figures
    if off > timedelta(0):
        return _("phone’s clock was %(lapse)s ahead; corrected") % {"lapse": lapse}
    return _("phone’s clock was %(lapse)s behind; corrected") % {"lapse": lapse}


def _by(event: Event) -> str:
    site = event.site.name if event.site else ""
    if event.on_behalf:
        return _("%(person)s, by phone from %(site)s") % {"person": event.person, "site": site}
    return ", ".join(part for part in (event.person, site) if part)


def _knot(event: Event) -> str:
    if event.kind in ("held", "part held", "problem reported"):
        return "stop"
    if event.kind == "judged" and any(row["outcome"] == "failed" for row in event.data.get("verdicts", [])):
        return "stop"
    if event.kind in _DOUBTS:
        return "doubt"
    return "road" if event.kind in ("sent", "received") else ""


def pieces_words(reported: Mapping[str, Any], said: Callable[[int], str]) -> str:
    """Figures of a count: "98 good, 2 scrap (short 2), 1 rework"; `said` writes a quantity of that part."""
    words = [_("%(n)s good") % {"n": said(reported.get("good", 0))}]
    reasons: Mapping[str, int] = reported.get("scrap") or {}
    if scrap := sum(reasons.values()):
        why = ", ".join(f"{reason} {said(n)}" for reason, n in reasons.items() if n)
        words.append(_("%(n)s scrap (%(why)s)") % {"n": said(scrap), "why": why})
    if reported.get("rework"):
        words.append(_("%(n)s to rework") % {"n": said(reported["rework"])})
    if reported.get("samples"):
        samples = reported["samples"]
        words.append(ngettext("%(n)s sample", "%(n)s samples", samples) % {"n": said(samples)})
    return ", ".join(words)


def _counted(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    words = known.step(event) + pieces_words(reported, known.amount)
    if reported.get("again"):
        words += _(", out of rework")
    if reported.get("done"):
        words += _("; step done") + _far_below(event)
    return with_note(words, reported)


def _started(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    return known.step(event) + _("started.")


def _load_started(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    pieces = reported.get("quantity", 0)
    figures = {"load": event.data.get("load"), "n": whole(pieces), "place": reported.get("place", "")}
    words = ngettext("load %(load)s in, %(n)s piece", "load %(load)s in, %(n)s pieces", pieces) % figures
    return known.step(event) + words + (f" ({figures['place']})." if figures["place"] else ".")


def _load_ended(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    words = known.step(event) + _("load %(load)s out.") % {"load": event.data.get("load_number")}
    return f"{words} “{reported['late_reason']}”" if reported.get("late_reason") else words


def _measured(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    values = [f"{name} {value} {unit}".strip() for _key, name, value, unit, *_rest in reported.get("readings", [])]
    return known.step(event) + _("measured %(values)s.") % {"values": ", ".join(values)}


def _evidence(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    kinds = {
        "log": _("temperature log"),
        "core": _("log from inside a part"),
        "photo": _("photo"),
        "certificate": _("certificate"),
    }
    figures = {"kind": kinds.get(reported.get("kind", ""), ""), "name": reported.get("name", "")}
    return known.step(event) + _("%(kind)s %(name)s sent.") % figures


_ANSWERED = {
    "date_order": lazy("first in the date:"),
    "unit": lazy("unit"),
    "unit_sure": lazy("unit"),
    "channel": lazy("channel"),
    "zone": lazy("zone"),
    "start": lazy("start"),
    "elapsed_unit": lazy("counted in"),
    "probe": lazy("probe:"),
    "oven": lazy("of this load or of another:"),
}


def _understood(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    answers = ", ".join(f"{_ANSWERED.get(name, name)} {value}" for name, value in reported.get("answers", {}).items())
    return known.step(event) + _("how the log is to be read: %(answers)s.") % {"answers": answers}


def _step_done(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    lost = reported.get("lost", 0)
    words = _("done; %(n)s cannot be found") % {"n": known.amount(lost)} if lost else _("done")
    return with_note(known.step(event) + words + _far_below(event), reported)


def _far_below(event: Event) -> str:
    """Done far below plan: what the shop says of it, or that nobody was asked."""
    short = event.data.get("short")
    if not short:
        return ""
    figures = {"planned": whole(short["planned"]), "recorded": whole(short["recorded"])}
    if short["said"]:
        return _("; %(planned)s planned, %(recorded)s recorded: asked, the shop says that is all") % figures
    return _("; %(planned)s planned, only %(recorded)s recorded, and nobody was asked whether that is all") % figures


def _corrected(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    figures = {"pieces": pieces_words(reported, known.amount), "reason": reported.get("reason", "")}
    words = known.step(event) + _("the count was %(pieces)s: %(reason)s.") % figures
    gone = corrected_by(event).gone
    if gone:
        words += " " + ngettext(
            "%(n)s piece was used or sent on before: it stands as unexplained.",
            "%(n)s pieces were used or sent on before: they stand as unexplained.",
            gone,
        ) % {"n": whole(gone)}
    return words


def _judged(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    rows = event.data.get("verdicts", [])
    # A step's own verdict says it all; those of its loads stand in the table of checks.
    reported_rows = [row for row in rows if row["load"] is None] or rows
    outcomes = {"passed": _("passed"), "failed": _("failed"), "missing": _("not shown yet")}
    said = [
        f"{row['check'].replace('-', ' ')} {outcomes.get(row['outcome'], row['outcome'])}: "
        f"{say(row['code'], row['figures'])}"
        for row in reported_rows
    ]
    return known.step(event) + (" ".join(said) or _("judged again."))


def _held(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    return _("Held: %(reason)s") % {"reason": reported.get("reason", "")}


def _problem(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    return _("Problem reported: %(reason)s") % {"reason": reported.get("reason", "")}


def _part_held(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    figures = {
        "n": known.amount(reported.get("quantity", 0)),
        "site": known.site(reported.get("site")),
        "reason": reported.get("reason", ""),
    }
    return _("%(n)s at %(site)s set apart and held: %(reason)s") % figures


def _decided(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    words = disposition_word(reported.get("disposition", ""))
    if reported.get("to_step"):
        words = _("%(words)s from step %(step)s on") % {"words": words, "step": reported["to_step"]}
    return _("Decided: %(words)s. %(reason)s") % {"words": words, "reason": reported.get("reason", "")}


def _first_piece(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    words = _("First-off approved: %(reason)s") if reported.get("approved") else _("First-off refused: %(reason)s")
    return words % {"reason": reported.get("reason", "")}


def _keep_for_review(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    return _("Told by a phone and set aside: %(why)s") % {
        "why": why_for_review(event.data["reason"], event.data["figures"])
    }


def _taken(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    if reported.get("came"):
        return _("What a phone had told was booked, once its cause was known.")
    return _("What a phone had told was taken and booked.")


def _left(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    return _("What a phone had told was left out: %(reason)s") % {"reason": reported.get("reason", "")}


def _printed(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    return _("Traveller printed, print %(n)s.") % {"n": event.data.get("serial")}


def _problem_taken_back(known: NamesKnown, event: Event, reported: Mapping[str, Any]) -> str:
    return _("Problem taken back: it holds nothing any more.")


_WORDS: Mapping[str, Words] = {
    "step started": _started,
    "load started": _load_started,
    "load ended": _load_ended,
    "counted": _counted,
    "measured": _measured,
    "evidence sent": _evidence,
    "log understood": _understood,
    "step done": _step_done,
    "count corrected": _corrected,
    "judged": _judged,
    "held": _held,
    "problem reported": _problem,
    "problem taken back": _problem_taken_back,
    "part held": _part_held,
    "decided": _decided,
    "first-off decided": _first_piece,
    "traveller printed": _printed,
    "set aside": _keep_for_review,
    "set aside taken": _taken,
    "set aside left": _left,
    **goods_news.WORDS,
    **move_news.WORDS,
}
