"""What needs the founder: each thing a tag with one sentence and one deed. A constant number of queries."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from django.db.models import F
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from traveller.batches.files.turns import silent_since
from traveller.batches.files.turns import waiting as unread
from traveller.batches.history.for_review import KIND as ASIDE
from traveller.batches.models import Verdict
from traveller.batches.reads.queries import LYING
from traveller.dispatches.models import ConsignmentLine
from traveller.journal.models import Parked
from traveller.ledger.models import OWED, Account, Hold, Lot
from traveller.products.models import Check
from traveller.web.founder.desk.frame import Desk, link_to
from traveller.web.founder.desk.listing import amount
from traveller.web.founder.work.places import code_words
from traveller.web.founder.work.usual import Usual, bound_words, days_words, overstays
from traveller.web.pictures.marks import MarkDrawn
from traveller.web.shown_file import PATIENCE
from traveller.web.templatetags.look import lapse_words, moment_words, whole
from traveller.web.words import say

# More of one kind are counted in words: a page of forty tags asks for nothing.
EACH_MOST = 3
# So many rows are read to be told.
READ_MOST = 8


@dataclass(frozen=True, slots=True)
class Decision:
    """A tie-on tag."""

    kind: MarkDrawn
    word: str
    text: str
    link: str = ""
    deed: str = ""
    stands_for: int = 1


def root_holds() -> list[Decision]:
    """Holds that nobody has decided; those inherited from them fall with them, those to be returned wait."""
    rows = Hold.objects.filter(root=None, closed_at=None, disposition="")
    named = rows.select_related("lot__part").defer("lot__part__picture")
    shown = list(named.order_by("opened_at", "id")[:READ_MOST])
    lying = _lying({hold.lot_id for hold in shown})
    found = []
    for hold in shown:
        problem = hold.code == "problem_reported"
        text = _("%(what)s: %(why)s") % {
            "what": lying.get(hold.lot_id) or _("Nothing of it lies anywhere yet"),
            "why": say(hold.code, hold.figures),
        }
        found.append(
            Decision(
                "gate" if problem else "held",
                _("Problem reported") if problem else _("Held"),
                f"{hold.lot.part.title}, {code_words(hold.lot.code)}: {text}",
                link_to("hold", hold.pk),
                _("Decide what happens to it"),
            )
        )
    return few(found, _("Held"), "held", link_to("holds"), rows.count())


def _lying(lot_ids: set[int]) -> dict[int, str]:
    """In words: how much of each lot lies where."""
    sums: dict[int, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    units: dict[int, str] = {}
    rows = Account.objects.filter(lot__in=lot_ids, condition__in=LYING, balance__gt=0)
    for lot, unit, site, balance in rows.values_list("lot_id", "lot__part__unit", "site__name", "balance"):
        units[lot] = unit
        sums[lot][site] += balance
    return {
        lot: ", ".join(
            _("%(n)s at %(site)s") % {"n": amount(n, units[lot]), "site": site} for site, n in sorted(sites.items())
        )
        for lot, sites in sums.items()
    }


def differences() -> list[Decision]:
    """Counts that differ by more than the methods can resolve, not settled yet."""
    rows = ConsignmentLine.objects.filter(closed=True, settled_event=None).exclude(difference=0)
    found = []
    named = rows.select_related("consignment__origin", "consignment__destination", "lot__part")
    for line in named.defer("lot__part__picture").order_by("id")[:READ_MOST]:
        rest = line.difference
        text = _("%(origin)s sent %(sent)s %(part)s, %(destination)s counted %(received)s: %(rest)s.") % {
            "origin": line.consignment.origin.name,
            "sent": amount(line.sent, line.lot.part.unit),
            "part": line.lot.part.title,
            "destination": line.consignment.destination.name,
            "received": amount(line.received + line.misdirected, line.lot.part.unit),
            "rest": (_("%(n)s missing") if rest > 0 else _("%(n)s too many"))
            % {"n": amount(abs(rest), line.lot.part.unit)},
        }
        found.append(
            Decision(
                "doubt",
                _("Counts differ"),
                text,
                link_to("consignment", line.consignment.code),
                _("Settle the difference"),
            )
        )
    return few(found, _("Counts differ"), "doubt", link_to("consignments"), rows.count())


def parked_news() -> list[Decision]:
    """News that was taken but cannot be booked before its cause is told."""
    rows = Parked.objects.filter(settled_by=None).exclude(event__kind=ASIDE)
    found = []
    for row in rows.select_related("event__site").order_by("id")[:READ_MOST]:
        site = row.event.site.name if row.event.site else ""
        lot = str(row.figures.get("lot", ""))
        text = f"{site}: {say(row.reason, row.figures)}" if site else say(row.reason, row.figures)
        link, deed = link_to("find") + f"?code={lot}", _("Look at the lot")
        if row.reason == "lot_unknown":
            link, deed = link_to("match", row.pk), _("Say what it is")
        elif row.reason == "arrived_astray":
            link, deed = link_to("arrivals"), _("Send it on")
        found.append(Decision("doubt", _("Waits for its cause"), text, link, deed))
    return few(found, _("Waits for its cause"), "doubt", link_to("arrivals"), rows.count())


def files_unread(desk: Desk) -> list[Decision]:
    """Files that were sent wait, and nothing has read any for a while: what they would prove is not proved."""
    since = silent_since(desk.now, PATIENCE)
    if since is None:
        return []
    text = ngettext(
        "%(n)s file that was sent is not read yet. Nothing has read files since %(since)s: "
        "start manage.py work on the server.",
        "%(n)s files that were sent are not read yet. Nothing has read files since %(since)s: "
        "start manage.py work on the server.",
        n := unread().count(),
    )
    return [Decision("late", _("Not read"), text % {"n": whole(n), "since": moment_words(since)})]


def unreported(desk: Desk) -> list[Decision]:
    """A later step was told before its earlier one: the gap, with its age."""
    rows = Account.objects.filter(condition__in=OWED, balance__lt=0)
    found = []
    named = rows.select_related("lot__part", "site").defer("lot__part__picture")
    for row in named.order_by(F("since").asc(nulls_last=True), "id")[:READ_MOST]:
        age = lapse_words(desk.now - row.since) if row.since else _("unknown")
        text = _(
            "%(n)s %(part)s, %(code)s, were counted at step %(step)s (%(site)s) before anybody told that they "
            "came there; open for %(age)s."
        ) % {
            "n": amount(-row.balance, row.lot.part.unit), "part": row.lot.part.title,
            "code": code_words(row.lot.code), "step": row.step, "site": row.site.name, "age": age,
        }  # fmt: skip
        found.append(Decision("doubt", _("Not reported"), text, link_to("batch", row.lot.code), _("Open the batch")))
    return few(found, _("Not reported"), "doubt", "", rows.count())


def silent(desk: Desk, usual: dict[int, Usual]) -> list[Decision]:
    """Pieces that have been at a shop for longer than batches usually stay there; not what waits for the founder."""
    over = overstays(usual, desk.now)
    shown = over[: EACH_MOST + 1]
    lots = Lot.objects.select_related("part").defer("part__picture").in_bulk([row.lot_id for row in shown])
    found = []
    for row in shown:
        place, lot = usual[row.site_id], lots[row.lot_id]
        text = _("%(n)s %(part)s, %(code)s, at %(site)s for %(days)s; %(bound)s.") % {
            "n": amount(row.pieces, lot.part.unit), "part": lot.part.title, "code": code_words(lot.code),
            "site": place.site.name, "days": days_words(place.worked(row.since, desk.now)),
            "bound": bound_words(place.stay),
        }  # fmt: skip
        phone = f" {place.site.contact} {place.site.phone}".rstrip()
        link = link_to("batch", lot.code)
        found.append(Decision("late", _("Longer than usual"), text + phone, link, _("Open the batch")))
    return few(found, _("Longer than usual"), "late", link_to("home") + "?only=long#batches", len(over))


def checks_waiting() -> list[Decision]:
    """Pieces were counted good, and a gate of that step has no evidence yet."""
    missing = Verdict.objects.filter(
        latest=True, load=None, outcome="missing", conceded_event=None, step__good__gt=0, step__batch__closed_at=None
    ).exclude(step__state="done")
    # First-offs have a tag of their own.
    missing = missing.exclude(code__startswith="approval.")
    keys = list(missing.order_by("id").values_list("pk", "step__operation_id", "check_key"))
    gates = set(
        Check.objects.filter(operation__in={operation for _pk, operation, _key in keys})
        .exclude(blocks="nothing")
        .values_list("operation_id", "key")
    )
    waiting = [pk for pk, operation, key in keys if (operation, key) in gates]
    rows = Verdict.objects.filter(pk__in=waiting[: EACH_MOST + 1])
    found = []
    for row in (
        rows.select_related("step__batch__part", "step__operation", "step__site")
        .defer("step__batch__part__picture")
        .order_by("id")
    ):
        batch = row.step.batch
        text = _("%(part)s, %(code)s, step %(step)s, %(verb)s (%(site)s): %(why)s") % {
            "part": batch.part.title, "code": code_words(batch.code), "step": row.step.number,
            "verb": row.step.operation.verb, "site": row.step.site.name, "why": say(row.code, row.figures),
        }  # fmt: skip
        found.append(Decision("gate", _("Check waits"), text, link_to("batch", batch.code), _("Open the batch")))
    return few(found, _("Check waits"), "gate", "", len(waiting))


def few(found: list[Decision], word: str, kind: MarkDrawn, link: str, total: int = 0) -> list[Decision]:
    """The first of them, and the rest as one; `total` where more are known than were read."""
    total = max(total, len(found))
    if total <= EACH_MOST + 1:
        return found
    rest = total - EACH_MOST
    more = ngettext("%(n)s more of this kind.", "%(n)s more of this kind.", rest) % {"n": whole(rest)}
    return [*found[:EACH_MOST], Decision(kind, word, more, link, _("Show them in the table") if link else "", rest)]
