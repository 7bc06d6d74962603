"""Times that no shop ever told: refused where they come in, and shown without a fault where they stand already."""

from __future__ import annotations

import datetime as dt
from datetime import UTC, datetime, timedelta, timezone
from io import StringIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast
from zoneinfo import ZoneInfo

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import connection, models
from django.test import Client
from django.utils.timezone import override
from hypothesis import given
from hypothesis import strategies as st

from sites.models import Site
from tests import factory
from tests.cast import founder_client
from tests.unguarded import lift
from tests.web.founder.signed_in import news_id
from tests.web.operator.floor import Floor, events, field_of, html_of, make_floor, moved, text_of
from tests.web.oven import log, make_oven
from tests.web.queueing import Phone
from tests.web.route_table import TABLE
from tests.web.route_world import World, make_world
from tests.web.test_routes import LET_IN, knock
from traveller.batches.models import Attachment, Load
from traveller.exchange.workbook.apply_orders import _moment
from traveller.exchange.workbook.problems import Findings
from traveller.journal import guards
from traveller.journal.models import Event
from traveller.journal.refusal import Refusal
from traveller.paper import words as paper_words
from traveller.rules.moments import EARLIEST, LATEST, later, on_clocks, read_moment
from traveller.rules.workdays import SiteCalendar, is_open_day, working_days_between
from traveller.web.door import read_time
from traveller.web.templatetags.look import moment as shown
from traveller.web.templatetags.look import moment_words, since
from traveller.web.words import say

pytestmark = pytest.mark.django_db

FIRST, LAST = datetime.min.replace(tzinfo=UTC), datetime.max.replace(tzinfo=UTC)
PAPERS = ("traveller", "note", "list")
WEST, EAST = "Pacific/Pago_Pago", "Pacific/Kiritimati"


def shifted(moment: datetime, zone: str) -> World:
    """One of everything, and all of it at this moment, as if somebody had written it so."""
    world = make_world()
    Site.objects.update(timezone=zone)
    lift(connection)
    for model in apps.get_models():
        if model._meta.app_label in ("auth", "sessions", "contenttypes", "admin", "django_tasks_database"):
            continue
        for field in model._meta.local_concrete_fields:
            if isinstance(field, models.DateTimeField) and model._meta.model_name not in ("sitepass", "doortry"):
                model._default_manager.exclude(**{field.name: None}).update(**{field.name: moment})
    guards.install(connection)
    return world


@pytest.mark.long
@pytest.mark.parametrize(("moment", "zone"), [(FIRST, WEST), (LAST, EAST)])
def test_every_page_and_every_paper_shows_it_without_a_fault(moment: datetime, zone: str) -> None:
    world = shifted(moment, zone)
    people, figures = world.people, world.figures()
    walked = 0
    for reader, client in (("founder", people.founder), ("shop", people.operator), ("packer", people.packer)):
        for route, rule in TABLE.items():
            if rule.reader != reader:
                continue
            # Papers are asked for by a form.
            for post in (False, True) if route.rsplit("/", 1)[-1] in PAPERS else (False,):
                answer = knock(client, rule.url(route, figures), post=post)
                assert answer.status_code in LET_IN | {404}, (route, answer.status_code)
                walked += answer.status_code == 200
    assert walked > 60
    order = client_words(people.founder, f"/batches/{world.globe.batch.code}")
    assert ("1 Jan, " if moment == FIRST else "31 Dec, ") in order


def client_words(client: Client, path: str) -> str:
    return text_of(client.get(path))


@pytest.mark.parametrize("moment", [FIRST, LAST])
def test_verify_and_the_workbook_tell_of_it_without_a_fault(moment: datetime, tmp_path: Path) -> None:
    shifted(moment, WEST if moment == FIRST else EAST)
    # The digests no longer fit what was written over; that is what it says, and no traceback.
    with pytest.raises(SystemExit):
        call_command("verify", stdout=StringIO(), stderr=StringIO())
    call_command("export_workbook", str(tmp_path / "out"), stdout=StringIO())


# --- Where they come in -----------------------------------------------------------------------------------------

