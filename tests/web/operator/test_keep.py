"""What a phone keeps for the time without a signal: complete, only this site's, and no more than has changed."""

from __future__ import annotations

import gzip
import json
import re
from typing import Any

import pytest
from django.test import Client
from django.urls import resolve

from tests import cast, factory
from tests.web.operator.floor import Floor, make_floor, moved
from traveller.batches.actions.hold import hold_lot
from traveller.batches.models import Load
from traveller.dispatches.models import Consignment
from traveller.journal.models import Event
from traveller.web.operator import keep

pytestmark = pytest.mark.django_db


@pytest.fixture
def floor(monkeypatch: pytest.MonkeyPatch) -> Floor:
    made = make_floor()
    monkeypatch.setattr("django.utils.timezone.now", made.clock)
    return made


def kept(client: Client, has: Any = None, groups: str = "") -> Any:
    headers = {"accept": "application/json"}
    if has is not None:
        headers |= {"if-none-match": f'"{has["version"]}"', "x-kept": groups or ",".join(groups_of(has))}
    return client.get("/here/keep", headers=headers)


def pages_of(answer: Any) -> dict[str, str]:
    return {path: text for _group, path, text in answer.json()["pages"]}


def groups_of(reported: Any) -> set[str]:
    return {group for group, _path, _text in reported["pages"]}


def test_the_pages_of_an_open_task_are_kept_from_the_scan_to_the_count(floor: Floor) -> None:
    floor.moulded(48)
    moved(floor.post(floor.path(30, "load"), quantity=24, place="fixture B"))
    pages = pages_of(kept(floor.phone))
    step, load = floor.step(30).pk, Load.objects.latest("id")
    wanted = {
        "/here/",
        "/here/unsent",
        "/here/send",
        "/here/unannounced",
        f"/here/t/{floor.batch.code}",
        f"/here/t/{floor.batch.code}/30",
        f"/here/step/{step}",
        f"/here/step/{step}/load",
        f"/here/step/{step}/count",
        f"/here/step/{step}/done",
        f"/here/step/{step}/proof",
        f"/here/step/{step}/out",
        f"/here/step/{step}/out?load={load.uid}",
        f"/here/problem/{floor.batch.code}",
    }
    assert wanted <= set(pages)
    for path in pages:
        assert resolve(path.partition("?")[0]), path


def test_a_kept_form_has_no_number_of_its_own_and_one_token_for_all(floor: Floor) -> None:
    floor.moulded(48)
    texts = "".join(pages_of(kept(floor.phone)).values())
    assert texts.count('name="news_id"') > 5
    assert set(re.findall(r'name="news_id" value="([^"]*)"', texts)) == {""}
    tokens = set(re.findall(r'name="csrfmiddlewaretoken" value="([^"]+)"', texts))
    assert len(tokens) == 1 and len(tokens.pop()) == 64


def test_nothing_told_since_is_answered_by_304_and_nothing_else(floor: Floor) -> None:
    floor.moulded(48)
    first = kept(floor.phone).json()
    again = kept(floor.phone, first)
    assert again.status_code == 304 and again.content == b"" and first["version"] in again["ETag"]


def test_only_the_batch_that_was_told_of_is_drawn_anew(floor: Floor) -> None:
    floor.moulded(48)
    other = factory.make_batch(floor.part, wanted=100, start=100, name="other", destination=floor.bench)
    first = kept(floor.phone).json()
    assert groups_of(first) == {"shop", floor.batch.code, other.code} and first["stay"] == []
    moved(floor.post(floor.path(30, "load"), quantity=24))
    then = kept(floor.phone, first).json()
    assert groups_of(then) == {"shop", floor.batch.code} and then["stay"] == [other.code]
    assert then["version"] != first["version"]


def test_news_of_another_shop_draws_nothing_anew_but_a_hold_by_the_founder_does(floor: Floor) -> None:
    floor.moulded(48)
    first = kept(floor.phone).json()
    before = Event.objects.count()
    factory.make_stock(floor.insert, floor.bench, 10, name="elsewhere")
    assert Event.objects.count() > before
    then = kept(floor.phone, first).json()
    assert then["pages"] == [] and then["stay"] == sorted([floor.batch.code, "shop"])
    hold_lot(
        event_context=factory.event_context("held", at=floor.clock()), lot_id=floor.lot().pk, reason="black specks"
    )
    held = kept(floor.phone, then, groups=f"shop,{floor.batch.code}")
    assert groups_of(held.json()) == {"shop", floor.batch.code}
    assert "HELD: do not use" in pages_of(held)[f"/here/t/{floor.batch.code}"]


def test_a_group_that_the_phone_has_lost_is_sent_again(floor: Floor) -> None:
    floor.moulded(48)
    first = kept(floor.phone).json()
    moved(floor.post(floor.path(30, "load"), quantity=24))
    assert floor.batch.code in groups_of(kept(floor.phone, first, groups="shop").json())


