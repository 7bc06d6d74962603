from __future__ import annotations

from traveller.products.models.part import BaseUnit, Part, PartKind
from traveller.products.models.routing import BillLine, Check, Operation, OperationKind, Routing

__all__ = ["BaseUnit", "BillLine", "Check", "Operation", "OperationKind", "Part", "PartKind", "Routing"]
