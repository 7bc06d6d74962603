"""How the figures of a sentence are shown: in the reader's numbers and units, in the zone in force."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.utils import formats
from django.utils.translation import gettext

from traveller.rules.codes import is_valid, show_code
from traveller.rules.units import BASE_UNITS
from traveller.web.language.numbers import isolated, local, quantity_words
from traveller.web.shift_words import shifts_words
from traveller.web.templatetags.look import moment_words

# Units as figures: degrees are written with their sign.
UNIT_KEYS = frozenset(("unit", "value_unit", "degrees"))
DEGREES = {"C": "°C", "F": "°F"}

# A temperature with its unit, as a check's row has it.
_REFERENCE = re.compile(r" ([CF])$")

# A moment as the rules write it into figures: with its offset, so that it is shown in the reader's zone.
_MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(?::\d\d(?:\.\d+)?)?(?:Z|[+-]\d\d:\d\d)")


# Figures of a sentence that are quantities of the part whose unit stands beside them.
QUANTITIES = frozenset(("there", "wanted", "quantity", "short", "missing"))


def with_their_units(figures: Mapping[str, Any]) -> dict[str, Any]:
    """All figures of a sentence as they are shown; quantities of material in people's units: 2.5 kg, not 2,500."""
    unit = figures.get("unit")
    counted = unit if unit in BASE_UNITS and unit != "C62" else None
    found = {}
    for key, value in figures.items():
        # A reason within a reason carries its figures as texts.
        whole = counted and key in QUANTITIES and re.fullmatch(r"-?[0-9]+", str(value))
        found[key] = isolated(quantity_words(int(value), counted)) if counted and whole else shown(key, value)
    return found


def shown(key: str, value: Any) -> Any:
    """Whole numbers with thousands marks, shares as per cent, codes in groups, moments in the zone in force, lists
    as lists; the rest as it comes."""
    if isinstance(value, list):
        return ", ".join(str(shown(key, item)) for item in value)
    if isinstance(value, dict):
        return "; ".join(f"{name}: {shown(key, item)}" for name, item in value.items())
    if isinstance(value, str):
        return _text(key, value)
    if isinstance(value, bool) or not isinstance(value, int):
        return value
    if key.endswith("_ppm"):
        return local(f"{value / 10_000:g}") + " %"
    return formats.number_format(value, force_grouping=True)


def _text(key: str, text: str) -> str:
    if is_valid(text):
        return isolated(show_code(text))
    if _MOMENT.fullmatch(text):
        return _moment(text)
    if key == "shifts":
        return isolated(shifts_words(text))
    if key == "reference":
        return isolated(_REFERENCE.sub(r" °\1", local(text)))
    if key in UNIT_KEYS:
        return isolated(DEGREES.get(text, text))
    return isolated(_ends(text) if key == "limits" else local(text))


def _moment(text: str) -> str:
    """A moment in the zone in force; what only looks like one (somebody typed it) as it was typed."""
    try:
        return moment_words(datetime.fromisoformat(text))
    except ValueError:
        return text


# What a check of a cure says its limits are, put together below us in English.
_ENDS = re.compile(r"(\S+) to (\S+)|(\S+) or (more|less)")


def _ends(text: str) -> str:
    """ "1.5 to 2" or "1.5 or more", with the reader's words and numbers."""
    found = _ENDS.fullmatch(text)
    if not found:
        return local(text)
    least, most, end, way = found.groups()
    if way is None:
        return gettext("{least} to {most}").format(least=local(least), most=local(most))
    return (gettext("{end} or more") if way == "more" else gettext("{end} or less")).format(end=local(end))
