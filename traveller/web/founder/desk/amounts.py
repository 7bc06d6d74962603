"""Quantities as the founder types them, "1,060" or "25 kg", into whole base units or the words for what is wrong."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from traveller.rules.numbers import Meanings, NotNumber, TypedQuantity, read_quantity
from traveller.rules.units import BaseUnit, show_quantity
from traveller.web.parts.figures import asks_meaning, own_mark, why_not

# Far above any shop's quantity, and what a column of counts can hold.
COUNT_MOST = 2_000_000_000


def read_typed_amount(text: str, base: str, *, unit: str = "") -> TypedQuantity | str:
    """A quantity in whole base units, zero or more, with the figure as it was typed where that was converted; or the
    words that say what is wrong with it, or that ask which of two things it means.

    A unit typed behind the number goes before the one of the field; without either it is the base unit.
    """
    found = read_quantity(text, cast(BaseUnit, base), unit, own_mark())
    if isinstance(found, Meanings):
        return asks_meaning(found)
    if isinstance(found, NotNumber):
        like = _("“%(text)s” is not a quantity. Write a number, if need be with its unit: 25 kg.")
        return why_not(found, like=like % {"text": text[:30]})
    return found


class AmountField(forms.CharField):
    """A quantity of a part, in whole base units; empty is none where it is not required.

    Without `base` it counts pieces, from `least` to `most`; one that `counts` does so whatever the part is. After
    cleaning, `kept` says how it was typed where it was converted.
    """

    def __init__(
        self,
        base: str = "C62",
        *,
        unit: str = "",
        least: int = 0,
        most: int = 0,
        counts: bool = False,
        **kwargs: Any,
    ) -> None:
        self.base, self.unit, self.counts = base, unit, counts
        self.least, self.most = least, most or (COUNT_MOST if base == "C62" else 0)
        self.kept = ""
        super().__init__(max_length=30, **kwargs)
        self.widget.attrs.update({"class": "number", "inputmode": "decimal", "autocomplete": "off"})

    def clean(self, value: Any) -> Any:
        """Return whole base units, or none for an empty field."""
        self.kept = ""
        text = super().clean(value)
        if not text:
            return None
        found = read_typed_amount(text, self.base, unit=self.unit)
        if isinstance(found, str):
            raise ValidationError(found)
        if found.quantity < self.least:
            raise ValidationError(_("At least %(n)s.") % {"n": self.least})
        if self.most and found.quantity > self.most:
            raise ValidationError(why_not(NotNumber("too_large", text)))
        self.kept = found.kept
        return found.quantity


def of_unit(form: forms.Form, base: str) -> None:
    """All quantities of the form are of a part in this unit."""
    for field in form.fields.values():
        if isinstance(field, AmountField) and not field.counts:
            field.base, field.most = base, COUNT_MOST if base == "C62" else 0


def to_type(quantity: int, base: str) -> str:
    """A quantity as it stands in a field to be changed: in people's units, and read back as itself."""
    return show_quantity(quantity, cast(BaseUnit, base)).replace(",", "")


def how_typed(form: forms.Form, name: str) -> dict[str, str]:
    """As an action keeps it beside the quantity: the figure as it was typed, where it was converted."""
    field = form.fields[name]
    return {"typed": field.kept} if isinstance(field, AmountField) and field.kept else {}
