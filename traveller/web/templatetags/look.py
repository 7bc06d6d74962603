"""The components of the look: marks, codes, quantities, times, tags. `{% load look %}`; see web/README.md."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from typing import Any

from django import template
from django.forms import BoundField
from django.utils import formats, timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language, gettext, gettext_lazy, ngettext

from traveller.rules.moments import on_clocks
from traveller.web.language.reader import language_names
from traveller.web.pictures.marks import MarkDrawn, mark_svg

register = template.Library()

WORDS = {
    "held": gettext_lazy("Held"),
    "doubt": gettext_lazy("In doubt"),
    "free": gettext_lazy("Free to go"),
    "road": gettext_lazy("On the road"),
    "one": gettext_lazy("One step off"),
    "two": gettext_lazy("Two steps off"),
    "gate": gettext_lazy("Prove first"),
    "here": gettext_lazy("Here"),
    "late": gettext_lazy("Late"),
}
TONGUES = {"en": "EN", "es": "ES", "zh-hans": "中文", "vi": "VI", "ar": "ع"}
# Arabic with the digits of gauges; Spanish with a space between groups, as Costa Rica writes it.
BROWSER_LOCALES = {"es": "es-CR", "ar": "ar-u-nu-latn"}
FOUNDER_WAYS = (
    ("home", gettext_lazy("Where everything is")),
    ("orders", gettext_lazy("Orders")),
    ("kits", gettext_lazy("Kits")),
    ("stock", gettext_lazy("Stock")),
    ("consignments", gettext_lazy("Consignments")),
    ("sites", gettext_lazy("Sites")),
    ("quality", gettext_lazy("Quality")),
    ("workbook", gettext_lazy("Workbook")),
)


@register.simple_tag
def founder_ways() -> tuple[tuple[str, Any], ...]:
    """Return the founder's ways: the name of the address and the word on the page."""
    return FOUNDER_WAYS


@register.simple_tag
def mark(kind: MarkDrawn, word: str = "") -> SafeString:
    """Draw a mark with its word: a shape never stands alone."""
    shape = SafeString(mark_svg(kind))
    return format_html(
        '<span class="mark mark-{}">{}<span class="mark-word">{}</span></span>', kind, shape, word or WORDS[kind]
    )


@register.simple_tag
def shape(kind: MarkDrawn, css: str = "") -> SafeString:
    """Draw the bare shape, for a place where the word already stands beside it."""
    return SafeString(mark_svg(kind, css))


@register.filter
def code(value: object) -> SafeString:
    """Set a short code in groups, in the monospaced face: 2HV-0TB-R."""
    if not value:
        return SafeString("")
    groups = [group for group in str(value).split("-") if group]
    if len(groups) == 1 and len(groups[0]) > 4 and re.fullmatch(r"[0-9A-Z]+", groups[0]):
        whole = groups[0]
        groups = [whole[i : i + 3] for i in range(0, len(whole), 3)]
    return format_html(
        '<span class="code">{}</span>',
        format_html_join(mark_safe("<i>-</i>"), "<b>{}</b>", ((group,) for group in groups)),
    )


@register.filter
def whole(value: int | None) -> str:
    """Write a whole number with the reader's thousands mark; a dash for none."""
    return "–" if value is None else formats.number_format(value, use_l10n=True, force_grouping=True)


@register.simple_tag
def quantity(value: int | None, unit: object = "") -> SafeString:
    """Write a quantity whose unit stays with it on the line."""
    if not unit or value is None:
        return format_html('<span class="qty">{}</span>', whole(value))
    return format_html('<span class="qty">{} <span class="unit">{}</span></span>', whole(value), unit)


