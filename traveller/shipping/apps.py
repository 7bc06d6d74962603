from __future__ import annotations

from django.apps import AppConfig


class ShippingConfig(AppConfig):
    name = "traveller.shipping"
    label = "shipping"
    default_auto_field = "django.db.models.BigAutoField"
