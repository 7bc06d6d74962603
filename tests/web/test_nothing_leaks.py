"""All that a site pass is ever answered, read for what is none of its business: customers, orders, what is paid for,
and what other sites remarked. The pages by both methods, the kept pages, the queue with every form, the uploads."""

from __future__ import annotations

import json
from collections.abc import Iterator
from copy import deepcopy
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any
from uuid import uuid4

import pytest

from tests import factory
from tests.globe import ok
from tests.kept import standing
from tests.web.oven import photo
from tests.web.queueing import Phone
from tests.web.route_table import TABLE
from tests.web.route_world import CUSTOMER, OTHER_REMARK, SHIP_TO, World, make_world
from tests.web.test_routes import words_of
from traveller.batches.actions.keep_for_review import keep_for_review
from traveller.batches.actions.report import report
from traveller.batches.actions.start_step import start_step
from traveller.journal.models import Event

if TYPE_CHECKING:
    from pytest_django.plugin import DjangoDbBlocker

pytestmark = pytest.mark.django_db

BENCH_REMARK = "greasy ones from Quentin again"
MOULDER_REMARK = "mould three leaks since Whitsun"
BENCH_ENTRY = "the blue crate of Isolde"


@pytest.fixture(scope="module")
def kept(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[World]:
    yield from standing(django_db_blocker, made_world)


@pytest.fixture
def world(kept: World, db: None) -> World:
    return deepcopy(kept)


def made_world() -> World:
    """Both sites have remarked something, reported something, and told something that was set aside."""
    made = make_world()
    globe = made.globe
    ok(start_step(event_context=globe.event_context(), step_id=globe.step(40).pk, already=True))
    ok(report(event_context=globe.event_context(), step_id=globe.step(40).pk, good=4, note=BENCH_REMARK))
    ok(report(event_context=globe.event_context(), step_id=globe.step(20).pk, good=4, note=MOULDER_REMARK))
    ok(
        keep_for_review(
            event_context=globe.event_context(),
            site_id=globe.bench.pk,
            subject_id=globe.batch.subject_id,
            path=f"/here/step/{globe.step(40).pk}/count",
            fields=[("good", "4"), ("note", BENCH_ENTRY)],
            reason="same_again",
            figures={"good": 4, "at": "08:00", "person": BENCH_ENTRY},
        )
    )
    return made


def secrets(world: World, reader: str) -> list[str]:
    """What this reader must never read; the packer packs for customers, but not on the shop's pages."""
    found = [CUSTOMER, SHIP_TO, world.line.order.number, OTHER_REMARK, world.bought.code]
    if reader in ("operator", "rival"):
        found += [BENCH_REMARK, BENCH_ENTRY]
    if reader in ("packer", "rival"):
        found += [MOULDER_REMARK]
    # Its own bench's hold is the packer's business.
    return [word for word in found if not (reader == "packer" and word == OTHER_REMARK)]


def here(world: World) -> Iterator[str]:
    figures = world.figures()
    for route, rule in TABLE.items():
        if rule.reader == "shop":
            yield rule.url(route, figures)


def answers(world: World, reader: str) -> Iterator[tuple[str, str]]:
    """Everything that this reader is answered."""
    client = world.people.everyone()[reader]
    site = {"operator": world.people.moulder, "rival": world.people.printer, "packer": world.people.bench}[reader]
    for url in here(world):
        for method in ("get", "post"):
            form = {"news_id": str(uuid4())} if method == "post" else {}
            answer = getattr(client, method)(url, form)
            yield f"{method} {url}", words_of(answer) + str(answer.headers)
    now = datetime.now(UTC)
    phone = Phone(client, site, "Ines")
    for url in here(world):
        for typed in ({}, {"good": 4, "stage": "rest"}, {"load": uuid4()}, {"quantity": 4, "reason": "x", "code": "x"}):
            entry = phone.tap(url, now - timedelta(minutes=5), typed)
            yield f"queue {url} {typed}", words_of(phone.post([entry], now))
            # An id of another site's news.
            stolen = {**entry, "id": str(world.reported.uid)}
            yield f"stolen {url}", words_of(phone.post([stolen], now))
        entry = phone.tap(url, now, {"kind": "photo"})
        yield f"upload {url}", words_of(phone.send_file(now, entry, file=_file()))
    phone.site = factory.make_site(f"other-than-{reader}")
    yield "another site's envelope", words_of(phone.post(phone.kept[:1], now))


def _file() -> Any:
    from django.core.files.uploadedfile import SimpleUploadedFile

    return SimpleUploadedFile("a.jpg", photo())


@pytest.mark.parametrize("reader", ["operator", "rival", "packer"])
def test_no_answer_to_a_site_pass_tells_what_is_not_its_business(world: World, reader: str) -> None:
    hidden = secrets(world, reader)
    read, reported = 0, []
    for place, said in answers(world, reader):
        read += 1
        reported += [f"{place}: {word}" for word in hidden if word in said]
    assert not reported, "\n".join(reported[:20])
    assert read > 200


def test_what_is_searched_for_is_there_for_those_whose_business_it_is(world: World) -> None:
    """Else the search above would find nothing because there is nothing."""
    founder = world.people.founder
    everything = "".join(
        words_of(founder.get(url))
        for url in ("/", "/orders", f"/orders/{world.line.order.number}", f"/batches/{world.globe.batch.code}",
                    "/holds", "/purchases", "/phone-entries")
    )  # fmt: skip
    for word in {word for reader in ("operator", "packer") for word in secrets(world, reader)}:
        assert word in everything or word == SHIP_TO, word
    assert SHIP_TO in world.line.order.ship_to


@pytest.mark.parametrize("name", ["rival", "revoked", "stranger"])
def test_the_queue_tells_nothing_of_site_a_to_others_and_takes_nothing_from_them(world: World, name: str) -> None:
    client = world.people.everyone()[name]
    site = world.people.printer if name == "rival" else world.people.moulder
    phone = Phone(client, site, "Bruno")
    before = Event.objects.count()
    now = datetime.now(UTC)
    found = set()
    for url in here(world):
        if any(f"/{value}" in url for value in _own(world)):
            answer = phone.post([phone.tap(url, now, good=1, stage="rest", reason="x", quantity=1)], now)
            if name == "rival":
                one = json.loads(answer.content)["answers"][0]
                found.add((one["state"], one["code"], one["words"]))
            else:
                assert (answer.status_code, json.loads(answer.content)) == (401, {"error": "pass_needed"})
    # What names news that is not known at its own site is set aside there, like any other news not told yet.
    new = Event.objects.order_by("id")[before:]
    assert {(event.kind, event.site) for event in new} <= {("set aside", world.people.printer)}
    # One and the same answer, whatever stood in the address.
    assert len(found) <= 2 and {code for _state, code, _words in found} <= {"no_such_task", "unknown_news"}


def _own(world: World) -> list[object]:
    figures = world.figures()
    return [figures[name] for name in ("batch", "step", "load", "uid", "outgoing", "incoming", "proof")]
