"""What every telling of a shop looks up first, with plain SQL (see journal.rows).

A phone sends a whole shift in a minute: what a page reads before its action must not cost more than the action does.
"""

from __future__ import annotations

from datetime import datetime

from sites.models import Site
from traveller.batches.models import Batch, Step
from traveller.journal.models import Event
from traveller.journal.rows import Rows, run_sql
from traveller.ledger.models import Condition, Lot
from traveller.products.models import Operation, Part

# The same figure, told so many times at one step, is looked at for who told it.
ALIKE_MOST = 40
_ROWS = Rows(
    Step,
    "s",
    batch=Rows(Batch, "b", part=Rows(Part, "p", but={"picture"}), lot=Rows(Lot, "l"), destination=Rows(Site, "d")),
    operation=Rows(Operation, "o"),
    site=Rows(Site, "w"),
)
_STEP = (
    f"SELECT {_ROWS.columns} FROM batches_step s JOIN batches_batch b ON b.id = s.batch_id "
    "JOIN products_part p ON p.id = b.part_id LEFT JOIN ledger_lot l ON l.id = b.lot_id "
    "JOIN sites_site d ON d.id = b.destination_id JOIN products_operation o ON o.id = s.operation_id "
    "JOIN sites_site w ON w.id = s.site_id WHERE s.id = %s AND s.site_id = %s"
)
_WAITING = (
    "SELECT condition, balance FROM ledger_account "
    "WHERE lot_id = %s AND site_id = %s AND step = %s AND condition IN (%s, %s)"
)
_ALIKE = (
    "SELECT c.event_id, e.person FROM batches_count c JOIN journal_event e ON e.id = c.event_id "
    f"WHERE c.step_id = %s AND c.good = %s AND e.corrects_id IS NULL ORDER BY c.id DESC LIMIT {ALIKE_MOST}"
)


def step_at(step_id: int, site_id: int) -> Step | None:
    """A step of this site with its batch, part, operation; None for one of another site or none at all."""
    found = _ROWS.of(run_sql(_STEP, [step_id, site_id]))
    return found[0] if found else None


def pieces_waiting(lot_id: int, site_id: int, number: int) -> tuple[int, int]:
    """Pieces before a step: first entries and rework."""
    waits = (Condition.IN_PROCESS.value, Condition.REWORK.value)
    found = dict(run_sql(_WAITING, [lot_id, site_id, number, *waits]))
    return found.get(Condition.IN_PROCESS, 0), found.get(Condition.REWORK, 0)


def reported_alike(step_id: int, good: int, heard_since: datetime) -> Event | None:
    """The last count of as many good pieces here, if it was heard of since then."""
    last = run_sql(_ALIKE, [step_id, good])[:1]
    return Event.objects.filter(pk=last[0][0], recorded_at__gte=heard_since).first() if last else None


def reported_alike_by_others(step_id: int, good: int, person: str, since: datetime, until: datetime) -> Event | None:
    """The last count of as many good pieces that somebody else told of that time."""
    theirs = [event_id for event_id, name in run_sql(_ALIKE, [step_id, good]) if name != person]
    if not theirs:
        return None
    return Event.objects.filter(pk__in=theirs, happened_at__gte=since, happened_at__lte=until).order_by("-id").first()
