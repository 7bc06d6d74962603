"""The sentence that opens the first page and the order pages, computed from what is known."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from traveller.batches.reads.queries import Whereabouts
from traveller.orders.queries import OrderOverview
from traveller.orders.short import Lookout
from traveller.web.founder.orders.line_words import lines_and_causes
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
    """How many orders are open, which is late, how its pieces stand, and how many things need the founder."""
    return " ".join(part for part in (_orders(orders, today), f"{why}." if why else "", _waiting(waiting)) if part)


def _orders(orders: Sequence[OrderOverview], today: date) -> str:
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
        "day": day(first.due_on, today),
        "late": number_words(len(late)),
    }
    if len(late) == 1:
        return _("%(opening)s; %(order)s is late (due %(day)s).") % figures
    if late:
        return _("%(opening)s, %(late)s of them late; %(order)s was due %(day)s.") % figures
    if first.due_on:
        return _("%(opening)s, none late; %(order)s is due next, %(day)s.") % figures
    return _("%(opening)s, all shipped in full.") % figures


def _waiting(n: int) -> str:
    if not n:
        return _("Nothing needs a decision.")
    text = ngettext("%(n)s thing needs you.", "%(n)s things need you.", n) % {"n": number_words(n)}
    return text[:1].upper() + text[1:]


def why_not_shipped(row: OrderOverview, lookout: Lookout, found: Sequence[Whereabouts]) -> str:
    """How the pieces of the line that is due first stand, and what keeps those that are not made yet."""
    lines = sorted(owed(row), key=lambda line: (line.line.due_on, line.line.number))
    if not lines or (outlook := lookout.lines.get(lines[0].line.pk)) is None:
        return ""
    return lines_and_causes([outlook], lookout, found)[0]
