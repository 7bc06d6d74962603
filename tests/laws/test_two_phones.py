"""Two phones under one name, with and without a signal, record the same piles of pieces: the book is what is true.

Each question is answered, and each entry for review decided, by what is so: these pieces are in the book, or not yet.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any
from unittest.mock import patch
from uuid import UUID, uuid4

import pytest
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests import cast
from tests.globe import everything_agrees
from tests.laws.acts import fresh
from tests.web.operator.floor import Clock, Floor, html_of, make_floor, moved
from tests.web.queueing import Phone
from traveller.journal.models import Event, Parked
from traveller.web.operator.pace import PACE

pytestmark = pytest.mark.django_db

_pile, _phone = st.integers(0, 3), st.integers(0, 1)
DEEDS = st.lists(
    st.one_of(
        st.tuples(st.just("online"), _pile, _phone),
        st.tuples(st.just("offline"), _pile, _phone),
        st.tuples(st.just("send"), st.just(0), _phone),
        st.tuples(st.just("decide"), st.just(0), _phone),
        st.tuples(st.just("undo"), _pile, _phone),
    ),
    min_size=3,
    max_size=12,
)
# Piles of like size are those that could be taken for each other.
SIZES = st.lists(st.sampled_from([7, 9]), min_size=4, max_size=4)


@dataclass
class Shop:
    """The truth beside the book: which pile stands in it, under which id."""

    floor: Floor
    sizes: list[int]
    clients: list[Client]
    phones: list[Phone]
    founder: Client
    booked: dict[int, UUID] = field(default_factory=dict)
    said_by: dict[str, int] = field(default_factory=dict)
    # A phone knows what it has counted itself; it does not count it twice.
    counted: set[tuple[int, int]] = field(default_factory=set)

    def do(self, deed: str, pile: int, phone: int) -> None:
        if deed in ("online", "offline"):
            if (pile, phone) in self.counted:
                return
            self.counted.add((pile, phone))
        {"online": self.online, "offline": self.offline, "undo": self.undo}.get(deed, self.later)(pile, phone)
        if deed == "send":
            self.send(phone)
        elif deed == "decide":
            self.decide()

    def later(self, pile: int, phone: int) -> None:
        """Done below."""

    def online(self, pile: int, phone: int) -> None:
        self.send(phone)
        uid, typed = uuid4(), dict[str, str]()
        for _question in range(3):
            answer: Any = self.floor.count(20, self.sizes[pile], typed, client=self.clients[phone], news_id=uid)
            if answer.status_code == 302:
                break
            assert "More pieces, or the same?" in html_of(answer)
            same = html_of(answer).split('value="yes"')[1].split('value="')[1].split('"')[0]
            typed = {"sure:same_again": same if pile in self.booked else "yes"}
        moved(answer)
        self.booked.setdefault(pile, uid)

    def offline(self, pile: int, phone: int) -> None:
        path, at = self.floor.path(20, "count"), self.floor.clock.now
        entry = self.phones[phone].tap(path, at, stage="rest", good=self.sizes[pile])
        self.said_by[entry["id"]] = pile

    def send(self, phone: int) -> None:
        for answer in self.phones[phone].send(self.floor.clock.now):
            assert answer["state"] in ("stored", "parked"), answer
            if answer["state"] == "stored":
                self.booked.setdefault(self.said_by[answer["id"]], UUID(answer["id"]))

    def decide(self) -> None:
        for parked in Parked.objects.filter(settled_by=None).order_by("id"):
            news = parked.event.data["told"]["news"]
            pile = self.said_by[news]
            deed = {"deed": "leave", "reason": "the same"} if pile in self.booked else {"deed": "take"}
            typed = {"news_id": str(uuid4()), **deed}
            assert self.founder.post(f"/phone-entries/{parked.event_id}", typed).status_code == 302
            self.booked.setdefault(pile, UUID(news))

    def undo(self, pile: int, phone: int) -> None:
        if pile in self.booked:
            answer = self.floor.post(f"/here/told/{self.booked[pile]}/undo", client=self.clients[phone])
            if answer.status_code == 302:
                del self.booked[pile]


def _shop() -> Shop:
    floor = make_floor()
    clients = [floor.phone, cast.pass_client(floor.moulder)]
    for client in clients:
        client.get("/here/")
    phones = [Phone(client, floor.moulder, name=str(n)) for n, client in enumerate(clients)]
    return Shop(floor, [], clients, phones, cast.founder_client())


@settings(max_examples=20, deadline=None, suppress_health_check=list(HealthCheck))
@given(sizes=SIZES, deeds=DEEDS)
def test_after_the_answers_the_book_is_what_is_true(sizes: list[int], deeds: list[tuple[str, int, int]]) -> None:
    clock = Clock()
    with fresh(), patch("django.utils.timezone.now", clock):
        PACE.forget()
        shop = _shop()
        shop.floor.clock, shop.sizes = clock, sizes
        for deed in deeds:
            clock.go(minutes=3)
            shop.do(*deed)
        for phone in (0, 1):
            shop.send(phone)
        shop.decide()
        assert shop.floor.step(20).good == sum(sizes[pile] for pile in shop.booked)
        counts = Event.objects.filter(kind="counted").exclude(corrections__kind="undone")
        assert counts.count() == len(shop.booked)
        assert everything_agrees()
