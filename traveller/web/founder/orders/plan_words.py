"""What a plan takes for true, in words: whoever releases it should have read what it rests on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from traveller.orders.planned import Assumption, Plan, Share
from traveller.web.picture_words import day_words
from traveller.web.templatetags.look import whole
from traveller.web.words import say


def sentence(plan: Plan) -> str:
    """What a release would start, and what is missing."""
    if plan.problems:
        return _("This cannot be planned yet.")
    lines = ngettext("%(n)s order line", "%(n)s order lines", len(plan.lines)) % {"n": len(plan.lines)}
    if not plan.batches:
        return _("%(lines)s: everything is in stock or under way; no batch is needed.") % {"lines": lines}
    first = min(batch.start_on for batch in plan.batches)
    reported = ngettext(
        "%(n)s batch for %(lines)s; it must start by %(day)s.",
        "%(n)s batches for %(lines)s; the first must start by %(day)s.",
        len(plan.batches),
    ) % {"lines": lines, "n": len(plan.batches), "day": day_words(first)}
    short = sum(1 for shortage in plan.shortages if shortage.short)
    if not short:
        return reported
    missing = ngettext("%(n)s bought part is short.", "%(n)s bought parts are short.", short) % {"n": short}
    return f"{reported} {missing}"


def problems(plan: Plan) -> list[str]:
    """Why nothing can be released."""
    return [say(problem.code, _joined(problem.figures)) for problem in plan.problems]


def _joined(figures: Mapping[str, Any]) -> dict[str, Any]:
    return {key: " → ".join(value) if isinstance(value, list) else value for key, value in figures.items()}


def shares(rows: Sequence[Share]) -> str:
    """For whom a batch is made: order 1042 line 1: 500."""
    return ", ".join(
        _("order %(order)s line %(line)s: %(n)s")
        % {"order": share.order, "line": share.number, "n": whole(share.quantity)}
        for share in rows
    )


def assumptions(plan: Plan, sites: Mapping[str, str]) -> list[str]:
    """Each assumption as one sentence; sites by their names."""
    return [words for assumption in plan.assumptions if (words := _assumption(assumption, sites))]


def _assumption(assumption: Assumption, sites: Mapping[str, str]) -> str:
    figures: dict[str, Any] = dict(assumption.figures)
    if assumption.code == "step_yield":
        return _step(figures)
    for name in ("site", "origin", "destination"):
        if name in figures:
            figures[name] = sites.get(str(figures[name]), figures[name])
    return say(assumption.code, figures)


def _step(figures: dict[str, Any]) -> str:
    """A step that loses nothing, has nothing taken out and has no loads assumes nothing worth a sentence."""
    good = Decimal(int(figures["yield_ppm"])) / 10_000
    reported = []
    if figures["yield_ppm"] != 1_000_000:
        reported.append(_("%(percent)s %% good") % {"percent": f"{good.normalize():f}"})
    if figures["destroyed"]:
        reported.append(_("%(n)s destroyed by a test") % {"n": figures["destroyed"]})
    if figures["kept"]:
        reported.append(_("%(n)s kept") % {"n": figures["kept"]})
    if figures["cavities"]:
        reported.append(
            ngettext("%(n)s open cavity", "%(n)s open cavities", int(figures["cavities"])) % {"n": figures["cavities"]}
        )
    if figures["startup_shots"]:
        reported.append(_("%(n)s start-up shots") % {"n": figures["startup_shots"]})
    if figures["load_size"]:
        reported.append(_("loads of %(n)s") % {"n": figures["load_size"]})
    if not reported:
        return ""
    place = _("%(part)s, step %(step)s, %(verb)s") % figures
    return f"{place}: {', '.join(reported)}."
