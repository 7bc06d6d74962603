from __future__ import annotations

from traveller.consignments.models.consignment import Consignment, ConsignmentLine, Purpose

__all__ = ["Consignment", "ConsignmentLine", "Purpose"]
