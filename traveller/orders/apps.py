from __future__ import annotations

from django.apps import AppConfig


class OrdersConfig(AppConfig):
    name = "traveller.orders"
    label = "orders"
    default_auto_field = "django.db.models.BigAutoField"
