from __future__ import annotations

from django.apps import AppConfig

from traveller.journal import kinds


class DispatchesConfig(AppConfig):
    name = "traveller.dispatches"
    label = "dispatches"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        kinds.declare(
            "dispatches",
            news=("received", "counted again", "arrived unannounced", "arrived unknown", "dispatch taken back"),
            requests=("sent", "difference settled", "unknown matched", "note printed"),
        )
