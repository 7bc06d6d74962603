from __future__ import annotations

from traveller.products.models.part import Part, PartKind, StockUnit
from traveller.products.models.routing import BillLine, Check, Operation, OperationKind, Routing

__all__ = ["BillLine", "Check", "Operation", "OperationKind", "Part", "PartKind", "Routing", "StockUnit"]
