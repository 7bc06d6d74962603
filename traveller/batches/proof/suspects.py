"""Which of very many lots might be stopped? The database looks for signs; only what shows one is judged lot by lot.

Nothing is decided here: a lot with a sign may turn out to be usable, one without any is not stopped.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import date

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.db.models.expressions import RawSQL

from traveller.batches.models import Batch, Verdict
from traveller.batches.proof.gates import MERGED
from traveller.ledger import genealogy
from traveller.ledger.models import Account, Hold, Link
from traveller.products.models import Check
from traveller.rules.checks.base import BLOCKS, blocks_purpose
from traveller.rules.purposes import Purpose

# Nothing was used up in what came from outside.
_FROM_OUTSIDE = ("purchase", "opening")


def suspects(accounts: QuerySet[Account], purpose: Purpose, on: date) -> set[int]:
    """Lots of these accounts that are too old, or whose own checks or components' checks may be open; and all held.

    One pass over the accounts; what was made here is looked at in three queries more, one again where a component
    shows a sign.
    """
    # Open holds are few: asked of each of thousands of accounts, they would cost more than all else.
    found = set(Hold.objects.filter(closed_at=None).values_list("lot_id", flat=True).order_by())
    made = set()
    shown = accounts.order_by().filter(~Q(lot__origin__in=_FROM_OUTSIDE) | Q(lot__expires_on__lt=on))
    for lot_id, origin, expires_on in shown.values_list("lot_id", "lot__origin", "lot__expires_on"):
        if expires_on is not None and expires_on < on:
            found.add(lot_id)
        if origin not in _FROM_OUTSIDE:
            made.add(lot_id)
    return found | _with_signs(made, purpose) | genealogy.all_below(_with_signs(genealogy.all_above(made), purpose))


def _with_signs(lot_ids: Collection[int], purpose: Purpose) -> set[int]:
    """Those of these lots whose batches show a sign."""
    if not lot_ids:
        return set()
    # Keys of our own, written out: thousands of parameters cost more than the question.
    keys = RawSQL("VALUES " + ", ".join(f"({int(lot_id)})" for lot_id in lot_ids), ())
    return set(Batch.objects.filter(_signs(purpose), lot__in=keys).values_list("lot_id", flat=True).order_by())


def _signs(purpose: Purpose) -> Q:
    """A batch with a check that has not passed on a step of its own, or whose proof is partly another batch's."""
    blocks = [word for word in BLOCKS if blocks_purpose(word, purpose)]
    passed = Verdict.objects.filter(
        Q(outcome="passed") | Q(conceded_event__isnull=False),
        step__batch=OuterRef(OuterRef("pk")),
        step__number=OuterRef("operation__number"),
        check_key=OuterRef("key"),
        load=None,
        latest=True,
    )
    wanted = Check.objects.filter(~Exists(passed), operation__routing=OuterRef("routing"), blocks__in=blocks)
    poured = Link.objects.filter(child=OuterRef("lot"), event__kind__in=MERGED)
    return Q(parent__isnull=False) | Q(Exists(wanted)) | Q(Exists(poured))
