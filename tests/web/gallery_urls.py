"""Addresses for the gallery alone, so that the look can be tested before and without the pages."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import path

from traveller.web.templatetags.look import FOUNDER_WAYS


def nothing(request: HttpRequest) -> HttpResponse:
    """Answer with nothing."""
    return HttpResponse()


urlpatterns = [path(f"{name}/", nothing, name=name) for name in ("manifest", *(name for name, _ in FOUNDER_WAYS))]