def lapse_words(lapse: timedelta) -> str:
    """Write a lapse in its largest unit, as people say it: 4 minutes, 26 hours, 3 days."""
    minutes = max(int(lapse.total_seconds() // 60), 0)
    if minutes < 1:
        return gettext("less than a minute")
    if minutes < 60:
        return ngettext("%(n)d minute", "%(n)d minutes", minutes) % {"n": minutes}
    hours = minutes // 60
    # Up to two days the hours say more: "26 hours" is overdue where "1 day" sounds like nothing.
    if hours < 48:
        return ngettext("%(n)d hour", "%(n)d hours", hours) % {"n": hours}
    return ngettext("%(n)d day", "%(n)d days", hours // 24) % {"n": hours // 24}


@register.simple_tag
def since(when: datetime | None, at: datetime) -> SafeString:
    """Write how long ago something was, seen from `at`; the exact moment is in the element."""
    if when is None:
        return SafeString("–")
    return format_html('<time datetime="{}">{}</time>', when.isoformat(), lapse_words(at - when))


def moment_words(when: datetime) -> str:
    """Write a moment with its month as a word, in the zone in force: Tue 24 Nov, 10:40."""
    # Translators: a moment; Django date format letters.
    return formats.date_format(on_clocks(when, timezone.get_current_timezone()), gettext("D j M, H:i"))


@register.filter
def day_words(day: date | None) -> str:
    """Write a day with its month as a word, as its readers do: 24 Nov."""
    # Translators: a day; Django date format letters.
    return "–" if day is None else formats.date_format(day, gettext("j M"))


@register.filter
def moment(when: datetime | None) -> SafeString:
    """Write a moment as an element that machines read too."""
    if when is None:
        return SafeString("–")
    return format_html('<time datetime="{}">{}</time>', when.isoformat(), moment_words(when))


@register.simple_tag
def tongue() -> SafeString:
    """Write the language in force in its own short way, as the link that leads to the others."""
    here = get_language() or "en"
    return format_html('<b lang="{}">{}</b>', here, TONGUES.get(here, here.upper()))


@register.simple_tag
def browser_locale() -> str:
    """Return the name by which a browser writes numbers and times as these pages do."""
    here = get_language() or "en"
    return BROWSER_LOCALES.get(here, here)


@register.simple_tag
def tongues() -> list[tuple[str, str]]:
    """Return each language by its own name."""
    return language_names()


@register.inclusion_tag("web/parts/tag.html")
def tag(kind: MarkDrawn, word: str, text: str, link: str = "", deed: str = "") -> dict[str, object]:
    """Draw a tie-on tag: mark, word, one plain sentence, one deed. Stands in `<ul class="ties">`."""
    return {"kind": kind, "word": word, "text": text, "link": link, "deed": deed}


@register.inclusion_tag("web/parts/as_of.html")
def as_of(at: datetime, heard: list[dict[str, object]] | None = None) -> dict[str, object]:
    """Draw the as-of line; `heard` holds site, when and whether it is overdue, so that silence shows."""
    return {"at": at, "heard": heard or []}


@register.inclusion_tag("web/parts/field.html")
def field(bound: BoundField, unit: str = "") -> dict[str, object]:
    """Draw a form field: label, field, unit, help, errors; wired for screen readers."""
    ids = [f"{bound.id_for_label}-errors"] if bound.errors else []
    ids += [f"{bound.id_for_label}-help"] if bound.help_text else []
    extra = {"aria-invalid": "true"} if bound.errors else {}
    if ids:
        extra["aria-describedby"] = " ".join(ids)
    widget = bound.as_widget(attrs={**bound.field.widget.attrs, **extra})
    return {"bound": bound, "widget": widget, "unit": unit, "name": bound.html_name}


@register.inclusion_tag("web/parts/errors.html")
def field_errors(bound: BoundField) -> dict[str, object]:
    """Draw a field's errors alone, where the field is set by hand."""
    return {"errors": bound.errors, "id": f"{bound.id_for_label}-errors", "name": bound.html_name}


@register.inclusion_tag("web/parts/picture.html")
def picture(wide: str, narrow: str, caption: str = "") -> dict[str, object]:
    """Show a drawing of pictures/ in both its forms. The strings are our own escaped SVG."""
    return {"wide": SafeString(wide), "narrow": SafeString(narrow), "caption": caption}


@register.inclusion_tag("web/parts/pad.html")
def pad(field_id: str, total: int | None = None, decimal: str = "", signed: bool = False) -> dict[str, object]:
    """Draw the number pad of a field; hidden until pad.js wakes it. `total` gives the "all 24" key."""
    keys = [str(n) for n in range(1, 10)]
    return {"field_id": field_id, "total": total, "decimal": decimal, "signed": signed, "keys": keys}
