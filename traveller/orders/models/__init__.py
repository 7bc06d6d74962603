from __future__ import annotations

from traveller.orders.models.order import BatchShare, Order, OrderLine, Purchase, Release, Reservation

__all__ = ["BatchShare", "Order", "OrderLine", "Purchase", "Release", "Reservation"]
