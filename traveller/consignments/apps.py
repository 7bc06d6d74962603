from __future__ import annotations

from django.apps import AppConfig

from traveller.journal import kinds


class ConsignmentsConfig(AppConfig):
    name = "traveller.consignments"
    label = "consignments"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        kinds.declare(
            "consignments",
            news=("received", "arrived unannounced", "arrived unknown"),
            requests=("sent", "difference settled", "unknown matched", "note printed"),
        )
