"""Evidence in the real browser: a log sent from the phone's files and answered by a tap; its page on desk and phone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from pytest_django.live_server_helper import LiveServer

from tests import cast
from tests.browser.looking import DESK, PHONE, screen
from tests.web.oven import IN_AT, Oven, log, make_oven, photo
from traveller.batches.models import Attachment
from traveller.ledger.models import Hold

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
CURVE = [77.0 + 21.6 * n for n in range(5)] + [190.4] * 30 + [170.0, 158.0]


@pytest.fixture
def oven() -> Oven:
    return make_oven()


def test_a_log_is_sent_from_the_phones_files_and_its_one_question_answered(
    browser: Browser, live_server: LiveServer, oven: Oven
) -> None:
    oven.bake()
    with screen(browser, live_server.url, PHONE, oven.phone) as phone:
        phone.go(f"/here/step/{oven.step.pk}")
        phone.look("step")
        phone.follow("Send the log of load 1")
        phone.look("choose a file")
        content = log(CURVE, head="time;oven")
        phone.page.set_input_files("#id_file", {"name": "oven 3.csv", "mimeType": "text/csv", "buffer": content})
        phone.press("Send it")
        phone.says("Are the temperatures (such as 77.0) in Celsius, in Fahrenheit or in kelvin?")
        phone.look("asked")
        phone.press("Fahrenheit")
        phone.says("Read as: year first, Fahrenheit")
        phone.look("answered")
        phone.follow("Back to the step")
        phone.says("Temperature log: oven 3.csv")
        phone.look("step with its proof")
        phone.all_is_well()


def test_a_log_that_does_not_fit_and_a_photo_stand_well_on_a_phone(
    browser: Browser, live_server: LiveServer, oven: Oven
) -> None:
    load = oven.bake()
    oven.send(log([85.0] * 20, start=IN_AT.replace(day=1)), load)
    wrong = Attachment.objects.latest("id").pk
    oven.send(photo(), kind="photo")
    with screen(browser, live_server.url, PHONE, oven.phone) as phone:
        phone.go(f"/here/proof/{wrong}")
        phone.says("Is it the right log?")
        phone.look("misfit")
        phone.go(f"/here/proof/{Attachment.objects.latest('id').pk}")
        assert phone.page.evaluate("document.querySelector('.proof-picture').naturalWidth") == 64
        phone.look("photo")
        phone.all_is_well()


@pytest.mark.parametrize("width", [PHONE, DESK])
def test_the_founders_pages_of_a_log_and_of_holds_fit_the_screen(
    browser: Browser, live_server: LiveServer, oven: Oven, width: int
) -> None:
    load = oven.bake()
    rows = log([25.0 + 15 * n for n in range(5)] + [88.0] * 20 + [97.5] + [70.0] * 15).split(b"\r\n")
    oven.send(b"\r\n".join(rows[:12] + rows[16:]), load)
    proof = Attachment.objects.latest("id").pk
    oven.send(photo(), kind="photo")
    with screen(browser, live_server.url, width, cast.founder_client()) as desk:
        pages = {
            "log": f"/evidence/{proof}",
            "photo": f"/evidence/{proof + 1}",
            "holds": "/holds",
            "hold": f"/holds/{Hold.objects.latest('id').pk}",
            "batch": f"/batches/{oven.batch.code}",
        }
        for name, path in pages.items():
            assert desk.go(path) == 200, name
            desk.look(name)
        desk.all_is_well()
