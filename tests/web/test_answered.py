"""Once its answer has come, every form is let go by the device, wherever the answer leads; before that, nothing is."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fnmatch import fnmatch
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest

from tests import cast, factory
from tests.cast import founder_client
from tests.web.founder.orders.test_plan import digest_on, worked_example
from tests.web.founder.signed_in import text_of
from tests.web.kept_forms import FORMS
from tests.web.operator.floor import field_of, make_floor, moved
from tests.web.tab import Tab
from traveller.batches.models import Load
from traveller.journal.models import Event
from traveller.orders.models import Release
from traveller.web.founder.work.move_forms import MOVES

pytestmark = pytest.mark.django_db

TEMPLATES = Path(__file__).parents[2] / "traveller" / "web" / "templates"
# Asked between a form and its answer: it carries the form's own id on.
BETWEEN = {"ask"}


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> Iterator[None]:
    settings.MEDIA_ROOT = tmp_path / "media"
    settings.PUBLIC_ADDRESS = "https://lantern.test"
    yield


@pytest.mark.parametrize("name", FORMS)
def test_whatever_its_answer_leads_to_lets_the_form_go(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    client, page, form, typed = FORMS[name](lambda clock: monkeypatch.setattr("django.utils.timezone.now", clock))
    assert fnmatch(form, name.split(" (")[0])
    tab = Tab(client)
    answer = tab.send(page, form, typed)
    assert answer.status_code == 200, text_of(answer)
    assert tab.used and not tab.kept, f"{answer.redirect_chain} does not let {form} go"


def test_every_form_that_a_page_keeps_is_walked() -> None:
    marked: set[str] = set()
    for path in TEMPLATES.rglob("*.html"):
        text = path.read_text()
        marked |= {re.sub(r"\{\{.*?\}\}", "*", name) for name in re.findall(r'data-once="([^"]+)"', text)}
        if "parts/form.html" in text:
            marked |= set(re.findall(r'news="([^"]+)"', text))
    # By their own words: the form of a shop's page and the moves on a batch's page, whose names stand in `MOVES`.
    named = (marked - {"*"} - BETWEEN) | set(MOVES)
    assert named == {name.split(" (")[0] for name in FORMS}


def lines() -> list[int]:
    """Two orders for the same globe, neither released."""
    first = worked_example()
    second = factory.make_line(factory.make_order("1002"), first.part, 40)
    return [first.pk, second.pk]


def test_one_plan_after_the_other_is_released_in_the_same_tab() -> None:
    tab = Tab(founder_client())
    for pk in lines():
        answer = tab.send(f"/founder/plan?line={pk}", "release")
        assert answer.status_code == 200 and "Released: 1 batch is open." in text_of(answer)
    assert Release.objects.count() == 2


def test_a_form_whose_answer_was_lost_and_that_was_changed_is_refused_once_and_then_opens_anew() -> None:
    client = founder_client()
    first, second = lines()
    tab = Tab(client)
    lost = str(uuid4())
    reported = {"news_id": lost, "line": first, "digest": digest_on(client.get(f"/founder/plan?line={first}"))}
    assert client.post("/founder/plan", reported).status_code == 302
    # The tab saw nothing of it.
    tab.kept["/founder/plan", "release"] = lost
    answer = tab.send(f"/founder/plan?line={second}", "release")
    assert answer.status_code == 409 and "Open the page anew." in text_of(answer)
    assert tab.send(f"/founder/plan?line={second}", "release").status_code == 200
    assert Release.objects.count() == 2


def test_a_refused_form_stays_kept() -> None:
    line = worked_example()
    tab = Tab(founder_client())
    answer = tab.send(f"/founder/plan?line={line.pk}", "release", {"digest": "0" * 64})
    assert answer.status_code == 409
    assert list(tab.kept) == [("/founder/plan", "release")] and not tab.used


def test_an_id_that_the_journal_does_not_know_lets_nothing_go() -> None:
    founder = founder_client()
    for path in ("/orders", f"/orders?told={uuid4()}", "/orders?told=x", "/orders?told="):
        assert "data-confirmed" not in founder.get(path).content.decode(), path
    uid = factory.make_event("a").uid
    assert f'data-confirmed="{uid}"' in founder.get(f"/orders?told={uid}").content.decode()


def test_a_shop_is_told_nothing_of_the_news_of_others(monkeypatch: pytest.MonkeyPatch) -> None:
    floor = make_floor()
    monkeypatch.setattr("django.utils.timezone.now", floor.clock)
    moved(floor.count(20, 12, shots=6))
    uid = Event.objects.get(kind="counted").uid
    assert f'data-confirmed="{uid}"' in floor.phone.get(f"/here/?told={uid}").content.decode()
    rival = cast.pass_client(factory.make_site("printer"), person="Bruno")
    assert "data-confirmed" not in rival.get(f"/here/?told={uid}").content.decode()


def test_the_id_goes_along_through_every_page_that_leads_on() -> None:
    floor = make_floor()
    uid = str(uuid4())
    step = floor.step(20).pk
    moved(floor.post(floor.path(10, "load")))
    out = f"/here/load/{Load.objects.get().pk}/out"
    there = floor.phone.get(f"{out}?told={uid}")["Location"]
    assert "/out?load=" in there and there.endswith(f"&told={uid}")
    nameless = cast.pass_client(floor.moulder, person="")
    assert uid in nameless.get(f"/here/step/{step}?told={uid}")["Location"]
    assert "told" not in floor.phone.get(f"{out}?told=x")["Location"]


def test_a_shops_form_under_an_id_of_other_news_comes_back_under_a_new_one() -> None:
    floor = make_floor()
    uid = str(factory.make_event("elsewhere").uid)
    answer: Any = floor.post(f"/here/problem/{floor.batch.code}", reason="cracked", news_id=uid)
    assert answer.status_code == 422 and field_of(answer, "news_id") not in ("", None, uid)
    again = floor.post(f"/here/problem/{floor.batch.code}", reason="cracked", news_id=field_of(answer, "news_id"))
    assert again.status_code == 302
