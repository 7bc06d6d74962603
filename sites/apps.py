from __future__ import annotations

from django.apps import AppConfig


class SitesConfig(AppConfig):
    name = "sites"
    label = "sites"
    default_auto_field = "django.db.models.BigAutoField"
