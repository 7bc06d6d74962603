"""Which of very many lots might be stopped? The database looks for signs; only what shows one is judged lot by lot.

Nothing is decided here: a lot with a sign may turn out to be usable, one without any is not stopped.
"""

from __future__ import annotations

from datetime import date

from django.core.exceptions import EmptyResultSet
from django.db import connection
from django.db.models import Exists, OuterRef, Q, QuerySet

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
    """Lots of these accounts that are held or too old, or whose own checks or components' checks may be open.

    Two queries, and one more where a component shows a sign.
    """
    lots = accounts.order_by()
    held = Exists(Hold.objects.filter(lot=OuterRef("lot"), closed_at=None))
    batch = Exists(Batch.objects.filter(_signs(purpose), lot=OuterRef("lot")))
    found = set(lots.filter(Q(lot__expires_on__lt=on) | held | batch).values_list("lot_id", flat=True).distinct())
    return found | _by_components(lots.exclude(lot__origin__in=_FROM_OUTSIDE), purpose)


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


def _by_components(accounts: QuerySet[Account], purpose: Purpose) -> set[int]:
    """Lots of these accounts that anything was used in whose batch shows a sign."""
    try:
        scope, params = accounts.values("lot").query.sql_with_params()
    except EmptyResultSet:
        return set()
    with connection.cursor() as cursor:
        cursor.execute(genealogy.ALL_ABOVE.format(scope=scope), params)
        above = [row[0] for row in cursor.fetchall()]
    signs = set(Batch.objects.filter(_signs(purpose), lot__in=above).values_list("lot_id", flat=True).order_by())
    return genealogy.all_below(signs)
