from __future__ import annotations

from django.apps import AppConfig


class BatchesConfig(AppConfig):
    name = "traveller.batches"
    label = "batches"
    default_auto_field = "django.db.models.BigAutoField"
