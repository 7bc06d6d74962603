"""Two counts of the same goods in words: how each was made, what it resolves, what that says of the difference."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from traveller.dispatches.models import ConsignmentLine
from traveller.dispatches.queries import ArrivalCount
from traveller.dispatches.weighed import Scale, sides_of
from traveller.rules.counts import Comparison, CountHow, cannot_tell, compare_counts, enough_sample, spread_sd
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
    # Where the sender's figure was booked, the receiver's own stands beside it all the same.
    sent, received = sides_of(line, line.received_scale.get("counted"))
    return sent, received, compare_counts(sent, received, COVERAGE_SD)


def explained(line: ConsignmentLine) -> list[str]:
    """Sentences with method, spread and coverage, for whoever has to settle the difference."""
    sent, received, result = compared(line)
    reported = [
        _one(_("Sent"), sent, line.sent_sample, line.sent_scale, line),
        _one(_("Counted on arrival"), received, line.received_sample, line.received_scale, line),
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


def _one(who: str, count: CountHow, sample: int, scale: Scale, line: ConsignmentLine) -> str:
    figures = {
        "who": who,
        "quantity": amount(count.quantity, line.lot.part.unit),
        "method": method_words(count.method, sample),
        "spread": f"{spread_sd(count):.1f}",
    }
    if count.method != "weight":
        return _("%(who)s: %(quantity)s, %(method)s.") % figures
    words = _("%(who)s: %(quantity)s, %(method)s; spread %(spread)s pieces (one standard deviation).") % figures
    return " ".join([words, *_of_scale(count, scale)])


def _of_scale(count: CountHow, scale: Scale) -> list[str]:
    """What the spread is taken from, and what would make it smaller where it is too wide to tell anything."""
    pairs, share = scale.get("pairs", 0), f"{count.cv_ppm / 10_000:.1f} %"
    found = [
        _("A piece's weight varies by %(share)s, by %(pairs)s counts of such goods.") % {"share": share, "pairs": pairs}
        if pairs
        else _("A piece's weight is assumed to vary by %(share)s.") % {"share": share}
    ]
    if not count.steps:
        return [*found, _("The scale's step is not known: it counts as none.")]
    steps = {"step": scale["step"], "sample": scale["sample_step"]}
    found.append(_("Steps of the scale: %(sample)s for the piece weight, %(step)s for the goods.") % steps)
    if cannot_tell(count):
        wanted = enough_sample(count)
        found.append(
            _("That is too coarse for such a count: %(wanted)s pieces weighed together would do.") % {"wanted": wanted}
            if wanted
            else _("That is too coarse for so few pieces: a finer scale or a count by hand is needed.")
        )
    return found
