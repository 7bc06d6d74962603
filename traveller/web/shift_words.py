"""A shop's hours in words: "Mon to Fri 08:00 to 16:30" for what the workbook writes "Mo-Fr 08:00-16:30"."""

from __future__ import annotations

from itertools import groupby

from django.utils.dates import WEEKDAYS_ABBR
from django.utils.translation import gettext as _

from traveller.rules.shifts import Shift, ShiftError, parse_shifts


def shifts_words(text: str) -> str:
    """Days that follow each other with the same hours are told together; what cannot be read stays as it was typed."""
    shifts = parse_shifts(text)
    if isinstance(shifts, ShiftError):
        return text
    told = []
    runs = groupby(enumerate(sorted(shifts)), key=lambda one: (one[1] - one[0], shifts[one[1]]))
    for (_gap, spans), some in runs:
        days = [day for _place, day in some]
        told.append(f"{_days(days)} {_hours(spans)}")
    return ", ".join(told)


def _days(days: list[int]) -> str:
    first, last = str(WEEKDAYS_ABBR[days[0]]), str(WEEKDAYS_ABBR[days[-1]])
    if len(days) == 1:
        return first
    if len(days) == 2:
        return _("%(first)s and %(last)s") % {"first": first, "last": last}
    return _("%(first)s to %(last)s") % {"first": first, "last": last}


def _hours(spans: tuple[Shift, ...]) -> str:
    return _(" and ").join(
        _("%(first)s to %(last)s") % {"first": f"{start:%H:%M}", "last": f"{end:%H:%M}"} for start, end in spans
    )
