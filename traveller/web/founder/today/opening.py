"""The sentence that opens the first page and the order pages, computed from what is known."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from traveller.batches.reads.queries import Whereabouts
from traveller.ledger.models import Condition
from traveller.orders.queries import OrderOverview
from traveller.rules.codes import show_code as show_code
from traveller.web.founder.orders.order_reads import day, is_late, owed
from traveller.web.templatetags.look import whole


def number_words(n: int) -> str:
    """A small number as a word; beyond twelve in figures."""
    words = (
        _("none"), _("one"), _("two"), _("three"), _("four"), _("five"), _("six"), _("seven"), _("eight"), _("nine"),
        _("ten"), _("eleven"), _("twelve"),
    )  # fmt: skip
    return words[n] if n < len(words) else whole(n)


def home_sentence(orders: Sequence[OrderOverview], why: str, today: date, waiting: int) -> str:
    """How many orders are open, which is late and why, and how many things need the founder."""
    return " ".join(part for part in (_orders(orders, why, today), _waiting(waiting)) if part)


def _orders(orders: Sequence[OrderOverview], why: str, today: date) -> str:
    if not orders:
        return _("No order is open.")
    n = len(orders)
    opening = ngettext("%(n)s order is open", "%(n)s orders are open", n) % {"n": number_words(n)}
    opening = opening[:1].upper() + opening[1:]
    late = [row for row in orders if is_late(row, today)]
    first = late[0] if late else orders[0]
    figures = {
        "opening": opening,
        "order": first.order.number,
        "day": day(first.due_on),
        "late": number_words(len(late)),
    }
    if len(late) == 1:
        text = _("%(opening)s; %(order)s is late: it was due %(day)s") % figures
    elif late:
        text = _("%(opening)s, %(late)s of them late; %(order)s was due %(day)s") % figures
    elif first.due_on:
        text = _("%(opening)s, none late; %(order)s is due next, %(day)s") % figures
    else:
        text = _("%(opening)s, all shipped in full") % figures
    if not why:
        return f"{text}."
    return (_("%(text)s, because %(why)s.") if late else _("%(text)s: %(why)s.")) % {"text": text, "why": why}


def _waiting(n: int) -> str:
    if not n:
        return _("Nothing needs a decision.")
    text = ngettext("%(n)s thing needs you.", "%(n)s things need you.", n) % {"n": number_words(n)}
    return text[:1].upper() + text[1:]


def why_not_shipped(found: Sequence[Whereabouts], row: OrderOverview) -> str:
    """The first thing that stands between an order and its shipment, as the end of a sentence."""
    if held := _held(found):
        return held
    if any(line.released < line.wanted for line in owed(row)):
        return _("not all of it is released")
    if behind := _behind(found):
        return behind
    if any(lie.condition == Condition.ON_THE_ROAD for batch in found for lie in batch.lies):
        return _("goods for it are on the road")
    over = [batch for batch in found if batch.current is not None]
    if over and not any(batch.lies for batch in found):
        # Closed before its last steps had anything to do.
        return _("batch %(code)s brought nothing: see what is missing") % {"code": show_code(over[0].batch.code)}
    return _("it waits to be packed") if found else ""


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
    return _("%(part)s is at %(site)s before step %(step)s, %(verb)s") % {
        "part": slow.batch.part.title, "site": step.site.name, "step": step.number, "verb": step.operation.verb,
    }  # fmt: skip
