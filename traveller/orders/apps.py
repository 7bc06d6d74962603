from __future__ import annotations

from django.apps import AppConfig

from traveller.journal import kinds


class OrdersConfig(AppConfig):
    name = "traveller.orders"
    label = "orders"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        kinds.declare(
            "orders",
            news=("delivered", "stock opened"),
            requests=("order entered", "released", "purchased", "made again"),
        )
