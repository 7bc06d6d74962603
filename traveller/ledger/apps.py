from __future__ import annotations

from django.apps import AppConfig


class LedgerConfig(AppConfig):
    name = "traveller.ledger"
    label = "ledger"
    default_auto_field = "django.db.models.BigAutoField"
