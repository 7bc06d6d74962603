"""The founder's ways out of a hold, in words."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as lazy

WAYS: Mapping[str, str | Promise] = {
    "concession": lazy("use as is, by concession"),
    "rework": lazy("rework"),
    "regrade": lazy("regrade: it becomes another part"),
    "scrap": lazy("scrap"),
    "return": lazy("to be returned; held until it is gone"),
    "release": lazy("release"),
    "evidence": lazy("released by itself: the missing proof arrived"),
}


def disposition_word(name: str) -> str:
    return str(WAYS.get(name, name))
