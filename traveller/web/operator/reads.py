"""What every telling of a shop looks up first, with plain SQL (see journal.rows).

A phone sends a whole shift in a minute: what a page reads before its action must not cost more than the action does.
"""

from __future__ import annotations

from sites.models import Site
from traveller.batches.models import Batch, Step
from traveller.journal.rows import Rows, run_sql
from traveller.ledger.models import Lot
from traveller.products.models import Operation, Part

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


def step_at(step_id: int, site_id: int) -> Step | None:
    """A step of this site with its batch, part, operation; None for one of another site or none at all."""
    found = _ROWS.of(run_sql(_STEP, [step_id, site_id]))
    return found[0] if found else None
