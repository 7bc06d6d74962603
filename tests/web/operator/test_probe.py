"""Where was the probe? Asked where a check hangs on it, kept with the file; logs from inside a part; other ovens."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from tests import factory as f
from tests.cast import founder_client
from tests.globe import ok
from tests.web.founder.signed_in import news_id, text_of
from tests.web.oven import IN_AT, Oven, log, make_oven
from traveller.batches.actions.report import report
from traveller.batches.history.verify import differences
from traveller.batches.models import Attachment, FileReading, Load, Verdict
from traveller.journal.models import Event
from traveller.rules.slab import Body, heated_through
from traveller.rules.transfer import biot_of

pytestmark = pytest.mark.django_db

CURE = f.CheckRow("bake", "cure", {"least": "8", "reference": "160 C", "doubling": "10", "thickness": "12"}, "load")
ASKED = "Where was the probe of this log?"


@pytest.fixture
def oven() -> Oven:
    return make_oven(check=CURE)


def curves(h: float = 40.0, minutes: int = 40) -> tuple[list[float], list[float]]:
    """The air of an oven, and the middle of a part in it, a reading a minute."""
    seconds = np.arange(0.0, minutes * 60 + 1, 60.0)
    air = 160 - 80 * np.exp(-seconds / 150)
    _, middle, _ = heated_through(Body(12.0, 0.1, biot_of(h, 0.25, 12.0)), seconds, air, start_c=24.0, fine=False)
    return [round(one, 1) for one in air.tolist()], [round(one, 1) for one in middle.tolist()]


AIR, MIDDLE = curves()


def another_batch(oven: Oven) -> Oven:
    """The same part in the same shop, next week."""
    batch = f.make_batch(oven.batch.part, wanted=60, destination=oven.bench, name="later")
    other = replace(oven, batch=batch)
    at = IN_AT - timedelta(hours=1)
    ok(report(event_context=other.event_context(at), step_id=batch.steps.get(number=10).pk, good=60))
    batch.refresh_from_db()
    return other


def verdict_of(load: Load) -> tuple[str, str]:
    row = Verdict.objects.get(load=load, check_key="bake", latest=True)
    return row.outcome, row.code


def test_the_place_of_the_probe_is_asked_and_kept_with_the_file(oven: Oven) -> None:
    load = oven.bake()
    asked = oven.send(log([160.0] * 41), load)
    assert ASKED in text_of(asked)
    for words in ("Inside a part", "On the surface of a part", "In the face of the mould", "In the air of the oven"):
        assert f">{words}</button>" in asked.content.decode()
    assert verdict_of(load) == ("missing", "logged.asked")
    answered = oven.answer(probe="mould")
    assert verdict_of(load) == ("passed", "cure.passed_through")
    assert "The probe was in the face of the mould. The middle follows from it by conduction" in text_of(answered)
    assert Attachment.objects.get().answers["probe"] == "mould"
    event = Event.objects.get(kind="log understood")
    assert event.data["told"]["answers"] == {"probe": "mould"}
    assert FileReading.objects.count() == 1, "no byte of it was read another time"
    assert not list(differences())


def test_the_founder_answers_it_too(oven: Oven) -> None:
    oven.send(log([160.0] * 41), oven.bake())
    path = f"/evidence/{Attachment.objects.get().pk}"
    client = founder_client()
    assert ASKED in text_of(client.get(path))
    assert client.post(path, {"news_id": news_id(), "probe": "roof"}).status_code == 422
    page = client.post(path, {"news_id": news_id(), "probe": "surface"}, follow=True)
    assert "The probe was on the surface of a part." in text_of(page)
    assert Attachment.objects.get().answers["probe"] == "surface"


def test_a_soak_of_the_air_asks_nobody() -> None:
    oven = make_oven()
    words = text_of(oven.send(log([85.0] * 41), oven.bake()))
    assert ASKED not in words and "The probe was in the air of the oven." in words


def test_a_log_of_the_air_says_what_to_send_and_a_log_from_inside_proves_it(oven: Oven) -> None:
    load = oven.bake()
    oven.send(log(AIR), load)
    words = text_of(oven.answer(probe="air"))
    assert verdict_of(load) == ("missing", "cure.no_transfer")
    assert "Send one log from inside a part of a full charge in this oven" in words
    form = oven.phone.get(f"/here/step/{oven.step.pk}/proof?load={load.uid}").content.decode()
    assert "kind=core" in form and "Send this instead: Log from inside a part" in form
    oven.send(log(MIDDLE), load, name="core.csv", kind="core")
    assert verdict_of(load) == ("passed", "cure.passed_through")
    page = text_of(founder_client().get(f"/evidence/{Attachment.objects.get(kind='log').pk}"))
    assert "Surface and middle follow from the air: h = 40" in page and "taken from core.csv" in page
    assert not list(differences())


def test_a_log_from_inside_says_something_of_every_batch_of_the_part_in_that_oven(oven: Oven) -> None:
    first, later = oven.bake(), another_batch(oven)
    same = later.bake(60, start=IN_AT + timedelta(hours=2))
    later.send(log(AIR, start=IN_AT + timedelta(hours=2)), same)
    later.answer(probe="air")
    assert verdict_of(same) == ("missing", "cure.no_transfer")
    oven.send(log(AIR), first)
    oven.answer(probe="air")
    oven.send(log(MIDDLE), first, name="core.csv", kind="core")
    assert verdict_of(first) == ("passed", "cure.passed_through") == verdict_of(same)


@pytest.mark.parametrize(
    ("place", "pieces", "code"),
    [("Oven 2", 60, "cure.no_transfer"), ("oven 1", 60, "cure.passed_through"), ("Oven 1", 30, "cure.passed_through")],
)
def test_another_oven_is_another_matter(oven: Oven, place: str, pieces: int, code: str) -> None:
    first, later = oven.bake(60), another_batch(oven)
    oven.send(log(AIR), first)
    oven.answer(probe="air")
    oven.send(log(MIDDLE), first, name="core.csv", kind="core")
    start = IN_AT + timedelta(hours=2)
    load = later.bake(pieces, start=start, place=place)
    later.send(log(AIR, start=start), load)
    later.answer(probe="air")
    assert verdict_of(load)[1] == code


def test_a_fuller_oven_than_the_one_that_was_measured_is_not_proved(oven: Oven) -> None:
    first, later = oven.bake(40), another_batch(oven)
    oven.send(log(AIR), first)
    oven.answer(probe="air")
    oven.send(log(MIDDLE), first, name="core.csv", kind="core")
    start = IN_AT + timedelta(hours=2)
    load = later.bake(41, start=start)
    later.send(log(AIR, start=start), load)
    later.answer(probe="air")
    assert verdict_of(load) == ("missing", "cure.core_smaller")


def test_a_log_from_inside_a_part_is_of_one_load(oven: Oven) -> None:
    oven.bake()
    answer = oven.send(log(MIDDLE), None, name="core.csv", kind="core")
    assert "Say which load it was in" in text_of(answer) and not Attachment.objects.exists()


# ------------------------------------------------------------------ a log of another oven
def named(oven: Oven, head: str = "Oven 2;export") -> Load:
    """A load in oven 1 with a log whose first line says where it is from, in a shop that has two ovens."""
    oven.bake(10, place="Oven 2")
    load = oven.bake(10, start=IN_AT + timedelta(hours=3))
    oven.send(f"{head}\r\n".encode() + log([85.0] * 41, start=IN_AT + timedelta(hours=3)), load)
    return load


def test_a_log_that_names_another_oven_is_asked_about_before_it_proves_anything() -> None:
    oven = make_oven()
    load = named(oven)
    page = oven.phone.get(f"/here/proof/{Attachment.objects.get().pk}")
    assert "The file names Oven 2, the load was in Oven 1. Is it the log of this load?" in text_of(page)
    assert verdict_of(load) == ("missing", "logged.asked")
    oven.answer(oven="same")
    assert verdict_of(load) == ("passed", "soak.passed")


def test_a_log_that_is_another_loads_proves_nothing_and_is_asked_for_again() -> None:
    oven = make_oven()
    load = named(oven)
    words = text_of(oven.answer(oven="other"))
    assert "This is the log of another load: it names Oven 2, the load was in Oven 1." in words
    assert verdict_of(load) == ("missing", "logged.no_log")
    oven.send(log([85.0] * 41, start=IN_AT + timedelta(hours=3)), load)
    assert verdict_of(load) == ("passed", "soak.passed")


def test_a_log_that_names_its_own_oven_is_asked_nothing() -> None:
    oven = make_oven()
    load = named(oven, head="Oven 1;export")
    assert verdict_of(load) == ("passed", "soak.passed")


def test_a_log_of_the_whole_step_is_held_against_all_its_ovens() -> None:
    oven = make_oven()
    oven.bake(10, place="Oven 2")
    later = another_batch(oven)
    start = IN_AT + timedelta(hours=3)
    for place in ("Oven 1", "Oven 3"):
        later.bake(10, place=place, start=start)
    words = text_of(later.send(b"Oven 2;export\r\n" + log([85.0] * 41, start=start)))
    assert "The file names Oven 2, the load was in Oven 1, Oven 3." in words
    words = text_of(later.send(b"Oven 3;export\r\n" + log([85.0] * 41, start=start)))
    assert "The file names" not in words and later.verdict()[1] == "loads.all_passed"


def test_where_nobody_said_which_oven_the_tool_of_the_operation_is_asked() -> None:
    oven = make_oven()
    oven.bake(10, place="Oven 2")
    operation = oven.step.operation
    type(operation).objects.filter(pk=operation.pk).update(tool="box oven, 60 places")
    load = oven.bake(10, place="", start=IN_AT + timedelta(hours=3))
    content = log([85.0] * 41, start=IN_AT + timedelta(hours=3))
    assert "The file names Oven 2, the load was in box oven." in text_of(oven.send(b"Oven 2;x\r\n" + content, load))
    assert "The file names" not in text_of(oven.send(b"Box oven;x\r\n" + content, load))


@pytest.mark.parametrize("hours", [-5, 5])
def test_a_log_of_another_hour_proves_nothing_and_says_both_times(hours: int) -> None:
    oven = make_oven()
    load = oven.bake()
    words = text_of(oven.send(log([85.0] * 41, start=IN_AT + timedelta(hours=hours)), load))
    assert verdict_of(load) == ("missing", "logged.another_time")
    assert "The log runs from" in words and "the load from" in words


# ------------------------------------------------------------------ the middle beside the log
def test_the_middle_stands_beside_the_log_with_the_model_in_words(oven: Oven) -> None:
    load = oven.bake()
    oven.send(log(AIR), load)
    oven.answer(probe="air")
    path = f"/evidence/{Attachment.objects.get().pk}"
    before = founder_client().get(path).content.decode()
    assert "middle of a part, computed" not in before and "Middle, °C" not in before
    oven.send(log(MIDDLE), load, name="core.csv", kind="core")
    answer = founder_client().get(path)
    page, words = answer.content.decode(), text_of(answer)
    assert "middle of a part, computed" in page and "How the middle was computed" in words
    assert words.count("Surface and middle follow from the air") == 1, "said once, not with every verdict"
    rows = dict(re.findall(r'<th scope="row">[^<]*, (\d\d:\d\d)</th>\s*<td class="n">([\d.]+)</td>', page))
    middles = re.findall(r'<td class="n">([\d.]+)</td>\s*<td class="n">([\d.]+)</td>', page)
    assert rows and float(middles[0][1]) == 25.0, "as warm as it went in"
    assert all(float(inside) <= float(air) + 0.1 for air, inside in middles)
    # What was measured in the middle a minute from the end is what is computed there.
    assert abs(float(middles[-1][1]) - MIDDLE[-1]) < 1.0


def test_where_the_probe_was_inside_there_is_nothing_to_compute(oven: Oven) -> None:
    oven.send(log([160.0] * 41), oven.bake())
    oven.answer(probe="part")
    page = text_of(founder_client().get(f"/evidence/{Attachment.objects.get().pk}"))
    assert "How the middle was computed" not in page and "The probe was inside a part." in page
