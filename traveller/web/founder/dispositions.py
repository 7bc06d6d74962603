"""The founder's four ways out of a hold, in words."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as lazy

WAYS: Mapping[str, str | Promise] = {
    "concession": lazy("use as is, by concession"),
    "rework": lazy("rework"),
    "scrap": lazy("scrap"),
    "release": lazy("release"),
    "evidence": lazy("released by itself: the missing proof arrived"),
}


def disposition_word(name: str) -> str:
    return str(WAYS.get(name, name))
