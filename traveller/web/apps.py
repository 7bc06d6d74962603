from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.db.backends.signals import connection_created


class WebConfig(AppConfig):
    name = "traveller.web"
    label = "web"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from traveller.journal.saying import say_by

        say_by(_say)
        if settings.SERVING:
            from traveller.web.outage import refuse_read_only

            connection_created.connect(refuse_read_only, dispatch_uid="traveller.web.outage")


def _say(code: str, figures: Mapping[str, Any] | None) -> str:
    from traveller.web.words import say

    return say(code, figures)
