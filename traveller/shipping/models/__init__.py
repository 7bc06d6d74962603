from __future__ import annotations

from traveller.shipping.models.carton import Carton, CartonLot, Shipment

__all__ = ["Carton", "CartonLot", "Shipment"]
