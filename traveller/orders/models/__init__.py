from __future__ import annotations

from traveller.orders.models.order import BatchShare, Need, Order, OrderLine, Purchase, Release, Reservation

__all__ = ["BatchShare", "Need", "Order", "OrderLine", "Purchase", "Release", "Reservation"]
