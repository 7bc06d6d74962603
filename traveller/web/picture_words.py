"""The words that drawings say, in the reader's language: pictures/ itself knows no Django."""

from __future__ import annotations

from datetime import date

from django.utils import formats
from django.utils.translation import gettext

from traveller.web.pictures import kit_rule, line_data, ribbon
from traveller.web.templatetags.look import whole


def day_words(day: date) -> str:
    """Write a day with its month as a word: Fri 27 Nov."""
    # Translators: a day; Django date format letters.
    return formats.date_format(day, gettext("D j M"))


def line_words() -> line_data.Words:
    """Return the line graph's words."""
    return line_data.Words(
        now=gettext("now"), promised=gettext("promised {day}"), silent=gettext("not heard"), day=day_words
    )


def kit_words() -> kit_rule.Words:
    """Return the kit rule's words."""
    return kit_rule.Words(
        here=gettext("here"),
        one=gettext("one step off"),
        two=gettext("two steps off"),
        road=gettext("on the road"),
        held=gettext("held"),
        now=gettext("{n} kits can be assembled now"),
        wanted=gettext("{n} wanted"),
        number=whole,
    )


def ribbon_words() -> ribbon.Words:
    """Return the yield ribbon's words."""
    return ribbon.Words(
        good=gettext("good"),
        rework=gettext("rework"),
        here=gettext("here"),
        held=gettext("held"),
        samples=gettext("samples"),
        scrap=gettext("scrap"),
        unexplained=gettext("unexplained"),
        number=whole,
    )
