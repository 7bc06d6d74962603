"""The founder's first page."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from tests.web.founder import scene

pytestmark = pytest.mark.django_db


def test_the_page_opens_with_a_computed_sentence() -> None:
    scene.play(timezone.now() - timedelta(days=12))
    text = scene.founder_client().get("/").content.decode()
    assert "One order is open, none late; 1042 is due next" in text
    assert "210 Band, printed, amber are held at Printer" in text
