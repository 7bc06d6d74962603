from __future__ import annotations

from django.apps import AppConfig

from traveller.journal import kinds


class BatchesConfig(AppConfig):
    name = "traveller.batches"
    label = "batches"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        kinds.declare(
            "batches",
            news=(
                "step started",
                "load started",
                "load ended",
                "counted",
                "measured",
                "evidence sent",
                "log understood",
                "evidence read",
                "evidence unreadable",
                "step done",
                "count corrected",
                "problem reported",
                "problem taken back",
                "set aside",
                "judged",
                "adopted",
                "undone",
                "scrap found good",
                "cavities changed",
                "own number told",
                "over tolerance",
                "mixed",
            ),
            requests=(
                "part held",
                "split",
                "recombined",
                "rest moved",
                "step rerouted",
                "site closed",
                "site opened again",
                "written off",
                "held",
                "unexplained settled",
                "decided",
                "first-off decided",
                "sent back to step",
                "traveller printed",
                "label printed",
                "set aside taken",
                "set aside left",
            ),
        )
