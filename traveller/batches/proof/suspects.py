"""Which of very many lots might be stopped? The database looks for signs; only what shows one is judged lot by lot.

Nothing is decided here: a lot with a sign may turn out to be usable, one without any is not stopped.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.core.exceptions import EmptyResultSet
from django.db import connection
from django.db.models import Case, IntegerField, Q, QuerySet, When

from traveller.batches.proof.gates import MERGED
from traveller.ledger import genealogy
from traveller.ledger.models import Account, Hold
from traveller.rules.checks.base import BLOCKS, blocks_purpose
from traveller.rules.purposes import Purpose

# Nothing was used up in what came from outside.
_FROM_OUTSIDE = ("purchase", "opening")

# Of the lots of a query, and of all that may have gone into them (whether or not the edge counts): those whose proof is
# partly another batch's, and those with a check that has not passed on a step of their own. Plain SQL: the two
# databases make one pass of each part, where a condition in every row made them look up thousands one by one.
_SIGNS = """
WITH RECURSIVE lying(lot_id, is_made, is_old) AS ({scope}), family(lot_id) AS (
    SELECT lot_id FROM lying WHERE is_made = 1
    UNION
    SELECT l.parent_id FROM ledger_link l JOIN family f ON l.child_id = f.lot_id
)
SELECT lot_id, 0 FROM lying WHERE is_old = 1
UNION
SELECT b.lot_id, 1 FROM family f JOIN batches_batch b ON b.lot_id = f.lot_id WHERE b.parent_id IS NOT NULL
UNION
SELECT l.child_id, 1 FROM family f JOIN ledger_link l ON l.child_id = f.lot_id JOIN journal_event e ON e.id = l.event_id
    WHERE e.kind IN ({merged})
UNION
SELECT b.lot_id, 1 FROM family f JOIN batches_batch b ON b.lot_id = f.lot_id
    JOIN products_operation o ON o.routing_id = b.routing_id
    JOIN products_check c ON c.operation_id = o.id AND c.blocks IN ({blocks})
    LEFT JOIN batches_step s ON s.batch_id = b.id AND s.number = o.number
    LEFT JOIN batches_verdict v ON v.step_id = s.id AND v.check_key = c.key AND v.latest AND v.load_id IS NULL
        AND (v.outcome = 'passed' OR v.conceded_event_id IS NOT NULL)
    WHERE v.id IS NULL
"""


def suspects(accounts: QuerySet[Account], purpose: Purpose, on: date) -> set[int]:
    """Lots of these accounts that are too old, or whose own checks or components' checks may be open; and all held.

    Three queries, however many accounts there are.
    """
    # Open holds are few: asked of each of thousands of accounts, they would cost more than all else.
    held = set(Hold.objects.filter(closed_at=None).values_list("lot_id", flat=True).order_by())
    shown = _signs(accounts, purpose, on)
    # What is wrong with a batch may be inside of what was made of it; age stays with its own lot.
    return held | {lot_id for lot_id, _ in shown} | genealogy.all_below({lot_id for lot_id, proof in shown if proof})


def _signs(accounts: QuerySet[Account], purpose: Purpose, on: date) -> list[tuple[int, int]]:
    """Lots of these accounts, and lots that may have gone into them, with a sign: 1 where their proof shows it."""
    made, old = ~Q(lot__origin__in=_FROM_OUTSIDE), Q(lot__expires_on__lt=on)
    lying = accounts.order_by().filter(made | old)
    asked = lying.annotate(
        is_made=Case(When(made, then=1), default=0, output_field=IntegerField()),
        is_old=Case(When(old, then=1), default=0, output_field=IntegerField()),
    )
    try:
        scope, params = asked.values_list("lot", "is_made", "is_old").query.sql_with_params()
    except EmptyResultSet:
        return []
    blocks = [word for word in BLOCKS if blocks_purpose(word, purpose)]
    sql = _SIGNS.format(scope=scope, merged=_marks(MERGED), blocks=_marks(blocks))
    with connection.cursor() as cursor:
        cursor.execute(sql, [*params, *MERGED, *blocks])
        return [(int(lot_id), int(proof)) for lot_id, proof in cursor.fetchall()]


def _marks(words: Sequence[str]) -> str:
    return ", ".join(["%s"] * len(words))
