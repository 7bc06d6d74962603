from __future__ import annotations

from django.apps import AppConfig
from django.conf import settings
from django.db.backends.signals import connection_created


class WebConfig(AppConfig):
    name = "traveller.web"
    label = "web"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        if settings.SERVING:
            from traveller.web.outage import refuse_read_only

            connection_created.connect(refuse_read_only, dispatch_uid="traveller.web.outage")
