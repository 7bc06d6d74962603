from __future__ import annotations

from django.apps import AppConfig

from traveller.journal import kinds


class ShippingConfig(AppConfig):
    name = "traveller.shipping"
    label = "shipping"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        kinds.declare(
            "shipping",
            requests=("packed", "carton opened", "shipped", "packing list printed"),
        )
