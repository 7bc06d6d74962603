"""Small helps of the shop's pages. `{% load shop %}`."""

from __future__ import annotations

from datetime import datetime, timedelta

from django import template
from django.utils.safestring import SafeString

from traveller.web.language.numbers import decimal_mark, quantity_words
from traveller.web.pictures.reasons import Drawing, reason_svg
from traveller.web.templatetags.look import whole

register = template.Library()


def clock_words(seconds: int) -> str:
    """14:59, or 3:59:00 from an hour on: as the timer on the page shows it."""
    hours, rest = divmod(seconds, 3600)
    minutes, left = divmod(rest, 60)
    return f"{hours}:{minutes:02}:{left:02}" if hours else f"{minutes:02}:{left:02}"


@register.filter
def one(sentence: str) -> list[str]:
    """One sentence as the list that `errors.html` draws; none for an empty one."""
    return [sentence] if sentence else []


@register.simple_tag
def decimal() -> str:
    """The mark before decimals where this form is typed: the form says it, for it may be read in another language."""
    return decimal_mark()


@register.filter
def amount(quantity: int, unit: str) -> str | SafeString:
    """A quantity with its unit, pieces as a plain number in the reader's way of writing."""
    return whole(quantity) if unit == "C62" else quantity_words(quantity, unit)


@register.simple_tag
def clock(seconds: int) -> str:
    """A least time as the timer shows it; nothing where none is asked."""
    return clock_words(seconds) if seconds else ""


@register.simple_tag
def reason(drawing: Drawing) -> SafeString:
    """The small drawing of a reason; its word stands beside it."""
    return SafeString(reason_svg(drawing))


@register.inclusion_tag("web/parts/pad.html")
def pad_of_group(group_id: str) -> dict[str, object]:
    """One number pad for many fields: it types into the one that was chosen."""
    return {"group_id": group_id, "total": None, "decimal": "", "keys": [str(n) for n in range(1, 10)]}


@register.filter
def late_by(recorded: datetime, happened: datetime) -> bool:
    """Was it told so late that the page should say for when?"""
    return recorded - happened > timedelta(minutes=5)
