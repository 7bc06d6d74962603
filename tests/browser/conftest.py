"""The phone at the moulder's, for every test of the operator's pages in the browser."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
from pytest_django.live_server_helper import LiveServer

from tests.browser.handheld import Phone, phone_of
from tests.web.operator.floor import make_floor

if TYPE_CHECKING:
    from playwright.sync_api import Browser


@pytest.fixture
def held(browser: Browser, live_server: LiveServer, monkeypatch: pytest.MonkeyPatch) -> Iterator[Phone]:
    floor = make_floor()
    # The server of these tests is a thread of this process, so it reads the same clock.
    monkeypatch.setattr("django.utils.timezone.now", floor.clock)
    phone = phone_of(browser, live_server.url, floor)
    yield phone
    phone.page.context.close()
