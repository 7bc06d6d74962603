from __future__ import annotations

from traveller.dispatches.models.consignment import Consignment, ConsignmentLine, SentFor

__all__ = ["Consignment", "ConsignmentLine", "SentFor"]
