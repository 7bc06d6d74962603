"""The floor, with its clock put in the place of the server's."""

from __future__ import annotations

import pytest

from tests.web.operator.floor import Floor, make_floor


@pytest.fixture
def floor(db: None, monkeypatch: pytest.MonkeyPatch) -> Floor:
    made = make_floor()
    monkeypatch.setattr("django.utils.timezone.now", made.clock)
    return made
