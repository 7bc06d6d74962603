from __future__ import annotations

from traveller.batches.models.attachment import Attachment, AttachmentKind, EvidenceFile, FileReading
from traveller.batches.models.batch import Batch, Load, Step, StepState
from traveller.batches.models.evidence import Count, Reading, TravellerPrint, Verdict
from traveller.batches.models.first_piece import FirstPiece
from traveller.batches.models.own_number import OwnNumber

__all__ = [
    "Attachment",
    "AttachmentKind",
    "Batch",
    "Count",
    "EvidenceFile",
    "FileReading",
    "FirstPiece",
    "Load",
    "OwnNumber",
    "Reading",
    "Step",
    "StepState",
    "TravellerPrint",
    "Verdict",
]
