"""The workbook page: tried first, all faults at once, then imported as tried; out again as it came."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.contrib.auth import get_user_model
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client

from sites.models import Site
from tests import factory
from tests.cast import founder_client
from tests.web.founder.signed_in import assert_for_the_founder_alone, news_id, text_of
from traveller.ledger.models import Lot
from traveller.products.models import Part

pytestmark = pytest.mark.django_db

DEMO = Path(__file__).parents[4] / "fixtures" / "demo"


@pytest.fixture(autouse=True)
def _own_folder(settings: object, tmp_path: Path) -> Iterator[None]:
    settings.MEDIA_ROOT = tmp_path / "media"  # type: ignore[attr-defined]
    yield


def csv_files(**changed: str) -> list[SimpleUploadedFile]:
    """The demo's sheets, pictures left out; `changed` replaces one sheet's text."""
    files = []
    for path in sorted(DEMO.glob("*.csv")):
        text = changed.get(path.stem, path.read_text(encoding="utf-8"))
        if path.stem == "parts":
            text = re.sub(r"pictures/[^,\n]*", "", text)
        files.append(SimpleUploadedFile(path.name, text.encode()))
    return files


def tried(client: Client, files: object) -> HttpResponse:
    answer: HttpResponse = client.post("/workbook", {"news_id": news_id(), "files": files})  # type: ignore[assignment]
    return answer


def key_on(page: HttpResponse) -> str:
    found = re.search(r'name="key" value="([0-9a-f]{32})"', page.content.decode())
    assert found, text_of(page)
    return found[1]


def test_only_the_founder_imports_and_exports() -> None:
    site = factory.make_site()
    for path in ("/workbook", "/workbook/export.zip", "/workbook/export.xlsx"):
        assert_for_the_founder_alone(path, site)
    assert_for_the_founder_alone("/workbook/import", site, "post")


def test_a_trial_shows_what_would_change_and_changes_nothing() -> None:
    client = founder_client()
    assert "Nothing is known yet." in text_of(client.get("/workbook"))
    page = tried(client, csv_files())
    assert page.status_code == 200, text_of(page)
    assert "has no fault. Look at what it would change, then import it." in text_of(page)
    assert re.search(r"sites 6 0 0 0", text_of(page))
    assert not Site.objects.exists()


def test_what_was_tried_is_imported_without_choosing_it_again() -> None:
    client = founder_client()
    form = {"news_id": news_id(), "key": key_on(tried(client, csv_files()))}
    answer = client.post("/workbook/import", form)
    assert answer.status_code == 302
    shown = text_of(client.get(answer["Location"]))
    assert "What was imported" in shown and "The record knows 6 sites" in shown
    lots = Lot.objects.count()
    assert Part.objects.filter(number="LANTERN-AM").exists()
    assert client.post("/workbook/import", form).status_code == 302
    assert Lot.objects.count() == lots
    assert "says nothing new: every row is there already." in text_of(tried(client, csv_files()))


def test_all_faults_stand_in_one_table_with_sheet_row_and_column() -> None:
    lanes = "from,to,transit_days,carrier\nmoulder,nowhere,two,van\nbench,bench,1,\n"
    client = founder_client()
    page = tried(client, csv_files(lanes=lanes))
    words = text_of(page)
    assert page.status_code == 422 and "nothing was imported" in words
    assert "lanes 3 to bench" in words and re.search(r"lanes 2 transit_days two", words)
    assert not Site.objects.exists()
    assert 'name="key"' not in page.content.decode()


def test_one_xlsx_comes_out_and_goes_in_again_unchanged() -> None:
    client = founder_client()
    client.post("/workbook/import", {"news_id": news_id(), "key": key_on(tried(client, csv_files()))})
    for kind in ("xlsx", "zip"):
        out = client.get(f"/workbook/export.{kind}")
        assert out.status_code == 200 and f".{kind}" in out["Content-Disposition"]
        again = tried(client, [SimpleUploadedFile(f"mine.{kind}", out.content)])
        assert "mine" in text_of(again) and "says nothing new" in text_of(again), text_of(again)[:800]
    assert "sites.csv" in zipfile.ZipFile(io.BytesIO(out.content)).namelist()


def test_the_same_warning_of_many_rows_is_said_once() -> None:
    client = founder_client()
    with_pictures = [SimpleUploadedFile(path.name, path.read_bytes()) for path in sorted(DEMO.glob("*.csv"))]
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w") as out:
        for path in sorted(DEMO.rglob("*")):
            if path.suffix in (".csv", ".png"):
                out.write(path, path.relative_to(DEMO).as_posix())
    assert tried(client, with_pictures).status_code == 422  # the pictures are not beside the sheets
    page = tried(client, [SimpleUploadedFile("demo.zip", archive.getvalue())])
    client.post("/workbook/import", {"news_id": news_id(), "key": key_on(page)})
    book = client.get("/workbook/export.xlsx").content
    words = text_of(tried(client, [SimpleUploadedFile("mine.xlsx", book)]))
    assert "says nothing new" in words
    assert words.count("did not come with the XLSX") == 1 and "rows more" in words


def test_an_empty_upload_is_refused_in_words() -> None:
    client = founder_client()
    for files in ([], [SimpleUploadedFile("empty.xlsx", b"")]):
        answer = tried(client, files)
        assert answer.status_code == 409 and "No file came, or an empty one." in text_of(answer)


def test_a_huge_upload_is_refused_in_words(settings: object) -> None:
    settings.UPLOAD_BYTES_MAX = 1024 * 1024  # type: ignore[attr-defined]
    answer = tried(founder_client(), [SimpleUploadedFile("big.zip", b"x" * (1024 * 1024 + 1))])
    assert answer.status_code == 409 and "more than 1 MB" in text_of(answer)


@pytest.mark.parametrize(("name", "content"), [("a.xlsx", b"no zip"), ("a.pdf", b"%PDF-1.4"), ("a.zip", b"PK\x03\x04")])
def test_what_is_no_workbook_is_said(name: str, content: bytes) -> None:
    answer = tried(founder_client(), [SimpleUploadedFile(name, content)])
    assert answer.status_code == 422 and "All faults" in text_of(answer)


def test_a_key_of_another_browser_imports_nothing() -> None:
    client = founder_client()
    key = key_on(tried(client, csv_files()))
    other = Client()
    other.force_login(get_user_model().objects.get())
    for odd in (key, "../../etc", ""):
        answer = other.post("/workbook/import", {"news_id": news_id(), "key": odd})
        assert answer.status_code == 409 and "not kept here any more" in text_of(answer)
    assert not Site.objects.exists()


def test_an_upload_that_was_swept_away_is_asked_for_again(tmp_path: Path) -> None:
    client = founder_client()
    key = key_on(tried(client, csv_files()))
    (tmp_path / "media-uploads" / key).unlink()
    answer = client.post("/workbook/import", {"news_id": news_id(), "key": key})
    assert answer.status_code == 409 and "Choose the workbook again" in text_of(answer)


def test_an_upload_is_called_as_what_was_chosen() -> None:
    client = founder_client()
    one, *more = csv_files()
    page = text_of(tried(client, [one]))
    assert f"{one.name} has" in page and "upload.zip" not in page
    page = text_of(tried(client, csv_files()))
    assert f"{one.name} and {len(more)} more files has no fault." in page and "upload.zip" not in page