@pytest.mark.parametrize("version", ["", "x", "9" * 40, "0.000000000000", '"', "1.abc"])
def test_a_version_that_is_none_of_ours_gets_everything(floor: Floor, version: str) -> None:
    answer = kept(floor.phone, {"version": version, "pages": []}, groups="shop")
    assert answer.status_code == 200 and "shop" in groups_of(answer.json())


def test_another_person_and_another_language_have_pages_of_their_own(floor: Floor) -> None:
    first = kept(floor.phone).json()
    tomas = cast.pass_client(floor.moulder, person="Tomas")
    theirs = kept(tomas, first)
    assert theirs.status_code == 200 and "Tomas" in pages_of(theirs)["/here/"]
    spanish = floor.phone.get("/here/keep", headers={"accept-language": "es", "if-none-match": f'"{first["version"]}"'})
    assert spanish.status_code == 200 and 'lang="es"' in pages_of(spanish)["/here/"]


def test_goods_that_come_are_kept_and_their_code_leads_to_them(floor: Floor) -> None:
    floor.tested(48)
    moved(floor.send_all())
    code = Consignment.objects.get().code
    answer = kept(cast.pass_client(floor.bench))
    assert f"/here/arrival/{code}" in pages_of(answer)
    assert answer.json()["ways"] == {f"/here/t/{code}": f"/here/arrival/{code}"}
    assert ">48<" not in pages_of(answer)[f"/here/arrival/{code}"], "the receiver counts before seeing the sender's"


def test_the_ways_of_goods_are_kept_for_each_place_they_may_go_to(floor: Floor) -> None:
    floor.tested(48)
    pages = pages_of(kept(floor.phone))
    assert {"/here/send", "/here/unannounced", "/person"} <= set(pages)
    ways = {link for link in re.findall(r'href="(/here/[^"]+)"', pages["/here/send"]) if link.startswith("/here/send?")}
    assert ways <= set(pages)


def test_no_phone_is_given_more_tasks_than_it_keeps(floor: Floor, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(keep, "TASKS_MAX", 3)
    for number in range(8):
        factory.make_batch(floor.part, wanted=10, start=10, name=f"many {number}", destination=floor.bench)
    assert len(groups_of(kept(floor.phone).json())) <= 4


def test_what_does_not_go_into_one_answer_comes_with_the_next(floor: Floor, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(keep, "PAGES_MAX", 20)
    for number in range(4):
        factory.make_batch(floor.part, wanted=10, start=10, name=f"many {number}", destination=floor.bench)
    have: set[str] = set()
    last = kept(floor.phone).json()
    for _ask in range(6):
        have |= groups_of(last)
        answer = kept(floor.phone, last, groups=",".join(sorted(have)))
        if answer.status_code == 304:
            break
        last = answer.json()
        assert set(last["stay"]) == have, "what the phone has stays"
    assert answer.status_code == 304 and len(have) == 6


def test_the_pictures_are_named_and_bounded(floor: Floor, monkeypatch: pytest.MonkeyPatch) -> None:
    assert kept(floor.phone).json()["pictures"] == [f"/picture/{floor.part.picture_digest}"]
    monkeypatch.setattr(keep, "PICTURES_BYTES_MAX", 10)
    assert kept(floor.phone).json()["pictures"] == []


def test_strangers_and_revoked_passes_get_nothing_and_the_founder_only_on_behalf(floor: Floor) -> None:
    for client in (Client(), cast.pass_client(floor.moulder, revoked=True), cast.founder_client()):
        answer = kept(client)
        assert answer.status_code == 401 and answer.json() == {"error": "pass_needed"}
        assert client.get("/here/keep").status_code == 404
    founder = cast.on_behalf(cast.founder_client(cast.make_founder("second")), floor.moulder)
    assert kept(founder).status_code == 200


def test_a_rival_keeps_nothing_of_this_site(floor: Floor) -> None:
    floor.moulded(48)
    rival = cast.pass_client(factory.make_site("rival"))
    assert floor.batch.code not in json.dumps(kept(rival).json())


def test_all_pages_of_a_busy_shop_are_light_over_the_wire(floor: Floor) -> None:
    floor.moulded(48)
    for number in range(20):
        factory.make_batch(floor.part, wanted=10, start=10, name=f"busy {number}", destination=floor.bench)
    answer = floor.phone.get("/here/keep", headers={"accept": "application/json", "accept-encoding": "gzip"})
    assert answer["Content-Encoding"] == "gzip"
    whole = json.loads(gzip.decompress(answer.content))
    pages = [text for _group, _path, text in whole["pages"]]
    print(f"{len(pages)} pages, {sum(map(len, pages))} characters, {len(answer.content)} bytes over the wire")
    assert len(answer.content) < 80_000


def test_the_page_of_what_is_not_sent_has_the_words_it_may_need(floor: Floor) -> None:
    text = floor.phone.get("/here/unsent").content.decode()
    for words in ("Kept on this phone", "not on this phone", "Open your pass again", "Send now", "Set aside"):
        assert words in text
