"""What a phone told while it had no signal, sent to /here/queue: taken in order, once, whatever else is wrong."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest

from sites.models import SitePass
from tests import cast
from tests.web.operator.floor import Floor, events
from tests.web.oven import photo
from tests.web.queueing import Phone, ms, post
from traveller.batches.models import Attachment, Count, Load
from traveller.journal.models import Event, Parked
from traveller.web.operator.pace import PACE

pytestmark = [pytest.mark.django_db, pytest.mark.both]


@pytest.fixture(autouse=True)
def _full_buckets() -> None:
    PACE.forget()


@pytest.fixture
def phone(floor: Floor) -> Phone:
    return Phone(floor.phone, floor.moulder)


def states(answers: list[dict[str, Any]]) -> list[str]:
    return [one["state"] for one in answers]


def shift(floor: Floor, phone: Phone) -> None:
    """Dry the resin, mould, count: four forms an hour apart, told to nobody yet."""
    start = floor.clock.now
    phone.tap(floor.path(10, "load"), start)
    phone.tap(floor.path(20, "start"), start + timedelta(hours=4))
    phone.tap(floor.path(20, "count"), start + timedelta(hours=5), stage="rest", good=120, shots=60)
    phone.tap(floor.path(20, "count"), start + timedelta(hours=6), stage="rest", good=118, shots=60, scrap__other=2)
    floor.clock.go(hours=8)


def test_a_shift_is_told_in_the_order_of_its_taps_each_at_its_own_time(floor: Floor, phone: Phone) -> None:
    began = floor.clock.now
    shift(floor, phone)
    answers = phone.send(floor.clock.now, list(reversed(phone.kept)))
    assert states(answers) == ["stored"] * 4 and phone.kept == []
    reported = list(Event.objects.filter(person="Ines").exclude(kind="judged").order_by("id"))
    assert [event.kind for event in reported] == ["load started", "step started", "counted", "counted"]
    assert [(event.happened_at - began).total_seconds() / 3600 for event in reported] == [0, 4, 5, 6]
    assert {event.recorded_at for event in reported} == {floor.clock.now}
    assert floor.step(20).good == 238


def test_the_answer_says_the_servers_time_and_where_each_form_led(floor: Floor, phone: Phone) -> None:
    entry = phone.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=10, shots=5)
    said = json.loads(phone.post(phone.kept, floor.clock.now).content)
    assert said["now"] == ms(floor.clock.now)
    assert said["answers"] == [
        {"id": entry["id"], "state": "stored", "code": "", "words": "", "href": f"/here/told/{entry['id']}"}
    ]


def test_an_entry_sent_again_is_answered_the_same_and_counted_once(floor: Floor, phone: Phone) -> None:
    shift(floor, phone)
    kept = list(phone.kept)
    first = phone.send(floor.clock.now, kept)
    before = events()
    assert phone.send(floor.clock.now, kept) == first
    assert phone.send(floor.clock.now, [kept[2], kept[2], kept[0]])[0]["state"] == "stored"
    assert events() == before and floor.step(20).good == 238


def test_the_same_id_with_other_figures_is_refused_and_the_first_stand(floor: Floor, phone: Phone) -> None:
    entry = phone.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=10, shots=5)
    phone.send(floor.clock.now)
    other = {**entry, "fields": [["stage", "rest"], ["good", "11"], ["shots", "5"]]}
    answer = phone.send(floor.clock.now, [other])[0]
    assert (answer["state"], answer["code"]) == ("refused", "told_otherwise") and answer["words"]
    assert floor.step(20).good == 10


def test_a_form_that_the_page_had_stored_before_its_answer_was_lost_is_stored_once(
    floor: Floor,
    phone: Phone,
) -> None:
    entry = phone.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=10, shots=5)
    floor.post(floor.path(20, "count"), {"stage": "rest", "good": 10, "shots": 5, "news_id": entry["id"]})
    assert states(phone.send(floor.clock.now)) == ["stored"]
    assert floor.step(20).good == 10 and events("counted") == 1


def test_what_the_page_refuses_says_why_and_never_stops_the_rest(floor: Floor, phone: Phone) -> None:
    now = floor.clock.now
    phone.tap(floor.path(20, "count"), now, stage="rest", good="twelve")
    phone.tap("/here/step/999999/count", now, good=5)
    phone.tap(floor.path(60, "count"), now, good=5)
    phone.tap("/stock", now)
    phone.tap(f"/here/problem/{floor.batch.code}", now, reason="")
    phone.tap(floor.path(20, "start"), now, {"at": "2031-01-01T10:00", "late_reason": "forgotten"})
    phone.tap(floor.path(20, "count"), now, stage="rest", good=10, shots=5)
    answers = phone.send(now)
    assert states(answers) == ["refused"] * 6 + ["stored"]
    assert [one["code"] for one in answers[:6]] == [
        "wrong_fields",
        "no_such_task",
        "no_such_task",
        "no_such_task",
        "reason_needed",
        "time_in_the_future",
    ]
    assert all(one["words"] for one in answers[:6]) and len(phone.kept) == 6


def test_an_entry_that_cannot_be_read_is_refused_and_the_others_are_told(floor: Floor, phone: Phone) -> None:
    good = phone.tap(floor.path(10, "start"), floor.clock.now)
    bad: list[dict[str, Any]] = [
        {**good, "id": "7", "seq": 9},
        {**good, "id": "a", "fields": {"good": 1}},
        {**good, "id": "b", "at": "noon"},
        {**good, "id": "c", "person": None},
        {**good, "id": "d", "path": 7},
        {"id": "e"},
    ]
    answers = phone.send(floor.clock.now, [*bad, good])
    assert states(answers) == ["stored"] + ["refused"] * 6
    assert {one["code"] for one in answers[1:]} == {"entry_unreadable"}


def test_a_question_of_the_page_is_taken_as_answered_since_it_happened(floor: Floor, phone: Phone) -> None:
    """More than is known to be here: asked on the page, recorded from the queue; nothing at all comes back."""
    phone.tap(floor.path(30, "count"), floor.clock.now, stage="rest", good=30)
    phone.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=0)
    answers = phone.send(floor.clock.now)
    assert states(answers) == ["stored", "refused"] and "there is nothing to record" in answers[1]["words"]
    assert Event.objects.filter(kind="counted").count() == 1
    assert floor.step(30).good == 30


def test_a_start_that_something_stood_in_the_way_of_is_news_all_the_same(floor: Floor, phone: Phone) -> None:
    assert floor.post(floor.path(20, "start")).status_code == 409
    entry = phone.tap(floor.path(20, "start"), floor.clock.now)
    assert states(phone.send(floor.clock.now)) == ["stored"]
    assert states(phone.send(floor.clock.now, [entry])) == ["stored"]
    assert events("step started") == 1


def test_a_clock_that_is_hours_off_is_corrected_and_the_offset_is_kept(floor: Floor, phone: Phone) -> None:
    phone.ahead = timedelta(hours=3, minutes=2)
    tapped = floor.clock.now
    phone.tap(floor.path(10, "start"), tapped)
    floor.clock.go(minutes=45)
    phone.send(floor.clock.now)
    event = Event.objects.get(kind="step started")
    assert event.happened_at == tapped and event.recorded_at == floor.clock.now
    assert event.device_offset_ms == 3 * 3_600_000 + 2 * 60_000


@pytest.mark.parametrize("lapse", [timedelta(days=4000), timedelta(days=-30_000), timedelta(minutes=10)])
def test_no_clock_of_a_phone_tells_of_the_future_or_of_another_century(
    floor: Floor,
    phone: Phone,
    lapse: timedelta,
) -> None:
    entry = phone.tap(floor.path(10, "start"), floor.clock.now)
    entry["at"] = max(0, ms(floor.clock.now + lapse))
    assert states(phone.send(floor.clock.now)) == ["stored"]
    assert Event.objects.get(kind="step started").happened_at == floor.clock.now


def test_a_load_that_began_without_a_signal_is_known_by_the_id_of_its_news(floor: Floor, phone: Phone) -> None:
    now = floor.clock.now
    floor.moulded(48)
    begun = phone.tap(floor.path(30, "load"), now, quantity=24)
    phone.tap(floor.path(30, "count"), now + timedelta(minutes=20), stage="rest", good=24, load=begun["id"])
    assert states(phone.send(floor.clock.now)) == ["stored", "stored"]
    assert Count.objects.get(load__uid=begun["id"]).good == 24


def test_a_count_whose_load_nobody_has_told_yet_waits_and_posts_itself(floor: Floor, phone: Phone) -> None:
    floor.moulded(48)
    begun = phone.tap(floor.path(30, "load"), floor.clock.now, quantity=24)
    counted = phone.tap(floor.path(30, "count"), floor.clock.now, stage="rest", good=24, load=begun["id"])
    answer = phone.send(floor.clock.now, [counted])[0]
    assert (answer["state"], answer["code"]) == ("parked", "unknown_load") and answer["words"]
    assert floor.step(30).good == 0 and Parked.objects.get().settled_by is None
    phone.send(floor.clock.now, [begun])
    assert floor.step(30).good == 24
    news = Event.objects.get(uid=counted["id"])
    assert (news.kind, news.person, news.recorded_at) == ("counted", "Ines", floor.clock.now)
    settled = Parked.objects.get().settled_by
    assert settled is not None and settled.kind == "set aside taken" and settled.data["told"]["came"]


def test_what_waits_for_its_cause_posts_itself_after_news_of_another_phone_too(floor: Floor, phone: Phone) -> None:
    floor.moulded(48)
    begun = phone.tap(floor.path(30, "load"), floor.clock.now, quantity=24)
    phone.tap(floor.path(30, "count"), floor.clock.now, stage="rest", good=24, load=begun["id"])
    phone.send(floor.clock.now, phone.kept[1:])
    floor.post(floor.path(30, "load"), quantity=24, news_id=begun["id"])
    assert floor.step(30).good == 24 and Parked.objects.filter(settled_by=None).count() == 0


def test_one_who_tells_again_what_another_told_is_a_matter_for_the_founder(floor: Floor, phone: Phone) -> None:
    floor.count(20, 10, shots=5)
    other = Phone(floor.phone, floor.moulder, person="Bela", name="other")
    other.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=10, shots=5)
    answer = other.send(floor.clock.now)[0]
    assert (answer["state"], answer["code"]) == ("parked", "same_again")
    assert "Ines" in answer["words"] and floor.step(20).good == 10 and other.kept == []
    parked = Parked.objects.get()
    assert parked.event.person == "Bela" and parked.event.data["told"]["path"] == floor.path(20, "count")


def test_the_same_figure_told_twice_by_one_person_without_a_signal_is_two_counts(floor: Floor, phone: Phone) -> None:
    """Nobody else told it: two taps, two ids, two counts."""
    for _ in range(2):
        phone.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=10, shots=5)
    assert states(phone.send(floor.clock.now)) == ["stored", "stored"] and floor.step(20).good == 20


def test_good_pieces_alone_are_told_though_the_page_would_have_asked_for_the_rest(floor: Floor, phone: Phone) -> None:
    """Who answered only the first question has told just that: the rest is still here."""
    floor.moulded(48)
    phone.tap(floor.path(30, "count"), floor.clock.now, stage="good", good=40)
    assert states(phone.send(floor.clock.now)) == ["stored"]
    assert floor.at(floor.moulder, "in_process", 30) == 8


def test_a_step_that_somebody_else_said_was_done_is_a_matter_for_the_founder(floor: Floor, phone: Phone) -> None:
    floor.count(20, 10, shots=5, done="yes")
    phone.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=7, shots=4)
    answer = phone.send(floor.clock.now)[0]
    assert (answer["state"], answer["code"]) == ("parked", "step_was_done")
    assert floor.step(20).good == 10


def test_an_entry_set_aside_is_answered_the_same_when_it_is_sent_again(floor: Floor, phone: Phone) -> None:
    floor.count(20, 10, shots=5, done="yes")
    entry = phone.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=7, shots=4)
    first = phone.send(floor.clock.now)
    assert phone.send(floor.clock.now, [entry]) == first and Parked.objects.count() == 1
    other = {**entry, "fields": [["stage", "rest"], ["good", "8"]]}
    assert phone.send(floor.clock.now, [other])[0]["code"] == "told_otherwise"


def test_a_photo_comes_with_its_entry_and_is_judged_as_on_its_page(floor: Floor, phone: Phone) -> None:
    entry = phone.tap(floor.path(20, "proof"), floor.clock.now, kind="photo")
    answer = phone.send_file(floor.clock.now, entry, file=_named(photo(), "globe.jpg"))
    assert states(json.loads(answer.content)["answers"]) == ["stored"]
    assert Attachment.objects.get().kind == "photo"
    script = phone.tap(floor.path(20, "proof"), floor.clock.now, kind="photo")
    refused = phone.send_file(floor.clock.now, script, file=_named(b"<svg onload=alert(1)>", "a.png"))
    assert json.loads(refused.content)["answers"][0]["code"] == "not_a_picture"
    assert Attachment.objects.count() == 1


def test_a_photo_of_a_load_that_is_not_known_yet_is_kept_until_it_is(floor: Floor, phone: Phone) -> None:
    floor.moulded(48)
    begun = phone.tap(floor.path(30, "load"), floor.clock.now, quantity=24)
    entry = phone.tap(floor.path(30, "proof"), floor.clock.now, kind="photo", load=begun["id"])
    answer = phone.send_file(floor.clock.now, entry, file=_named(photo(), "gauge.jpg"))
    assert json.loads(answer.content)["answers"][0]["code"] == "unknown_load"
    phone.send(floor.clock.now, [begun])
    sent = Attachment.objects.get()
    assert (sent.name, sent.load) == ("gauge.jpg", Load.objects.get(uid=begun["id"]))


def test_a_pass_that_was_renewed_sends_what_the_old_one_had_begun_to_send(floor: Floor, phone: Phone) -> None:
    entry = phone.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=10, shots=5)
    phone.send(floor.clock.now, [entry])
    SitePass.objects.update(revoked_at=floor.clock.now)
    answer = phone.post([entry], floor.clock.now)
    assert (answer.status_code, json.loads(answer.content)) == (401, {"error": "pass_needed"})
    phone.client = cast.pass_client(floor.moulder)
    assert states(phone.send(floor.clock.now, [entry])) == ["stored"] and floor.step(20).good == 10


def test_another_sites_phone_learns_nothing_from_an_id_it_heard_of(floor: Floor, phone: Phone) -> None:
    entry = phone.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=10, shots=5)
    phone.send(floor.clock.now)
    rival = Phone(cast.pass_client(floor.bench, person="Bruno"), floor.bench, "Bruno")
    replayed = rival.send(floor.clock.now, [entry])[0]
    unheard = rival.send(floor.clock.now, [{**entry, "id": str(UUID(int=7))}])[0]
    assert replayed["state"] == "refused" and {**replayed, "id": ""} == {**unheard, "id": ""}
    # At a step of its own the id is of no use either, and the answer is that of no id at all.
    own = {**entry, "path": floor.path(60, "start")}
    assert rival.send(floor.clock.now, [own])[0]["code"] == "form_without_id"
    assert not Event.objects.filter(site=floor.bench).exists()


def test_an_envelope_of_another_site_is_not_opened(floor: Floor, phone: Phone) -> None:
    phone.tap(floor.path(10, "start"), floor.clock.now)
    body = {**phone.envelope(phone.kept, floor.clock.now), "site": floor.bench.pk}
    answer = post(phone.client, body)
    assert (answer.status_code, json.loads(answer.content)) == (409, {"error": "other_site"})
    assert not Event.objects.filter(kind="step started").exists()


def test_the_founder_may_send_for_a_site_that_she_speaks_for_in_her_own_name(floor: Floor) -> None:
    client = cast.on_behalf(cast.founder_client(), floor.moulder)
    phone = Phone(client, floor.moulder, person="Ines")
    phone.tap(floor.path(10, "start"), floor.clock.now)
    phone.send(floor.clock.now)
    event = Event.objects.get(kind="step started")
    assert (event.person, event.on_behalf) == (cast.FOUNDER, True)


def test_nobody_tells_anything_without_a_name(floor: Floor) -> None:
    phone = Phone(cast.pass_client(floor.moulder, person=""), floor.moulder, person="")
    phone.tap(floor.path(10, "start"), floor.clock.now)
    assert phone.send(floor.clock.now)[0]["code"] == "person_needed"


def test_a_phone_that_sends_without_end_is_told_to_wait_and_a_shift_is_not(floor: Floor, phone: Phone) -> None:
    entry = phone.tap(floor.path(10, "start"), floor.clock.now)
    for _ in range(10):
        assert phone.post([entry] * 50, floor.clock.now).status_code == 200
    found = [phone.post([{**entry, "path": "/no"}] * 50, floor.clock.now) for _ in range(40)]
    stopped = [answer for answer in found if answer.status_code == 429]
    assert stopped and int(stopped[0]["Retry-After"]) >= 1
    rival = Phone(cast.pass_client(floor.bench, person="Bruno"), floor.bench, "Bruno")
    assert rival.post([], floor.clock.now).status_code == 200


GARBAGE: list[Any] = [
    b"",
    b"\xff\xfe",
    b"[" * 100_000,
    b"{" * 50_000,
    b'{"site": 1' + b"9" * 6_000 + b"}",
    "null",
    "[]",
    "7",
    '{"site": NaN, "sent_at": 1, "entries": []}',
    {},
    {"site": True, "sent_at": 1, "entries": []},
    {"site": "1", "sent_at": 1, "entries": []},
    {"site": 1, "sent_at": -1, "entries": []},
    {"site": 1, "sent_at": 1e300, "entries": []},
    {"site": 1, "sent_at": 10**20, "entries": []},
    {"site": 1, "sent_at": 1, "entries": {}},
    {"site": 1, "sent_at": 1, "entries": [1]},
    {"site": 1, "sent_at": 1, "entries": [{}]},
    {"site": 1, "sent_at": 1, "entries": [{"id": 7}]},
    {"site": 1, "sent_at": 1, "entries": [{"id": "\x00"}]},
    {"site": 1, "sent_at": 1, "entries": [{"id": "x"}] * 51},
    "x" * 2_100_000,
]


@pytest.mark.parametrize("body", GARBAGE, ids=range(len(GARBAGE)))
def test_what_is_no_queue_is_said_to_be_none_in_json(floor: Floor, phone: Phone, body: object) -> None:
    answer = post(phone.client, body)
    assert answer.status_code == 400 and json.loads(answer.content)["error"] == "unreadable"


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""])
def test_what_another_sites_page_could_send_is_not_even_read(floor: Floor, phone: Phone, kind: str) -> None:
    """A page elsewhere may post these kinds without asking; JSON and the header it may not."""
    phone.tap(floor.path(10, "start"), floor.clock.now)
    body = json.dumps(phone.envelope(phone.kept, floor.clock.now))
    assert post(phone.client, body, content_type=kind).status_code == 400
    assert phone.client.post("/here/queue", {"envelope": body}).status_code == 400
    assert not Event.objects.filter(kind="step started").exists()


def test_a_fault_of_ours_is_taken_down_for_the_founder_and_the_rest_is_told(
    floor: Floor,
    phone: Phone,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def stumble(**_reported: Any) -> None:
        raise RuntimeError("nobody thought of this")

    monkeypatch.setattr("traveller.web.operator.problem.report_problem", stumble)
    phone.tap(f"/here/problem/{floor.batch.code}", floor.clock.now, reason="cracked")
    phone.tap(floor.path(10, "start"), floor.clock.now)
    answers = phone.send(floor.clock.now)
    assert [(one["state"], one["code"]) for one in answers] == [("parked", "fault"), ("stored", "")]
    assert Parked.objects.get().event.data["told"]["fields"] == [["reason", "cracked"]]


def _named(content: bytes, name: str) -> Any:
    from django.core.files.uploadedfile import SimpleUploadedFile

    return SimpleUploadedFile(name, content)
