"""Two counts of the same goods in words: how each was made, what it resolves, what that says of the difference."""

from __future__ import annotations

from typing import Any, cast

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from traveller.dispatches.models import ConsignmentLine
from traveller.dispatches.queries import ArrivalCount
from traveller.rules.counts import Comparison, CountHow, Method, compare_counts, spread_sd
from traveller.web.founder.desk.listing import amount
from traveller.web.templatetags.look import moment_words

COVERAGE_SD = 2
METHOD_WORDS = {
    "hand": gettext_lazy("by hand, piece by piece"),
    "weight": gettext_lazy("by weight"),
    "shots": gettext_lazy("by the shot counter"),
}


def method_words(method: str, sample: int) -> str:
    """How a count was made: by weight, piece weight from 50 pieces."""
    words = str(METHOD_WORDS.get(method, method))
    if method == "weight":
        pieces = sample or 10
        return _("%(method)s, piece weight from %(n)s pieces") % {"method": words, "n": pieces}
    return words


def count_words(count: ArrivalCount, unit: str) -> dict[str, object]:
    """One count on arrival: its figure, how it was made, when and by whom, and what the counter knew."""
    said = [method_words(count.method, count.sample)]
    said += [_("reported by phone")] if count.by_phone else []
    said += [_("counted again")] if count.again else []
    said += [_("the sender’s figure was known")] if count.seen else [_("unseen")]
    said += [] if count.recorded else [_("more than was sent: asked, and counted again")]
    if count.used:
        said.append(_("%(n)s more had been used by then") % {"n": amount(count.used, unit)})
    by = f"{moment_words(count.event.happened_at)}, {count.event.person}"
    return {"n": amount(count.quantity, unit), "how": ", ".join(said), "by": by}


def compared(line: ConsignmentLine) -> tuple[CountHow, CountHow, Comparison]:
    """Both counts of a line, and what their methods can resolve between them."""
    sent = CountHow(line.sent, cast(Method, line.sent_method), line.sent_sample)
    # What arrived at the wrong site was counted as well.
    received = CountHow(
        line.received + line.misdirected, cast(Method, line.received_method or "hand"), line.received_sample
    )
    return sent, received, compare_counts(sent, received, COVERAGE_SD)


def explained(line: ConsignmentLine) -> list[str]:
    """Sentences with method, spread and coverage, for whoever has to settle the difference."""
    sent, received, result = compared(line)
    reported = [
        _one(_("Sent"), sent, line.sent_sample, line),
        _one(_("Counted on arrival"), received, line.received_sample, line),
    ]
    figures: dict[str, Any] = {
        "coverage": COVERAGE_SD,
        "resolves": amount(result.resolves, line.lot.part.unit),
        "difference": amount(abs(result.difference), line.lot.part.unit),
    }
    if result.resolves:
        reported.append(
            _("Together they resolve ± %(resolves)s (%(coverage)s standard deviations of both counts).") % figures
        )
    elif "weight" in (sent.method, received.method):
        reported.append(
            _("Together they resolve less than one (%(coverage)s standard deviations): any difference counts.")
            % figures
        )
    else:
        reported.append(_("Counts made piece by piece have no spread: any difference is one to settle."))
    inside = _("The difference of %(difference)s is inside that: the finer count was booked.")
    outside = _("The difference of %(difference)s is outside that: the receiver's count was booked.")
    reported.append((inside if result.inside else outside) % figures)
    return reported


def _one(who: str, count: CountHow, sample: int, line: ConsignmentLine) -> str:
    figures = {
        "who": who,
        "quantity": amount(count.quantity, line.lot.part.unit),
        "method": method_words(count.method, sample),
        "spread": f"{spread_sd(count):.1f}",
    }
    if count.method != "weight":
        return _("%(who)s: %(quantity)s, %(method)s.") % figures
    return _("%(who)s: %(quantity)s, %(method)s; spread %(spread)s pieces (one standard deviation).") % figures
