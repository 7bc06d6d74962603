"""The page that says what may stand in a workbook, and the empty workbook to download."""

from __future__ import annotations

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from tests import factory
from tests.cast import founder_client
from tests.web.founder.settings.test_workbook import tried
from tests.web.founder.signed_in import assert_for_the_founder_alone, text_of
from traveller.exchange.workbook.sheets import SHEETS
from traveller.rules.checks import KINDS

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _own_folder(settings: object, tmp_path: object) -> None:
    settings.MEDIA_ROOT = f"{tmp_path}/media"  # type: ignore[attr-defined]


def test_only_the_founder_reads_it() -> None:
    site = factory.make_site()
    for path in ("/workbook/reference", "/workbook/template.xlsx"):
        assert_for_the_founder_alone(path, site)


def test_every_sheet_and_every_kind_has_its_place_and_is_linked_from_the_workbook() -> None:
    client = founder_client()
    assert 'href="/workbook/reference"' in client.get("/workbook").content.decode()
    page = client.get("/workbook/reference").content.decode()
    there = set(re.findall(r'<section class="sheet"\s+id="([\w-]+)"', page))
    assert there == {*(f"sheet-{name}" for name in SHEETS), *(f"check-{name}" for name in KINDS)}
    assert set(re.findall(r'href="#([\w-]+)"', page)) >= there
    words = text_of(client.get("/workbook/reference"))
    assert "Good pieces of a batch that a test at this step uses up" in words
    assert KINDS["window"].about in words and "A whole row of the sheet checks" in words


def test_the_empty_workbook_says_nothing_new() -> None:
    client = founder_client()
    template = client.get("/workbook/template.xlsx")
    assert 'filename="workbook-template.xlsx"' in template["Content-Disposition"]
    page = tried(client, [SimpleUploadedFile("empty.xlsx", template.content)])
    assert page.status_code == 200 and "empty.xlsx says nothing new" in text_of(page)
