"""Figures as gloved hands type them: read kindly, refused in words, questioned before they become news."""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation

from django.utils.translation import gettext as _

from traveller.web.door import Asked

MOST = 10_000_000


def read_count(text: str) -> int | str:
    """A whole number, zero or more; or the words that say what is wrong with it."""
    packed = re.sub(r"[\s'’]", "", text)
    if not packed:
        return _("Type a number; 0 if there are none.")
    if re.fullmatch(r"\d{1,3}([.,]\d{3})+", packed):
        packed = packed.replace(",", "").replace(".", "")
    if re.fullmatch(r"-\d+([.,]\d+)?", packed):
        return _("“%(text)s” is below zero. Nobody counts fewer than none.") % {"text": text}
    if re.fullmatch(r"\d+[.,]\d*", packed):
        return _("“%(text)s” is not whole. Pieces are counted in whole numbers.") % {"text": text}
    if not re.fullmatch(r"\d+", packed):
        return _("“%(text)s” is not a number. Use digits only.") % {"text": text}
    if len(packed) > 9 or int(packed) > MOST:
        return _("“%(text)s” is more than anybody can count here. Check the figure.") % {"text": text}
    return int(packed)


def read_measure(text: str) -> str | None:
    """A measured value as a decimal with a point, exactly as typed otherwise; None when it is no number."""
    packed = re.sub(r"[\s'’]", "", text).replace("−", "-").replace(",", ".")
    try:
        value = Decimal(packed)
    except InvalidOperation:
        return None
    return packed if value.is_finite() and re.fullmatch(r"[+-]?\d*\.?\d*", packed) else None


def more_than_there(counted: int, there: int) -> Asked | None:
    """ "1,400 of 1,132: really?" """
    return Asked("more_than_there", {"counted": counted, "there": there}) if counted > there else None
