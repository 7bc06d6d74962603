from __future__ import annotations

from traveller.batches.models.attachment import Attachment, AttachmentKind, EvidenceFile
from traveller.batches.models.batch import Batch, Load, Step, StepState
from traveller.batches.models.evidence import Count, Reading, TravellerPrint, Verdict

__all__ = [
    "Attachment",
    "AttachmentKind",
    "Batch",
    "Count",
    "EvidenceFile",
    "Load",
    "Reading",
    "Step",
    "StepState",
    "TravellerPrint",
    "Verdict",
]
