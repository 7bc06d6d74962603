"""Parts, and each part's bill, steps and checks as one frozen whole."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any

from django.db.models import Exists, OuterRef

from traveller.exchange.workbook import rows as r
from traveller.exchange.workbook.apply_sites import ids_now
from traveller.exchange.workbook.compare import TECHNICAL, Changes
from traveller.exchange.workbook.pictures import media_type
from traveller.exchange.workbook.problems import Findings
from traveller.exchange.workbook.sheets import SHEETS
from traveller.exchange.workbook.stored import Ids
from traveller.exchange.workbook.tables import stored_values
from traveller.exchange.workbook.validate_routes import per_thousand
from traveller.ledger.models import Lot
from traveller.products import frozen
from traveller.products.models import BillLine, Check, Operation, Part, Routing

__all__ = ["apply_parts", "apply_technical"]


def apply_parts(changes: Changes, workbook: r.Workbook, findings: Findings) -> None:
    """Add and update parts; the unit of one that has lots stays, since every quantity is counted in it."""
    ids = ids_now()
    names = {row.part: row.picture for row in workbook.parts}
    with_lots = set(
        Part.objects.filter(Exists(Lot.objects.filter(part=OuterRef("pk")))).values_list("number", flat=True)
    )
    for row in changes.of("parts", "added", "changed"):
        before: Any = changes.before["parts"].get((row.part,))
        if before is not None and before.unit != row.unit and row.part in with_lots:
            wrong = f"but lots of {row.part} are counted in {before.unit}"
            findings.wrong(
                "parts", row.row, "unit", row.unit, wrong, f"write {before.unit}, or give the part a new number"
            )
            continue
        found = stored_values(SHEETS["parts"], row, ids)
        if before is None or before.picture != row.picture:
            content = workbook.pictures.get(names[row.part])
            found["picture"] = content
            found["picture_type"] = media_type(content) if content else ""
            found["picture_digest"] = row.picture
        Part.objects.update_or_create(number=found.pop("number"), defaults=found)


@dataclass(frozen=True, slots=True)
class _Whole:
    """All that a routing revision freezes."""

    bill: tuple[r.BillRow, ...]
    steps: tuple[r.RoutingRow, ...]
    checks: tuple[r.CheckRow, ...]

    def digest(self) -> str:
        """The same for the same content, whatever the order of the sheet's rows."""
        plain = [
            sorted((_plain(row) for row in rows), key=lambda row: json.dumps(row, sort_keys=True))
            for rows in (self.bill, self.steps, self.checks)
        ]
        return hashlib.sha256(json.dumps(plain, sort_keys=True).encode()).hexdigest()


def _plain(row: r.Row) -> dict[str, Any]:
    found = {
        name: str(value.normalize()) if hasattr(value, "normalize") else value for name, value in asdict(row).items()
    }
    del found["row"]
    return found


def apply_technical(mine: r.Workbook, before: r.Workbook, changes: Changes) -> None:
    """A new routing revision for each part whose bill, steps or checks differ; the old ones stay as they are."""
    touched = {row.part for sheet in TECHNICAL for row in changes.of(sheet, "added", "changed")}
    touched |= {str(getattr(row, "part", "")) for sheet in TECHNICAL for row in changes.removed[sheet]}
    ids = ids_now()
    for number in sorted(touched):
        _revise(ids.parts[number], _whole_of(number, mine, before), ids)
    if touched:
        # A trial that was rolled back may have had the same ids.
        frozen.forget()


def _whole_of(number: str, mine: r.Workbook, before: r.Workbook) -> _Whole:
    """What the workbook says of a part; a sheet that is not there leaves what was there before."""

    def of(rows: Iterable[Any]) -> tuple[Any, ...]:
        return tuple(row for row in rows if row.part == number)

    steps = of(mine.routings) or of(before.routings)
    routed = bool(of(mine.routings))
    bill, checks = of(mine.bills), of(mine.checks)
    if not bill and not (routed and "bills" in mine.given):
        bill = of(before.bills)
    if not checks and not (routed and "checks" in mine.given):
        known = {row.step for row in steps}
        checks = tuple(row for row in of(before.checks) if row.step in known)
    return _Whole(bill, steps, checks)


def _revise(part_id: int, whole: _Whole, ids: Ids) -> None:
    digest = whole.digest()
    last = Routing.objects.filter(part_id=part_id).order_by("-revision").first()
    if last is not None and last.digest == digest:
        return
    routing = Routing.objects.create(part_id=part_id, revision=last.revision + 1 if last else 1, digest=digest)
    # Quantity, unit and per are one figure there: whole base units for a thousand pieces.
    BillLine.objects.bulk_create(
        BillLine(routing=routing, per_thousand=per_thousand(row, row.unit), **stored_values(SHEETS["bills"], row, ids))
        for row in whole.bill
    )
    for row in sorted(whole.steps, key=lambda row: row.step):
        operation = Operation.objects.create(routing=routing, **stored_values(SHEETS["routings"], row, ids))
        Check.objects.bulk_create(
            Check(operation=operation, parameters=dict(each.parameters), **stored_values(SHEETS["checks"], each, ids))
            for each in whole.checks
            if each.step == row.step
        )
