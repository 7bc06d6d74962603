"""What an upload asks is shown with its place; one button says what confirming does, and does exactly that."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from sites.models import Lane, Site
from tests.cast import founder_client
from tests.exchange.books import SMALL
from tests.web.founder.settings.test_workbook import key_on, tried
from tests.web.founder.signed_in import news_id, text_of
from traveller.exchange.workbook import confirming
from traveller.journal.models import Event

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _own_folder(settings: Any, tmp_path: Path) -> Iterator[None]:
    settings.MEDIA_ROOT = tmp_path / "media"
    yield


def odd_files(days: str = "2") -> list[SimpleUploadedFile]:
    """The small workbook with two columns that it does not know, and a closure of half a century."""
    lanes = f"from,to,transit_days,colour,fax\nmill,bench,{days},red,none\n"
    closures = "site,first_day,last_day\nmill,2026-12-01,2076-12-31\n"
    sheets = {**SMALL, "lanes": lanes, "closures": closures}
    return [SimpleUploadedFile(f"{name}.csv", text.encode()) for name, text in sheets.items()]


def token_on(page: Any) -> str:
    found = re.search(r'name="confirmed" value="([0-9a-f]{12})"', page.content.decode())
    assert found, text_of(page)
    return found[1]


def imported(client: Client, page: Any, token: str) -> Any:
    answer = client.post("/workbook/import", {"news_id": news_id(), "key": key_on(page), "confirmed": token})
    return client.get(answer["Location"]) if answer.status_code == 302 else answer


def test_each_question_is_shown_and_the_button_says_what_it_does() -> None:
    client = founder_client()
    page = tried(client, odd_files())
    words = text_of(page)
    assert "has no fault, but something to confirm." in words and "To be confirmed" in words
    for column in ("colour", "fax"):
        assert re.search(rf"lanes \W*{column} \W*is not a column of this sheet", words)
    assert "closures 2 last_day 2076-12-31 shuts mill for" in words
    assert "Import, and leave these 2 columns out, and take this figure as it stands" in words
    assert not Site.objects.exists()
    done = imported(client, page, token_on(page))
    assert "What was imported" in text_of(done) and Lane.objects.get().transit_days == 2
    assert len(Event.objects.get(kind="workbook imported").data["told"]["confirmed"]) == 3


def test_without_the_answer_nothing_is_imported_and_it_is_asked_again() -> None:
    client = founder_client()
    page = tried(client, odd_files())
    for token in ("", "0123456789ab"):
        again = imported(client, page, token)
        assert "asks what nobody has confirmed yet; nothing was imported." in text_of(again)
        assert not Site.objects.exists()
    assert "What was imported" in text_of(imported(client, again, token_on(again)))


def test_the_answer_for_one_file_is_none_for_another() -> None:
    client = founder_client()
    token = token_on(tried(client, odd_files()))
    other = tried(client, odd_files("3"))
    assert token_on(other) != token
    assert "nothing was imported" in text_of(imported(client, other, token)) and not Site.objects.exists()


def test_a_question_that_came_up_meanwhile_is_asked_before_anything_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    client = founder_client()
    page = tried(client, odd_files())
    monkeypatch.setattr(confirming, "book_digest", lambda book: "another file")
    again = imported(client, page, token_on(page))
    assert "asks what nobody has confirmed yet" in text_of(again) and not Site.objects.exists()
    assert token_on(again) != token_on(page)
