from __future__ import annotations

from django.apps import AppConfig

from traveller.journal import kinds


class ExchangeConfig(AppConfig):
    name = "traveller.exchange"
    label = "exchange"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Declare the kinds of events that this room records."""
        kinds.declare("exchange", news=("workbook imported",))
