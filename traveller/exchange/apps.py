from __future__ import annotations

from django.apps import AppConfig


class ExchangeConfig(AppConfig):
    name = "traveller.exchange"
    label = "exchange"
    default_auto_field = "django.db.models.BigAutoField"
