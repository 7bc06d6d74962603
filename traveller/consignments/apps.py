from __future__ import annotations

from django.apps import AppConfig


class ConsignmentsConfig(AppConfig):
    name = "traveller.consignments"
    label = "consignments"
    default_auto_field = "django.db.models.BigAutoField"
