from __future__ import annotations

from traveller.batches.models.batch import Batch, Load, Step, StepState
from traveller.batches.models.evidence import Count, Reading, TravellerPrint, Verdict

__all__ = ["Batch", "Count", "Load", "Reading", "Step", "StepState", "TravellerPrint", "Verdict"]
