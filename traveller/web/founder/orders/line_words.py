"""An order line in words: what of it is shipped, and where each piece of the rest stands, in figures."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _

from traveller.batches.models import StepState
from traveller.batches.reads.queries import Whereabouts
from traveller.ledger.models import Condition
from traveller.orders.short import Lookout, Outlook
from traveller.web.founder.orders.order_reads import orders_of
from traveller.web.templatetags.look import whole


def line_sentence(outlook: Outlook) -> str:
    """Of a line that something is to follow of: "Camp lantern, amber: 228 of 240 shipped, 12 missing"."""
    line = outlook.line
    phrases = state_phrases(outlook)
    if line.shipped:
        phrases.insert(0, _("%(n)s of %(wanted)s shipped") % {"n": whole(line.shipped), "wanted": whole(line.quantity)})
    return _("%(part)s: %(what)s") % {"part": line.part.title, "what": ", ".join(phrases)}


def state_phrases(outlook: Outlook) -> list[str]:
    """Each piece that is to follow once, what lacks most first."""
    found = [
        (outlook.short, _("%(n)s missing")),
        (outlook.unreleased, _("%(n)s not released")),
        (outlook.of("stopped"), _("%(n)s finished but held or not proved")),
        (outlook.of("unborn"), _("%(n)s not made yet")),
        (outlook.of("work"), _("%(n)s being worked on")),
        (outlook.of("away"), _("%(n)s finished at another shop")),
        (outlook.of("road"), _("%(n)s on the road")),
        (outlook.of("ready"), _("%(n)s ready to pack")),
        (outlook.packed, _("%(n)s packed, not shipped")),
    ]
    return [words % {"n": whole(n)} for n, words in found if n]


def lines_and_causes(outlooks: Sequence[Outlook], lookout: Lookout, found: Sequence[Whereabouts]) -> list[str]:
    """Each line's sentence with what keeps it, of the batches that serve it; without a full stop."""
    shares = orders_of([row.batch for row in found])
    told = []
    for outlook in outlooks:
        mine = [row for row in found if any(s.line_id == outlook.line.pk for s in shares[row.batch.pk])]
        told.append("; ".join(part for part in (line_sentence(outlook), cause_words(outlook, lookout, mine)) if part))
    return told


def cause_words(outlook: Outlook, lookout: Lookout, found: Sequence[Whereabouts]) -> str:
    """What keeps pieces from being made that are not made yet: a component that is missing, held, or behind."""
    if not outlook.of("unborn"):
        return ""
    part_id = outlook.line.part_id
    lacking = [
        (n, row.part)
        for row in lookout.short
        for line, n in row.lines
        if line.pk == outlook.line.pk and row.part.pk != part_id
    ]
    if lacking:
        n, part = max(lacking, key=lambda row: row[0])
        return _("%(n)s %(part)s are missing") % {"n": whole(n), "part": part.title}
    components = [row for row in found if row.batch.part_id != part_id]
    return _held(components) or _behind(components)


def _held(found: Sequence[Whereabouts]) -> str:
    """Of the first batch that is held, where most of it lies."""
    for batch in found:
        held = [lie for lie in batch.lies if batch.holds and lie.condition != Condition.PACKED]
        if held:
            most = max(held, key=lambda lie: lie.quantity)
            return _("%(n)s %(part)s are held at %(site)s") % {
                "n": whole(most.quantity), "part": batch.batch.part.title, "site": most.site,
            }  # fmt: skip
    return ""


def _behind(found: Sequence[Whereabouts]) -> str:
    """What has most steps ahead of it holds up the rest."""
    behind = [(batch, batch.current) for batch in found if batch.current and batch.batch.closed_at is None]
    if not behind:
        return ""
    slow, step = max(behind, key=lambda one: (sum(step.state != "done" for step in one[0].steps), one[0].batch.pk))
    figures = {
        "part": slow.batch.part.title, "site": step.site.name, "step": step.number, "verb": step.operation.verb,
        "n": whole(sum(lie.quantity for lie in slow.lies if lie.step == step.number)),
    }  # fmt: skip
    if step.state == StepState.RUNNING:
        return _("%(part)s: step %(step)s, %(verb)s, is under way at %(site)s") % figures
    if any(lie.step == step.number for lie in slow.lies):
        return _("%(n)s %(part)s wait for step %(step)s, %(verb)s, at %(site)s") % figures
    # Of what nobody has begun nothing is at a shop.
    return _("%(part)s: step %(step)s, %(verb)s, at %(site)s is not begun") % figures
