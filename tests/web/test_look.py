"""The components: words beside shapes, numbers with units, lapses as people say them, everything escaped."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from xml.etree import ElementTree

import pytest
from django import forms
from django.template import Context, Template
from django.template.loader import render_to_string
from django.test import RequestFactory, override_settings

from tests.web import gallery
from traveller.web.pictures.marks import _SHAPES, MarkDrawn
from traveller.web.templatetags import look

AT = datetime(2026, 11, 24, 10, 40, tzinfo=UTC)
NASTY = '"><script>alert(1)</script>'


def shown(source: str, **context: object) -> str:
    """Return a template's text with the look loaded."""
    return Template("{% load look %}" + source).render(Context(context))


@pytest.mark.parametrize("kind", list(_SHAPES))
def test_a_mark_never_stands_without_its_word(kind: MarkDrawn) -> None:
    root = ElementTree.fromstring(look.mark(kind))
    assert root.find("svg") is not None and "".join(root.itertext()).strip() == str(look.WORDS[kind])


def test_a_code_is_set_in_its_groups_and_can_be_copied_as_it_is_printed() -> None:
    root = ElementTree.fromstring(look.code("2HV-0TB-R"))
    assert "".join(root.itertext()) == "2HV-0TB-R"
    assert "".join(ElementTree.fromstring(look.code("2HV0TBR")).itertext()) == "2HV-0TB-R"


@pytest.mark.parametrize("value", [None, ""])
def test_no_code_is_nothing(value: str | None) -> None:
    assert look.code(value) == ""


def test_a_quantity_keeps_its_thousands_mark_and_its_unit() -> None:
    assert look.quantity(12345, "pieces") == '<span class="qty">12,345 <span class="unit">pieces</span></span>'
    assert look.quantity(None, "pieces") == '<span class="qty">–</span>'
    assert look.quantity(0) == '<span class="qty">0</span>'


@pytest.mark.parametrize(
    ("lapse", "words"),
    [
        (timedelta(seconds=-5), "less than a minute"),
        (timedelta(seconds=59), "less than a minute"),
        (timedelta(minutes=1), "1 minute"),
        (timedelta(minutes=59, seconds=59), "59 minutes"),
        (timedelta(hours=1), "1 hour"),
        (timedelta(hours=26), "26 hours"),
        (timedelta(hours=48), "2 days"),
        (timedelta(days=3, hours=23), "3 days"),
    ],
)
def test_a_lapse_is_said_in_the_unit_that_people_use(lapse: timedelta, words: str) -> None:
    assert look.lapse_words(lapse) == words


def test_a_moment_has_its_month_as_a_word_and_is_exact_for_machines() -> None:
    assert look.moment(AT) == '<time datetime="2026-11-24T10:40:00+00:00">Tue 24 Nov, 10:40</time>'


def test_a_tie_on_tag_asks_one_thing_and_escapes_what_it_is_told() -> None:
    html = shown("{% tag 'held' word text '/x' deed %}", word=NASTY, text=NASTY, deed="Decide")
    assert "<script" not in html and html.count("<a ") == 1 and "Decide" in html


def test_a_field_in_error_is_wired_to_its_words() -> None:
    class Count(forms.Form):
        good = forms.IntegerField(label="Good", help_text="24 were on this fixture")

    html = shown("{% field form.good 'pieces' %}", form=Count({"good": "2.5"}))
    assert 'aria-invalid="true"' in html and "Enter a whole number." in html
    described = re.search(r'aria-describedby="([^"]+)"', html)
    assert described and described[1].split() == ["id_good-errors", "id_good-help"]
    assert all(f'id="{name}"' in html for name in described[1].split())


def test_the_as_of_line_shows_who_is_silent_for_longer_than_usual() -> None:
    html = shown("{% as_of at heard %}", at=AT, heard=[{"site": "Printer", "when": AT, "overdue": True}])
    assert 'class="overdue"' in html and "Printer" in html


def test_a_question_names_itself_and_offers_a_way_back() -> None:
    html = render_to_string("web/parts/question.html", {"question": NASTY, "no_link": "/back"})
    assert "<script" not in html and 'href="/back"' in html and 'aria-labelledby="question-words"' in html


@override_settings(ROOT_URLCONF="tests.web.gallery_urls")
def test_the_founders_way_in_force_is_marked_once() -> None:
    html = render_to_string("web/base.html", {"section": "stock"}, request=RequestFactory().get("/"))
    assert html.count('aria-current="page"') == 1
    assert all(str(words) in html for _, words in look.FOUNDER_WAYS)


@override_settings(ROOT_URLCONF="tests.web.gallery_urls")
@pytest.mark.parametrize("name", ["400", "403", "403_csrf", "404", "500", "503"])
def test_an_error_page_says_in_words_what_to_do_next_without_a_database(name: str) -> None:
    html = render_to_string(f"{name}.html")
    assert "<h1>" in html and 'href="/"' in html and "Traveller" in html


@override_settings(ROOT_URLCONF="tests.web.gallery_urls")
def test_a_confirmed_id_is_told_to_the_page_so_that_typed_values_may_go() -> None:
    request = RequestFactory().get("/")
    for base in ("web/base.html", "web/phone.html"):
        assert 'data-confirmed="abc"' in render_to_string(base, {"confirmed": "abc"}, request=request)
        assert "data-confirmed" not in render_to_string(base, request=request)


def test_the_pad_offers_all_where_the_number_is_known_and_clear_where_not() -> None:
    assert 'data-all="24"' in shown("{% pad 'good' 24 %}") and 'data-all=""' in shown("{% pad 'good' %}")


def test_gallery_table_is_sorted_as_it_says() -> None:
    table = gallery.BatchTable(gallery.ROWS, order_by="-good")
    assert [head["sort"] for head in table.heads()] == ["", "", "", "descending", "", ""]
