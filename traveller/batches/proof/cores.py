"""How well does the oven heat these parts? The newest log from inside a part of a full charge, of the same part and
operation, whichever batch it was sent with; in the same oven, where it is known in which."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from traveller.batches.files.decoded import log_of
from traveller.batches.models import Attachment, AttachmentKind, Load, Step, StepState
from traveller.rules.checks.base import CoreEvidence
from traveller.rules.logs import Log

# Of many the newest count; one that cannot be read, or whose air was not logged, lets the one before it stand.
_LOOKED_AT = 20


def cores_for(step: Step, loads: Iterable[Load]) -> Mapping[int, CoreEvidence]:
    """By load: what is known of how well its oven heats a charge of this part."""
    rows = Attachment.objects.filter(
        kind=AttachmentKind.CORE,
        struck_by=None,
        step__number=step.number,
        step__batch__part=step.batch.part_id,
        load__struck_by=None,
    )
    known = list(rows.select_related("load", "step__batch").order_by("-id")[:_LOOKED_AT])
    if not known:
        return {}
    found: dict[int, CoreEvidence | None] = {}
    by_load = {}
    for load in loads:
        for row in known:
            if not _same_oven(load, row.load):
                continue
            if row.pk not in found:
                found[row.pk] = _core(row)
            core = found[row.pk]
            if core is not None:
                by_load[load.pk] = core
                break
    return by_load


def heated_alike(step: Step) -> list[Step]:
    """The same operation in the part's other open batches, as far as it was begun: a new log says something of them."""
    rows = Step.objects.filter(batch__part=step.batch.part_id, number=step.number, batch__closed_at=None)
    rows = rows.exclude(pk=step.pk).exclude(state=StepState.WAITING)
    return list(rows.select_related("batch__lot", "batch__subject", "operation").order_by("batch_id"))


def _same_oven(load: Load, other: Load | None) -> bool:
    if other is None:
        return False
    return load.place.casefold() == other.place.casefold() if load.place and other.place else True


def _core(row: Attachment) -> CoreEvidence | None:
    """The log with that of the air of its own load; None where one of them says nothing, or the load is still in."""
    load = row.load
    if load is None or load.ended_at is None:
        return None
    around = Attachment.objects.filter(kind=AttachmentKind.LOG, struck_by=None, step=row.step_id)
    own = around.filter(load=load).order_by("-id").first() or around.filter(load=None).order_by("-id").first()
    core, air = log_of(row), log_of(own) if own else None
    if not isinstance(core, Log) or not isinstance(air, Log) or air.answers.probe not in (None, "air"):
        return None
    return CoreEvidence(
        core, air, load.started_at, load.ended_at, load.quantity, row.name, row.step.batch.code, load.number
    )