EARLY = ["0001-01-01T00:00+23:59", "0001-01-01T00:00Z", "0001-01-01T00:00", "1999-12-31T23:59Z", "1970-01-01T00:00"]
LATE = ["9999-12-31T23:59-23:59", "9999-12-31T23:59", "2200-01-01T00:00Z"]
UNREADABLE = ["noon", "2026-13-45T10:00Z", "2026-11-24T10:00+99:99", "0000-00-00T00:00"]
WORDS = {"early": "is long past. Check the year.", "late": "has not come yet.", "none": "is not a date and time."}
ODD = [(text, why) for texts, why in ((EARLY, "early"), (LATE, "late"), (UNREADABLE, "none")) for text in texts]


@pytest.fixture
def floor(monkeypatch: pytest.MonkeyPatch) -> Floor:
    made = make_floor()
    monkeypatch.setattr("django.utils.timezone.now", made.clock)
    return made


@pytest.mark.long
def test_every_form_of_a_shop_asks_again_in_words_and_keeps_what_was_typed(floor: Floor) -> None:
    floor.tested(48)
    page: Any = floor.phone.get("/here/send")
    forms: list[tuple[str, dict[str, object]]] = [
        (f"/here/problem/{floor.batch.code}", {"reason": "cracked"}),
        ("/here/send", {"to": floor.bench.pk, "method": "hand", page.context["rows"][0]["field"]: 48}),
        ("/here/unannounced", {"code": floor.batch.code, "quantity": 12, "words": "a tote"}),
        (floor.path(30, "load"), {"quantity": 24, "sure:more_than_there": "yes"}),
        (floor.path(50, "done"), {}),
        (floor.path(20, "count"), {"stage": "rest", "good": 12, "shots": 6, "sure:step_was_done": "yes"}),
        (floor.path(40, "measure"), {"r:bore:bore:0:0": "50.8"}),
    ]
    before, kept = events(), 0
    for path, typed in forms:
        for text, why in ODD:
            answer = floor.post(path, {**typed, "at": text, "late_reason": "no signal"})
            assert answer.status_code == 422, (path, text, answer.status_code)
            assert WORDS[why] in text_of(answer), (path, text, text_of(answer))
            # Where the page has a field for it, it stands there still.
            assert field_of(answer, "at") in (text, None), (path, text)
            kept += field_of(answer, "at") == text
    assert kept > 40 and events() == before


def test_from_the_queue_it_is_refused_in_words(floor: Floor) -> None:
    phone = Phone(floor.phone, floor.moulder)
    for text, why in ODD:
        phone.kept = []
        typed = {"reason": "cracked", "at": text, "late_reason": "x"}
        phone.tap(f"/here/problem/{floor.batch.code}", floor.clock.now, typed)
        answer = phone.send(floor.clock.now)[0]
        assert answer["state"] == "refused" and WORDS[why] in answer["words"], (text, answer)


def test_a_time_that_is_measured_and_one_when_a_load_went_in_are_asked_again(floor: Floor) -> None:
    floor.moulded(48)
    moved(floor.post(floor.path(30, "load"), quantity=24))
    load = Load.objects.latest("id")
    for text, why in ODD:
        answer = floor.post(f"/here/load/{load.pk}/out", started_at=text, late_reason="no signal")
        # It stands beside its field, in what is unfolded for who tells it late.
        assert answer.status_code == 422 and WORDS[why] in html_of(answer), text
    load.refresh_from_db()
    assert load.ended_at is None


@pytest.mark.parametrize(("text", "why"), ODD)
def test_the_start_of_a_log_is_asked_again_of_the_shop_and_of_the_founder(text: str, why: str) -> None:
    oven = make_oven()
    oven.send(log([85.0] * 41, head="minutes;oven (C)", style="minutes"), oven.bake())
    path = f"/evidence/{Attachment.objects.get().pk}"
    for answer in (oven.answer(start=text), founder_client().post(path, {"news_id": news_id(), "start": text})):
        assert answer.status_code == 422 and WORDS[why] in text_of(answer), text_of(answer)
        assert f'value="{text}"' in answer.content.decode()
    assert not Event.objects.filter(kind="log understood").exists()


