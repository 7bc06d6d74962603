"""Do balances, links and inherited holds follow from the postings and the genealogy?"""

from __future__ import annotations

from collections.abc import Iterator

from django.db.models import F, Q, Sum

from traveller.journal.verify import Difference, safely
from traveller.ledger import genealogy
from traveller.ledger.holds import CONDEMNING, UNDONE
from traveller.ledger.models import PHYSICAL, Account, Condition, Hold, Link, Lot, Posting

ROOM = "ledger"


def differences() -> Iterator[Difference]:
    yield from safely(ROOM, "balances", _balances())
    yield from safely(ROOM, "sums of postings", _entries())
    yield from safely(ROOM, "links", _links())
    yield from safely(ROOM, "inherited holds", _inherited_holds())
    yield from safely(ROOM, "codes of lots", _codes())


def _balances() -> Iterator[Difference]:
    """Each balance is the sum of its postings; `since` stands exactly while there is one."""
    sums = Account.objects.annotate(rebuilt=Sum("postings__quantity", default=0))
    wrong = Q(balance=0, since__isnull=False) | ~Q(balance=0) & Q(since=None) | ~Q(rebuilt=F("balance"))
    for row in sums.filter(wrong).order_by("id"):
        if row.balance != row.rebuilt:
            yield Difference(ROOM, str(row), "balance", str(row.balance), str(row.rebuilt))
        if (row.since is None) != (row.balance == 0):
            yield Difference(ROOM, str(row), "since", str(row.since), "set while something is there")
    for row in sums.filter(condition__in=PHYSICAL, rebuilt__lt=0).order_by("id"):
        yield Difference(ROOM, str(row), "postings", str(row.rebuilt), "0 or more")


def _entries() -> Iterator[Difference]:
    sums = Posting.objects.order_by().values("event__uid", "account__lot__code").annotate(total=Sum("quantity"))
    for row in sums.exclude(total=0).order_by("event__uid"):
        thing = f"event {row['event__uid']}, lot {row['account__lot__code']}"
        yield Difference(ROOM, thing, "sum of postings", str(row["total"]), "0")


def _links() -> Iterator[Difference]:
    """What an event links of a lot is what it posts as made into something."""
    linked = {
        (row["event__uid"], row["parent__code"]): row["total"]
        for row in Link.objects.order_by().values("event__uid", "parent__code").annotate(total=Sum("quantity"))
    }
    posted = {
        (row["event__uid"], row["account__lot__code"]): row["total"]
        for row in Posting.objects.filter(account__condition=Condition.MADE_INTO)
        .order_by()
        .values("event__uid", "account__lot__code")
        .annotate(total=Sum("quantity"))
    }
    for key in sorted(linked.keys() | posted.keys(), key=str):
        if linked.get(key, 0) != posted.get(key, 0):
            thing = f"event {key[0]}, lot {key[1]}"
            yield Difference(ROOM, thing, "linked", str(linked.get(key, 0)), str(posted.get(key, 0)))


def _inherited_holds() -> Iterator[Difference]:
    """An open hold reaches every descendant; what released a root released what it alone held."""
    roots = Hold.objects.filter(root=None, closed_at=None).select_related("lot").order_by("id")
    for root in roots:
        held = set(Hold.objects.filter(root=root).values_list("lot_id", flat=True))
        for lot in Lot.objects.filter(pk__in=genealogy.descendants(root.lot_id) - held).order_by("id"):
            yield Difference(ROOM, f"lot {lot.code}", f"hold inherited from {root.lot.code}", "none", root.code)
    below = Hold.objects.exclude(root=None).select_related("lot", "root__lot").order_by("id")
    for hold in below.filter(root__closed_at=None, closed_at__isnull=False):
        if hold.disposition == UNDONE and hold.root and hold.lot_id not in genealogy.descendants(hold.root.lot_id):
            continue
        yield Difference(ROOM, f"lot {hold.lot.code}", f"hold inherited from {_root_code(hold)}", "closed", "open")
    freed = below.filter(closed_at=None, root__closed_at__isnull=False)
    for hold in freed.exclude(root__disposition__in=CONDEMNING):
        yield Difference(ROOM, f"lot {hold.lot.code}", f"hold inherited from {_root_code(hold)}", "open", "closed")


def _root_code(hold: Hold) -> str:
    return hold.root.lot.code if hold.root else ""


def _codes() -> Iterator[Difference]:
    for lot in Lot.objects.exclude(code=F("subject__code")).select_related("subject").order_by("id"):
        yield Difference(ROOM, f"lot {lot.pk}", "code", lot.code, str(lot.subject.code))
