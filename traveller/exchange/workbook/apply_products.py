"""Parts, and each part's bill, steps and checks as one frozen whole."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from django.db.models import Exists, OuterRef

from traveller.exchange.workbook import rows as r
from traveller.exchange.workbook.apply_sites import site_ids
from traveller.exchange.workbook.canonical import UNIT_WORD
from traveller.exchange.workbook.compare import TECHNICAL, Changes
from traveller.exchange.workbook.pictures import media_type
from traveller.exchange.workbook.problems import Findings
from traveller.exchange.workbook.validate_routes import per_thousand
from traveller.ledger.models import Lot
from traveller.products import frozen
from traveller.products.models import BillLine, Check, Operation, Part, Routing

__all__ = ["apply_parts", "apply_technical", "part_ids"]

_UNIT_CODE = {word: code for code, word in UNIT_WORD.items()}


def part_ids() -> dict[str, int]:
    """Each part's id by its number."""
    return dict(Part.objects.values_list("number", "pk"))


def apply_parts(changes: Changes, workbook: r.Workbook, findings: Findings) -> None:
    """Add and update parts; the unit of one that has lots stays, since every quantity is counted in it."""
    ids = site_ids()
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
        fields: dict[str, Any] = {
            "name": row.name,
            "variant": row.variant,
            "colour": row.colour,
            "swatch": row.swatch,
            "revision": row.revision,
            "kind": row.kind,
            "unit": _UNIT_CODE[row.unit],
            "piece_mass_mg": row.piece_mass_mg,
            "shelf_life_days": row.shelf_life_days,
            "supplier_id": ids[row.supplier] if row.supplier else None,
        }
        if before is None or before.picture != row.picture:
            content = workbook.pictures.get(names[row.part])
            fields["picture"] = content
            fields["picture_type"] = media_type(content) if content else ""
            fields["picture_digest"] = row.picture
        Part.objects.update_or_create(number=row.part, defaults=fields)


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
    parts, sites = part_ids(), site_ids()
    for number in sorted(touched):
        whole = _whole_of(number, mine, before)
        _revise(parts[number], whole, parts, sites)
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


def _revise(part_id: int, whole: _Whole, parts: dict[str, int], sites: dict[str, int]) -> None:
    digest = whole.digest()
    last = Routing.objects.filter(part_id=part_id).order_by("-revision").first()
    if last is not None and last.digest == digest:
        return
    routing = Routing.objects.create(part_id=part_id, revision=last.revision + 1 if last else 1, digest=digest)
    BillLine.objects.bulk_create(
        BillLine(
            routing=routing,
            component_id=parts[row.component],
            per_thousand=per_thousand(row, row.unit),
            step=row.step or 0,
        )
        for row in whole.bill
    )
    for row in sorted(whole.steps, key=lambda row: row.step):
        operation = Operation.objects.create(routing=routing, site_id=sites[row.site], **_operation(row))
        _add_checks(operation, [check for check in whole.checks if check.step == row.step])


def _operation(row: r.RoutingRow) -> dict[str, Any]:
    return {
        "number": row.step,
        "verb": row.verb,
        "kind": row.kind,
        "work": row.operation,
        "yield_ppm": int(row.yield_percent * 10_000),
        "samples": row.samples,
        "cavities": row.cavities,
        "load_size": row.load_size,
        "startup_shots": row.startup_shots,
        "tool": row.tool,
        "cycle_seconds": row.cycle_seconds,
        "setup_minutes": row.setup_minutes,
        "instruction": row.instruction,
        "scrap_reasons": list(row.scrap_reasons),
    }


def _add_checks(operation: Operation, checks: Sequence[r.CheckRow]) -> None:
    Check.objects.bulk_create(
        Check(
            operation=operation,
            key=row.check,
            kind=row.kind,
            scope=row.scope,
            blocks=row.blocks,
            parameters=dict(row.parameters),
            source=row.source,
        )
        for row in checks
    )