@pytest.mark.long
def test_the_founders_forms_refuse_it_and_her_pages_stay_open() -> None:
    world = make_world()
    founder, code = world.people.founder, world.globe.batch.code
    before = Event.objects.count()
    for path in (f"/batches/{code}/hold", f"/lots/{world.lamps.code}/hold", f"/holds/{world.hold.pk}"):
        for text, why in ODD:
            typed = {"news_id": news_id(), "reason": "x", "disposition": "scrap", "at": text}
            answer = founder.post(path, typed)
            assert answer.status_code == 422 and WORDS[why] in text_of(answer), (path, text)
    assert Event.objects.count() == before
    assert founder.get(f"/batches/{code}").status_code == 200


@pytest.mark.parametrize("day", ["1990-01-01", "1999-12-30"])
def test_a_day_of_the_workbook_that_becomes_a_moment_lies_within_this_trades_time(day: str) -> None:
    site, findings, row = Site(code="moulder", timezone="UTC"), Findings(), cast(Any, SimpleNamespace(row=2))
    reported = dt.date.fromisoformat(day)
    assert _moment("stock", row, "received", reported, site, factory.event_context(1), findings) is None
    assert "is long past" in str(findings.problems[0])
    assert _moment("stock", row, "received", dt.date(2000, 1, 2), site, factory.event_context(1), findings) is not None


# --- Any time at all --------------------------------------------------------------------------------------------

OFFSETS = st.timedeltas(timedelta(hours=-23, minutes=-59), timedelta(hours=23, minutes=59)).map(
    lambda by: timezone(timedelta(minutes=by // timedelta(minutes=1)))
)
MOMENTS = st.datetimes(timezones=OFFSETS) | st.datetimes(timezones=st.just(UTC)) | st.sampled_from([FIRST, LAST])
ZONES = st.sampled_from([ZoneInfo(name) for name in (WEST, EAST, "UTC", "America/Chicago", "Asia/Kathmandu")])


@given(MOMENTS | st.datetimes(), ZONES)
def test_any_moment_written_down_is_read_or_refused_and_what_is_read_can_be_reckoned_with(
    moment: datetime, zone: ZoneInfo
) -> None:
    found = read_time(moment.isoformat(), zone)
    if isinstance(found, Refusal):
        assert found.code in ("time_long_past", "time_in_the_future")
        assert "Check" in say(found.code, found.figures)
    else:
        assert EARLIEST <= found.astimezone(UTC) <= LATEST
        assert found.replace(tzinfo=None) == moment.replace(tzinfo=None)


@pytest.mark.long
@given(st.text() | st.from_regex(r"[0-9]{1,4}-?(W?[0-9]{2})-?[0-9]{0,2}[T ]?[0-9:.,+\-Z]{0,12}", fullmatch=True), ZONES)
def test_any_text_is_read_or_refused_in_words(text: str, zone: ZoneInfo) -> None:
    found = read_time(text, zone)
    if isinstance(found, Refusal):
        assert say(found.code, found.figures)
    assert read_moment(text) is None or isinstance(found, datetime)


@given(MOMENTS, ZONES, st.timedeltas())
def test_any_moment_is_shown_and_shifted(moment: datetime, zone: ZoneInfo, by: timedelta) -> None:
    with override(zone):
        assert str(on_clocks(moment, zone).day) in moment_words(moment)
        assert "<time" in shown(moment) and "<time" in since(moment, moment)
        assert say("time_long_past", {"found": moment.isoformat()})
    there = on_clocks(moment, zone)
    assert there.tzinfo is not None and there == moment
    assert (
        paper_words.moment_on_paper(there)
        and paper_words.day_on_paper(there.date())
        and paper_words.clock_on_paper(there)
    )
    moved_by = later(moment, by)
    assert moved_by.tzinfo == moment.tzinfo
    assert moved_by >= moment if by >= timedelta() else moved_by <= moment
    assert later(moment.date(), by) is not None


@given(st.dates(), st.dates(), st.sets(st.dates(), max_size=6), st.sets(st.integers(0, 6)))
def test_working_days_reckoned_by_weeks_are_those_counted_one_by_one(
    first: dt.date, last: dt.date, closed: set[dt.date], open_days: set[int]
) -> None:
    shifts = {day: ((dt.time(8), dt.time(16)),) for day in open_days}
    calendar = SiteCalendar("UTC", shifts, frozenset(closed))
    last = min(last, later(first, timedelta(days=400)))
    days = [first + timedelta(days=n) for n in range(max((last - first).days + 1, 0))]
    assert working_days_between(calendar, first, last) == sum(is_open_day(calendar, day) for day in days)
