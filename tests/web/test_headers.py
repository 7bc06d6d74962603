"""Who may keep an answer, who may use it, what its page may do: said with every answer, static files included."""

from __future__ import annotations

import re
from urllib.parse import urlsplit

import pytest
from django.test import Client

from tests import cast, factory
from tests.web.route_table import TABLE
from tests.web.route_world import make_world
from traveller.web.door_views import sign_in_link

pytestmark = pytest.mark.django_db

# What is the same for everybody who may see it, and named by what it holds or asked for again each time.
MAY_BE_KEPT = {"picture/<str:digest>", "keeper.js", "manifest.webmanifest"}


@pytest.mark.long
def test_no_page_export_paper_or_evidence_may_be_kept_by_a_browser_or_on_the_way() -> None:
    world = make_world()
    people = world.people
    readers = {"founder": people.founder, "shop": people.operator, "packer": people.packer, "door": people.stranger}
    kept = []
    for route, rule in TABLE.items():
        if route in MAY_BE_KEPT:
            continue
        url = rule.url(route, world.figures())
        for answer in (readers[rule.reader].get(url), readers[rule.reader].post(url, {"news_id": "x"})):
            if "no-store" not in answer.get("Cache-Control", ""):
                kept.append((url, answer.status_code, answer.get("Cache-Control")))
    assert not kept


def test_a_picture_named_by_its_digest_may_be_kept_by_its_reader_alone() -> None:
    world = make_world()
    answer = world.people.operator.get(f"/picture/{world.globe.part.picture_digest}")
    assert answer.status_code == 200
    assert "private" in answer["Cache-Control"] and "immutable" in answer["Cache-Control"]


@pytest.mark.parametrize(
    "path", ["/sign-in", "/orders", "/no-such-page", "/keeper.js", "/static/web/ink.css", "/static/no"]
)
def test_every_answer_says_what_its_page_may_do_and_that_no_other_server_may_use_it(path: str) -> None:
    answer = Client().get(path)
    answer.close()
    said = dict(part.split("=", 1) for part in answer["Permissions-Policy"].split(", "))
    for feature in ("camera", "serial", "publickey-credentials-get", "publickey-credentials-create"):
        assert said[feature] == "(self)", feature
    for feature in ("geolocation", "microphone", "payment", "usb", "hid", "display-capture"):
        assert said[feature] == "()", feature
    assert answer["Cross-Origin-Resource-Policy"] == "same-origin"
    assert answer["Cross-Origin-Opener-Policy"] == "same-origin"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert "Access-Control-Allow-Origin" not in answer


def test_a_server_that_is_asked_by_another_name_refuses_with_the_same_headers() -> None:
    answer = Client(SERVER_NAME="elsewhere.example").get("/sign-in")
    assert answer.status_code == 400
    assert answer["Permissions-Policy"] and answer["Cross-Origin-Resource-Policy"] == "same-origin"


def key_pages() -> list[str]:
    token = cast.make_pass(factory.make_site("moulder"))[1]
    link = sign_in_link(cast.make_founder())
    return [
        "/pass",
        f"/pass/{token}",
        "/pass/0000000000000000",
        "/sign-in",
        link,
        "/sign-in/none",
        f"/sign-in/{'x' * 99}",
    ]


def test_no_address_with_a_key_is_passed_on_or_kept() -> None:
    for url in key_pages():
        for answer in (
            Client().get(url),
            Client(enforce_csrf_checks=True).post(url),
            Client().post(url, {"open": "1"}),
        ):
            assert answer["Referrer-Policy"] == "no-referrer", url
            assert "no-store" in answer["Cache-Control"], url


def test_other_pages_say_their_address_to_this_server_alone() -> None:
    for url in ("/language", "/orders", "/pass-off", "/t/2HV0TBR"):
        assert Client().get(url)["Referrer-Policy"] == "same-origin", url


def test_a_page_with_a_key_lets_its_forms_say_from_which_server_they_come_and_no_more() -> None:
    """Under no-referrer alone a browser names no origin with a form, and Django refuses it."""
    for url in key_pages():
        page = Client().get(url).content.decode()
        assert re.findall(r'<meta name="referrer" content="([^"]*)">', page) == ["strict-origin"], url


def test_from_a_page_with_a_key_one_chooses_a_language_and_comes_back_without_the_key_in_an_address() -> None:
    token = cast.make_pass(factory.make_site("moulder"))[1]
    client = Client()
    page = client.get(f"/pass/{token}").content.decode()
    assert f'<input type="hidden" name="next" value="/pass/{token}">' in page
    assert not [href for href in re.findall(r'href="([^"]*)"', page) if token in href]
    chooser = client.post("/language", {"next": f"/pass/{token}", "show": "1"})
    assert chooser.status_code == 200 and "Tiếng Việt" in chooser.content.decode()
    chosen = client.post("/language", {"next": f"/pass/{token}", "language": "vi"})
    assert urlsplit(chosen["Location"]).path == f"/pass/{token}"
    assert client.get(chosen["Location"]).headers["Content-Language"] == "vi"


def test_a_language_that_there_is_not_is_still_refused() -> None:
    assert Client().post("/language", {"language": "xx"}).status_code == 422
