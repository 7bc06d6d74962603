"""Every address, for the whole cast, with real things of site A behind it: who is let in, who is not, no fault."""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from typing import TYPE_CHECKING, Any
from uuid import uuid4

import pypdfium2
import pytest
from django.test import Client

from tests import cast
from tests.kept import standing
from tests.web.route_table import TABLE, Rule
from tests.web.route_world import CUSTOMER, SHIP_TO, World, make_world, routes

if TYPE_CHECKING:
    from pytest_django.plugin import DjangoDbBlocker

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def kept(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[World]:
    yield from standing(django_db_blocker, make_world)


@pytest.fixture
def world(kept: World, db: None) -> World:
    return deepcopy(kept)


# What a page may answer to those whose page it is: shown, gone on, the other method, refused in words.
LET_IN = {200, 302, 400, 405, 409, 410, 422, 503}
# A page that is only posted to says so to everybody, whatever stands in its address.
NOT_THERE = {404, 405}


def addresses(world: World, *readers: str) -> Iterator[tuple[str, Rule, str]]:
    figures = world.figures()
    for route, rule in TABLE.items():
        if not readers or rule.reader in readers:
            yield route, rule, rule.url(route, figures)


def knock(client: Client, url: str, *, post: bool = False, json: bool = False) -> Any:
    """Ask for a page, or send it a form with nothing in it but its number."""
    headers = {"accept": "application/json"} if json else {}
    return client.post(url, {"news_id": str(uuid4())}, headers=headers) if post else client.get(url, headers=headers)


def statuses(client: Client, urls: list[str], **how: bool) -> dict[str, int]:
    return {url: knock(client, url, **how).status_code for url in urls}


def test_every_address_has_its_line_in_the_table_and_every_line_its_address() -> None:
    found = routes()
    assert len(found) == len(set(found)), "the same address twice"
    assert sorted(set(found) - set(TABLE)) == [], "new addresses: say in route_table.py whose they are"
    assert sorted(set(TABLE) - set(found)) == [], "addresses that are gone"


@pytest.mark.parametrize("post", [False, True])
def test_the_founders_pages_send_strangers_to_the_sign_in_and_do_not_exist_for_passes(world: World, post: bool) -> None:
    people = world.people
    for _route, _rule, url in addresses(world, "founder"):
        for name in ("stranger", "revoked"):
            answer = knock(people.everyone()[name], url, post=post)
            if answer.status_code != 405:
                assert answer.status_code == 302 and answer["Location"].startswith("/sign-in?next=/"), (name, url)
        for name in ("operator", "rival", "packer"):
            answer = knock(people.everyone()[name], url, post=post)
            if url == "/" and not post:
                assert answer["Location"] == ("/pack/" if name == "packer" else "/here/")
            else:
                assert answer.status_code in NOT_THERE, (name, url, answer.status_code)


@pytest.mark.parametrize("post", [False, True])
def test_the_founder_is_let_in_everywhere_without_a_fault(world: World, post: bool) -> None:
    for route, _rule, url in addresses(world, "founder"):
        answer = knock(world.people.founder, url, post=post)
        # To speak for no site, or to print the card of a pass that was not just made, is to ask for nothing.
        allowed = LET_IN | ({404} if route in ("founder/behalf", "sites/<slug:code>/card") else set())
        assert answer.status_code in allowed, (url, answer.status_code)
        assert "/sign-in" not in answer.get("Location", ""), url


@pytest.mark.parametrize("post", [False, True])
def test_a_shops_pages_do_not_exist_for_strangers_and_revoked_passes(world: World, post: bool) -> None:
    for _route, rule, url in addresses(world, "shop", "packer"):
        for name in ("stranger", "revoked", "founder"):
            client = world.people.everyone()[name]
            there = {401, 405} if rule.machine else NOT_THERE
            assert knock(client, url, post=post).status_code in there, (name, url)
            said = knock(client, url, post=post, json=True)
            assert said.status_code in {401, 405}, (name, url)
            if said.status_code == 401:
                assert said.json() == {"error": "pass_needed"}


@pytest.mark.parametrize("post", [False, True])
def test_what_belongs_to_one_shop_does_not_exist_for_its_rival(world: World, post: bool) -> None:
    for _route, rule, url in addresses(world, "shop"):
        status = knock(world.people.rival, url, post=post).status_code
        if rule.own:
            assert status in NOT_THERE, (url, status)
        else:
            assert status in LET_IN | {404}, (url, status)


@pytest.mark.parametrize("post", [False, True])
def test_the_packers_pages_do_not_exist_for_other_shops(world: World, post: bool) -> None:
    for _route, _rule, url in addresses(world, "packer"):
        for name in ("operator", "rival"):
            assert knock(world.people.everyone()[name], url, post=post).status_code in NOT_THERE, (name, url)


@pytest.mark.parametrize("post", [False, True])
@pytest.mark.parametrize("by_phone", [False, True])
def test_a_shop_is_let_in_to_its_own_pages_without_a_fault(world: World, post: bool, by_phone: bool) -> None:
    people = world.people
    for reader, site, own in (("shop", people.moulder, people.operator), ("packer", people.bench, people.packer)):
        client = cast.on_behalf(people.founder, site) if by_phone else own
        for route, _rule, url in addresses(world, reader):
            status = knock(client, url, post=post).status_code
            # To scan nothing is to find nothing.
            allowed = LET_IN | ({404} if route in ("here/scan", "pack/scan", "here/photo") else set())
            assert status in allowed, (url, status)


@pytest.mark.parametrize("post", [False, True])
def test_the_packer_meets_no_fault_on_the_shops_pages(world: World, post: bool) -> None:
    for _route, _rule, url in addresses(world, "shop"):
        assert knock(world.people.packer, url, post=post).status_code in LET_IN | {404}, url


@pytest.mark.parametrize("post", [False, True])
def test_the_door_has_an_answer_for_everybody(world: World, post: bool) -> None:
    for _route, _rule, url in addresses(world, "door"):
        for name in world.people.everyone():
            # Each from a browser of its own: some of these pages take the pass off the phone.
            client = make_again(world, name)
            assert knock(client, url, post=post).status_code in LET_IN | {404, 429}, (name, url)


def make_again(world: World, name: str) -> Client:
    client = Client()
    for key, morsel in world.people.everyone()[name].cookies.items():
        client.cookies[key] = morsel.value
    return client


def test_no_page_of_a_shop_tells_the_customer_or_where_it_goes(world: World) -> None:
    reported = []
    for name in ("operator", "rival"):
        client = world.people.everyone()[name]
        for post in (False, True):
            for _route, _rule, url in addresses(world, "shop", "door"):
                if url == "/pass-off" and post:
                    continue
                said = words_of(knock(client, url, post=post))
                reported += [(name, url, word) for word in (CUSTOMER, SHIP_TO, world.line.order.number) if word in said]
    assert not reported


def test_what_the_search_looks_for_is_there_for_those_who_may_see_it(world: World) -> None:
    line = words_of(knock(world.people.packer, f"/pack/line/{world.line.pk}"))
    printed = words_of(knock(world.people.packer, f"/pack/carton/{world.carton.code}/list", post=True))
    for said in (line, printed):
        assert CUSTOMER in said and SHIP_TO in said


def words_of(answer: Any) -> str:
    """What a page or a paper says."""
    if answer["Content-Type"] == "application/pdf":
        return "\n".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(answer.content))
    return str(answer.content.decode(errors="replace"))


STRANGE = [
    "%00",
    "0000000%00",
    "%F0%9F%8F%AE",
    "A" * 2000,
    "%E2%80%AE",
    "'%20OR%201=1",
    "..",
    "-1",
    "99999999999999999999",
]


@pytest.mark.parametrize("strange", STRANGE)
def test_strange_codes_in_an_address_are_no_fault(world: World, strange: str) -> None:
    people = {"founder": "founder", "shop": "operator", "packer": "packer", "door": "stranger"}
    for route, rule in TABLE.items():
        if "<" in route and "<uuid" not in route and not rule.path:
            url = rule.url(route, dict.fromkeys(world.figures(), strange))
            status = knock(world.people.everyone()[people[rule.reader]], url).status_code
            assert status < 500, (url, status)
