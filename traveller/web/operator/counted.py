"""The count form, read: good, scrap by reason, rework, samples, shots, lots used; in words what is wrong with it."""

from __future__ import annotations

from dataclasses import dataclass, field

from django.http import HttpRequest
from django.utils.translation import gettext as _

from sites.access import narrow
from traveller.batches.models import Step
from traveller.batches.proof.tester import BEFORE_TEST
from traveller.batches.steps.consume import Used
from traveller.ledger.models import Lot
from traveller.products.frozen import bill_at, checks_of
from traveller.rules.codes import Damaged, read
from traveller.web.operator.shop import actor_of
from traveller.web.parts.figures import read_count

REASON = "scrap:"
LOT = "lot:"
PLAIN = ("good", "rework", "samples", "shots", "open_cavities")
# Two lots are used in one report when one runs out: this many fields for each component.
LOTS_EACH = 2


@dataclass
class Typed:
    """What the form holds, read; `wrong` are sentences by field."""

    good: int = 0
    scrap: dict[str, int] = field(default_factory=dict)
    rework: int = 0
    samples: int = 0
    shots: int = 0
    open_cavities: int | None = None
    used: list[Used] = field(default_factory=list)
    wrong: dict[str, str] = field(default_factory=dict)

    @property
    def total(self) -> int:
        return self.good + sum(self.scrap.values()) + self.rework + self.samples


def reasons_of(step: Step) -> list[str]:
    """Why a piece may be scrapped here; a test of every piece tells apart what never came to the test."""
    reasons = [str(reason) for reason in step.operation.scrap_reasons] or [_("other")]
    if any("untested" in plan.kind.needs for plan in checks_of(step.operation_id)) and BEFORE_TEST not in reasons:
        reasons.append(BEFORE_TEST)
    return reasons


def read_form(request: HttpRequest, step: Step) -> Typed:
    typed = Typed()
    numbers: dict[str, int] = {}
    reasons = {f"{REASON}{reason}" for reason in reasons_of(step)}
    for name in (*PLAIN, *sorted(reasons)):
        text = request.POST.get(name, "")
        if not text.strip() and name != "good":
            continue
        found = read_count(text)
        if isinstance(found, str):
            typed.wrong[name] = found
        else:
            numbers[name] = found
    typed.good = numbers.get("good", 0)
    typed.rework, typed.samples, typed.shots = (numbers.get(n, 0) for n in ("rework", "samples", "shots"))
    typed.scrap = {n.removeprefix(REASON): v for n, v in numbers.items() if n.startswith(REASON) and v}
    typed.open_cavities = _cavities(step, numbers.get("open_cavities"), typed)
    for part_id, _per in bill_at(step.batch.routing_id, step.number):
        for place in range(LOTS_EACH):
            _read_lot(request, f"{LOT}{part_id}:{place}", part_id, typed)
    return typed


def _cavities(step: Step, reported: int | None, typed: Typed) -> int | None:
    if reported is not None and not 1 <= reported <= step.operation.cavities:
        typed.wrong["open_cavities"] = _("The mould has %(n)d cavities; at least one is open.") % {
            "n": step.operation.cavities
        }
        return None
    return reported


def _read_lot(request: HttpRequest, name: str, part_id: int, typed: Typed) -> None:
    text = request.POST.get(name, "").strip()[:300]
    if not text:
        return
    lot = _lot(request, text, part_id)
    if isinstance(lot, str):
        typed.wrong[name] = lot
    elif Used(lot.pk) not in typed.used:
        typed.used.append(Used(lot.pk))


def _lot(request: HttpRequest, text: str, part_id: int) -> Lot | str:
    """A lot that is or was at this site, by its code or by the number its maker gave it; in words why not."""
    rows = narrow(Lot.objects.select_related("part").defer("part__picture"), actor_of(request), "accounts__site")
    scan = read(text)
    lot = None if isinstance(scan, Damaged) else rows.filter(code=scan.code).first()
    if lot is None:
        named = list(rows.filter(outside_number__iexact=text)[:20])
        fitting = [row for row in named if row.part_id == part_id]
        lot = fitting[0] if len(fitting) == 1 else None if fitting else next(iter(named), None)
    if lot is None:
        return _("No lot here has this code. Scan the label again, or leave it empty: then the lots here are recorded.")
    if lot.part_id != part_id:
        return _("This is %(part)s. Scan a lot of the right part.") % {"part": lot.part.title}
    return lot
