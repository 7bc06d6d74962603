"""The language is chosen by the phone and changed by a tap; the founder's pages are English whatever is asked for."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.conf import settings
from django.test import Client

from tests import cast
from tests.web.one_line import one_line
from traveller.web.who import BEHALF_KEY

pytestmark = pytest.mark.django_db


def head(client: Client, path: str, **more: Any) -> str:
    page = client.get(path, **more).content.decode()
    found = re.search(r'<html lang="[a-z-]+"(?: dir="rtl")?', page)
    assert found
    return f"{found[0]}>"


@pytest.mark.parametrize(
    ("asked", "tag"),
    [
        ("es-MX,es;q=0.9,en;q=0.5", '<html lang="es">'),
        ("zh-CN", '<html lang="zh-hans">'),
        ("zh-SG", '<html lang="zh-hans">'),
        ("vi-VN", '<html lang="vi">'),
        ("ar-EG", '<html lang="ar" dir="rtl">'),
        ("fr-FR", '<html lang="en">'),
        ("", '<html lang="en">'),
    ],
)
def test_the_phone_chooses_the_language_and_the_direction(asked: str, tag: str) -> None:
    assert head(Client(), "/pass", HTTP_ACCEPT_LANGUAGE=asked) == tag


def test_a_tap_on_a_language_changes_it_for_good_and_goes_back() -> None:
    client = cast.make_cast().operator
    page = one_line(client.get("/language?next=/here/").content.decode())
    assert all(f">{name}</button>" in page.replace("✓ ", "") for _, name in settings.LANGUAGES)
    answer = client.post("/language", {"language": "vi", "next": "/here/"})
    assert (answer.status_code, answer["Location"]) == (302, "/here/")
    assert int(answer.cookies[settings.LANGUAGE_COOKIE_NAME]["max-age"]) > 365 * 24 * 3600
    assert head(client, "/here/", HTTP_ACCEPT_LANGUAGE="es") == '<html lang="vi">'
    client.post("/language", {"language": "en", "next": "/here/"})
    assert head(client, "/here/", HTTP_ACCEPT_LANGUAGE="es") == '<html lang="en">'


@pytest.mark.parametrize("reported", [{}, {"language": "xx"}, {"language": "../en"}, {"units": "cubits"}])
def test_an_unknown_language_or_system_is_kept_nowhere(reported: dict[str, str]) -> None:
    answer = Client().post("/language", reported)
    assert (answer.status_code, len(answer.cookies.get(settings.LANGUAGE_COOKIE_NAME, ""))) == (422, 0)


@pytest.mark.parametrize("target", ["//evil.example/", "https://evil.example/", "javascript:alert(1)"])
def test_the_choice_leads_only_to_our_own_pages(target: str) -> None:
    assert Client().post("/language", {"language": "es", "next": target})["Location"] == "/"


def test_the_neutral_page_leads_back_without_naming_the_code() -> None:
    client = Client()
    page = client.get("/t/2HV0TBR").content.decode()
    assert 'href="/language"' in page and "2HV0TBR" not in page
    page = client.get("/language", HTTP_REFERER="http://testserver/t/2HV0TBR").content.decode()
    assert 'name="next" value="/t/2HV0TBR"' in page
    page = client.get("/language", HTTP_REFERER="http://evil.example/t/2HV0TBR").content.decode()
    assert 'name="next" value=""' in page


def test_every_page_of_a_shop_has_the_languages_one_tap_away() -> None:
    world = cast.make_cast()
    for client, path in ((world.operator, "/here/"), (world.operator, "/here/unannounced"), (world.packer, "/pack/")):
        assert 'href="/language?next=' in client.get(path).content.decode()
    assert 'name="language" value="ar"' in one_line(world.operator.get("/person").content.decode())


def test_the_founders_pages_are_english_in_any_browser() -> None:
    world = cast.make_cast()
    for path in ("/", "/orders", "/sites", "/quality"):
        answer = world.founder.get(path, HTTP_ACCEPT_LANGUAGE="ar")
        assert (answer.status_code, answer["Content-Language"]) == (200, "en")
        assert '<html lang="en">' in answer.content.decode()


def test_the_founder_who_speaks_for_a_shop_reads_its_pages_in_the_language_of_the_browser() -> None:
    world = cast.make_cast()
    session = world.founder.session
    session[BEHALF_KEY] = world.moulder.pk
    session.save()
    assert head(world.founder, "/here/", HTTP_ACCEPT_LANGUAGE="es") == '<html lang="es">'


def test_caches_are_told_what_a_page_depends_on() -> None:
    vary = Client().get("/pass")["Vary"]
    assert "Cookie" in vary and "Accept-Language" in vary


@pytest.mark.parametrize(
    ("asked", "pressed"), [("en-US,en", "inch_pound"), ("es-US", "inch_pound"), ("en-GB", "metric"), ("vi", "metric")]
)
def test_the_country_of_the_phone_says_the_units_until_somebody_taps(asked: str, pressed: str) -> None:
    client = Client()

    def shown() -> str:
        page = one_line(client.get("/language", HTTP_ACCEPT_LANGUAGE=asked).content.decode())
        found = re.search(r'name="units" value="(\w+)" aria-pressed="true"', page)
        assert found
        return found[1]

    assert shown() == pressed
    client.post("/language", {"units": "metric"})
    assert shown() == "metric"
