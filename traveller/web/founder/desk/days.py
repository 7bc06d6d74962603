"""Days as the founder types them: calendar days within this trade's time."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from traveller.rules.moments import EARLIEST, LATEST

__all__ = ["DayField"]


class DayField(forms.DateField):
    """A calendar day, asked for by the browser's own calendar; a slip of the year is asked again."""

    def __init__(self, **kwargs: Any) -> None:
        bounds = {"min": EARLIEST.date().isoformat(), "max": LATEST.date().isoformat()}
        super().__init__(widget=forms.DateInput(attrs={"type": "date", **bounds}, format="%Y-%m-%d"), **kwargs)

    def clean(self, value: Any) -> date | None:
        """The day, None for an empty field that may be empty; ValidationError for a year that cannot be meant."""
        found: date | None = super().clean(value)
        if found is not None and not EARLIEST.date() <= found <= LATEST.date():
            raise ValidationError(_("%(day)s lies too far from today. Check the year.") % {"day": found.isoformat()})
        return found
