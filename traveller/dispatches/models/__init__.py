from __future__ import annotations

from traveller.dispatches.models.consignment import Consignment, ConsignmentLine, Purpose

__all__ = ["Consignment", "ConsignmentLine", "Purpose"]
