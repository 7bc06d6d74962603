from __future__ import annotations

from django.apps import AppConfig


class WebConfig(AppConfig):
    name = "traveller.web"
    label = "web"
    default_auto_field = "django.db.models.BigAutoField"
