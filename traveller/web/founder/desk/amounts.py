"""Quantities as the founder types them, "1,060" or "25 kg", into whole base units or the words for what is wrong."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from traveller.rules.units import BaseUnit, UnitError, read_number, to_base, word_of

_AMOUNT = re.compile(r"^(?P<number>[^A-Za-zµμ\"]*)(?P<unit>[A-Za-zµμ\"]*)\.?$")


def read_amount(text: str, base: BaseUnit, *, unit: str = "") -> int | str:
    """A quantity in whole base units, zero or more; or the words that say what is wrong with it.

    A unit typed behind the number goes before the one of the field; without either it is the base unit.
    """
    found = _AMOUNT.match(text.strip())
    if found is None or not found["number"].strip():
        return _("“%(text)s” is not a quantity. Write a number, if need be with its unit: 25 kg.") % {"text": text}
    number = read_number(found["number"].strip())
    if isinstance(number, UnitError):
        return _("“%(text)s” is not a quantity. Write a number, if need be with its unit: 25 kg.") % {"text": text}
    if number < 0:
        return _("“%(text)s” is below zero. Nobody counts fewer than none.") % {"text": text}
    quantity = to_base(number, found["unit"] or unit or word_of(base), base)
    return _fault(quantity, text, base) if isinstance(quantity, UnitError) else quantity


def _fault(fault: UnitError, text: str, base: BaseUnit) -> str:
    figures = {"text": text, "base": word_of(base), "unit": fault.unit}
    return {
        "unit": _("“%(unit)s” is not a unit that is known here. Use %(base)s."),
        "dimension": _("“%(unit)s” does not measure this part. Use %(base)s."),
        "not_whole": _("“%(text)s” is not a whole number of %(base)s."),
        "too_large": _("“%(text)s” is more than anybody can count here. Check the figure."),
    }.get(fault.why, _("“%(text)s” is not a quantity. Write a number, if need be with its unit: 25 kg.")) % figures


class AmountField(forms.CharField):
    """A quantity of a part; empty is none where it is not required."""

    def __init__(self, base: str = "C62", **kwargs: Any) -> None:
        self.base: BaseUnit = base  # type: ignore[assignment]
        super().__init__(max_length=30, **kwargs)
        self.widget.attrs.update({"class": "number", "inputmode": "decimal", "autocomplete": "off"})

    def clean(self, value: Any) -> Any:
        """Return whole base units, or none for an empty field."""
        text = super().clean(value)
        if not text:
            return None
        quantity = read_amount(text, self.base)
        if isinstance(quantity, str):
            raise ValidationError(quantity)
        return quantity
