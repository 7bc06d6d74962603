"""Whose file is read next: however much one phone sends, no other shop waits for more than one of its files."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import count

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from tests import factory as f
from traveller.batches.files.turns import LAPSE, READ_TRIES_MAX, give_back, let_turn_go, silent_since, take_next
from traveller.batches.models import EvidenceFile, FileReading

NOW = f.MONDAY
_numbers = count(1)


def sent(site_id: int | None, phone: str, at: datetime = NOW) -> FileReading:
    digest = f"{next(_numbers):064d}"
    file = EvidenceFile.objects.create(digest=digest, content=b"x", size=1, content_type="text/plain")
    return FileReading.objects.create(file=file, kind="log", key="k", site_id=site_id, phone=phone, asked_at=at)


def served(at: datetime = NOW, *, read: bool = True) -> tuple[int | None, str] | None:
    """Whose file a worker takes at this moment, and reads."""
    found = take_next(now=at, worker="here:1:1")
    if found is None:
        return None
    if read:
        FileReading.objects.filter(pk=found.pk).update(state=FileReading.State.READ, read_at=at)
    return found.site_id, found.phone


@pytest.mark.django_db
def test_an_honest_log_is_the_second_to_be_read_while_a_hundred_of_another_shop_wait() -> None:
    rival, honest = f.make_site("rival"), f.make_site("honest")
    for n in range(100):
        sent(rival.pk, f"phone {n % 2}")
    turns = [served(NOW)]
    sent(honest.pk, "hers")
    turns += [served(NOW + timedelta(seconds=n)) for n in (1, 2)]
    assert (honest.pk, "hers") in turns


@pytest.mark.django_db
def test_a_phone_whose_file_is_just_being_read_waits_and_another_of_its_shop_goes_on() -> None:
    shop = f.make_site("shop")
    for phone in ("a", "a", "b"):
        sent(shop.pk, phone)
    assert [served(read=False), served(read=False), served(read=False)] == [(shop.pk, "a"), (shop.pk, "b"), None]


@pytest.mark.django_db
def test_what_a_worker_took_and_never_read_is_free_again_when_its_time_is_over() -> None:
    sent(None, "a")
    assert served(read=False) == (None, "a")
    assert served(NOW + LAPSE - timedelta(seconds=1)) is None
    assert served(NOW + LAPSE + timedelta(seconds=1)) == (None, "a")


@pytest.mark.django_db
def test_what_a_worker_took_that_is_gone_is_free_at_once() -> None:
    sent(None, "a")
    served(read=False)
    assert let_turn_go(lambda worker: worker == "there:2:2") == 0 and served() is None
    assert let_turn_go(lambda worker: worker == "here:1:1") == 1 and served() == (None, "a")


@pytest.mark.django_db
def test_a_file_that_ended_its_reader_three_times_is_left_to_people() -> None:
    reading = sent(None, "a")
    for turn in range(READ_TRIES_MAX):
        assert served(NOW + turn * 2 * LAPSE, read=False) == (None, "a")
    assert served(NOW + READ_TRIES_MAX * 2 * LAPSE) is None
    FileReading.objects.filter(pk=reading.pk).update(tries=1)
    give_back(reading)
    assert served(NOW + READ_TRIES_MAX * 3 * LAPSE) == (None, "a"), "given back, it was no try"


@pytest.mark.django_db
def test_that_nobody_reads_is_said_after_a_minute_and_since_when() -> None:
    minute = timedelta(minutes=1)
    assert silent_since(NOW, minute) is None, "nothing waits"
    sent(None, "a")
    assert silent_since(NOW + timedelta(seconds=59), minute) is None
    assert silent_since(NOW + timedelta(hours=2), minute) == NOW
    sent(None, "b")
    served(NOW + timedelta(hours=1))
    assert silent_since(NOW + timedelta(hours=1, seconds=30), minute) is None, "somebody is at it"
    assert silent_since(NOW + timedelta(hours=3), minute) == NOW + timedelta(hours=1)


class TurnsTest(TestCase):
    @settings(max_examples=25, deadline=None)
    @given(st.lists(st.tuples(st.sampled_from("ABC"), st.sampled_from("xy")), min_size=1, max_size=14))
    def test_between_two_turns_of_a_shop_every_other_shop_that_waits_has_had_one(
        self, files: list[tuple[str, str]]
    ) -> None:
        shops = {name: f.make_site(f"turn{name}{next(_numbers)}").pk for name in sorted({shop for shop, _ in files})}
        for shop, phone in files:
            sent(shops[shop], phone)
        left = {pk: [phone for shop, phone in files if shops[shop] == pk] for pk in shops.values()}
        waited = dict.fromkeys(left, 0)
        for turn in range(len(files)):
            found = served(NOW + timedelta(seconds=turn))
            assert found is not None and found[0] is not None
            site, phone = int(found[0]), found[1]
            left[site].remove(phone)
            for other in left:
                waited[other] = 0 if other == site else waited[other] + 1
                assert not left[other] or waited[other] < len(left)
        assert served(NOW + timedelta(hours=1)) is None and not any(left.values())
