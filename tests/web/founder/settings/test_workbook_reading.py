"""The workbook page and its worker: no page waits, a file is decoded once, in a child, in no transaction."""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from PIL import Image

from sites.models import Site
from tests.cast import founder_client, pass_client
from tests.exchange.books import small_xlsx
from tests.exchange.test_in_a_child import no_decoder_here, zip_with_picture
from tests.web.founder.signed_in import news_id, text_of
from tests.working import work
from traveller.exchange import kept as kept_uploads
from traveller.exchange import tasks
from traveller.exchange.kept import ImportAsked, Kept
from traveller.exchange.workbook import asking
from traveller.journal.models import Event
from traveller.products.models import Part

pytestmark = pytest.mark.django_db
__all__ = ["no_decoder_here"]


@pytest.fixture(autouse=True)
def _own_folder(settings: Any, tmp_path: Path) -> Iterator[None]:
    settings.MEDIA_ROOT = tmp_path / "media"
    yield


@pytest.fixture
def lane(settings: Any) -> None:
    """Tasks wait for a worker, as they do when the pages are served."""
    settings.TASKS_AT_ONCE = False


def upload(client: Client, content: bytes, name: str = "book.zip") -> Any:
    return client.post("/workbook", {"news_id": news_id(), "files": [SimpleUploadedFile(name, content)]})


def key_on(page: Any) -> str:
    found = re.search(r'name="key" value="([0-9a-f]{32})"', page.content.decode())
    assert found, text_of(page)
    return found[1]


def waits(page: Any) -> bool:
    return "data-being-read" in page.content.decode()


@pytest.mark.usefixtures("lane")
def test_the_page_answers_at_once_and_shows_what_came_of_it_when_it_has_come() -> None:
    client = founder_client()
    answer = upload(client, zip_with_picture())
    assert answer.status_code == 302
    page = client.get(answer["Location"])
    assert waits(page) and "book.zip is being read and tried." in text_of(page)
    assert 'type="file"' not in page.content.decode(), "a page that looks again by itself would lose what was chosen"
    assert work() == 1
    tried = client.get(answer["Location"])
    assert not waits(tried) and "has no fault" in text_of(tried) and not Site.objects.exists()
    form = {"news_id": news_id(), "key": key_on(tried)}
    asked = client.post("/workbook/import", form)
    assert "book.zip is being imported." in text_of(client.get(asked["Location"]))
    assert work() == 1
    done = client.get(asked["Location"])
    assert "What was imported" in text_of(done) and "book.zip is imported." in text_of(done)
    reported = client.post("/workbook/import", form)["Location"]
    assert f'data-confirmed="{form["news_id"]}"' in client.get(reported).content.decode()
    assert Event.objects.filter(kind="workbook imported").count() == 1 and work() == 0


@pytest.mark.usefixtures("lane")
def test_two_tabs_have_an_upload_each() -> None:
    client = founder_client()
    first, second = upload(client, zip_with_picture(), "one.zip"), upload(client, b"no zip", "two.zip")
    work()
    assert "one.zip has no fault" in text_of(client.get(first["Location"]))
    faults = client.get(second["Location"])
    assert faults.status_code == 422 and "two.zip has 1 fault" in text_of(faults)


@pytest.mark.usefixtures("lane")
def test_all_faults_of_what_is_imported_are_shown_and_nothing_counts() -> None:
    client = founder_client()
    there = upload(client, zip_with_picture())["Location"]
    work()
    key = key_on(client.get(there))
    name = Kept(key, "book.zip").path
    name.write_bytes(b"something else by now")
    client.post("/workbook/import", {"news_id": news_id(), "key": key})
    work()
    page = client.get(there)
    assert page.status_code == 422 and "is not a readable zip or XLSX file" in text_of(page)
    assert not Site.objects.exists()


@pytest.mark.usefixtures("lane")
def test_when_nothing_reads_the_page_says_since_when_and_what_to_start() -> None:
    client = founder_client()
    there = upload(client, zip_with_picture())["Location"]
    assert "manage.py work" not in text_of(client.get(there))
    key = re.findall(r"upload=([0-9a-f]{32})", there)[0]
    long_ago = datetime.now(UTC) - timedelta(minutes=3)
    asked = Kept(key, "book.zip").asked()
    assert asked is not None
    Kept(key, "book.zip").ask(ImportAsked("try", asked.uid, long_ago.isoformat()))
    words = text_of(client.get(there))
    assert "Nothing has read files since" in words and f"{long_ago:%H:%M}" in words and "manage.py work" in words
    upload(client, zip_with_picture(), "next.zip")
    work(most=1)
    Kept(key, "book.zip").path.with_name(f"{key}.told").unlink()
    assert "Nothing has read files since" not in text_of(client.get(there)), "something was at work just now"


@pytest.mark.usefixtures("lane")
def test_a_fault_of_the_program_is_told_to_whoever_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    def falls_over(*_: Any, **__: Any) -> None:
        raise RuntimeError("a fault")

    client = founder_client()
    there = upload(client, zip_with_picture())["Location"]
    monkeypatch.setattr(tasks, "import_workbook", falls_over)
    with pytest.raises(RuntimeError, match="a fault"):
        work()
    page = client.get(there)
    assert page.status_code == 409 and "The program itself failed on this workbook" in text_of(page) and not waits(page)


def test_what_was_tried_is_not_decoded_again_to_be_imported(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[object] = []
    real = asking.decode

    def counted(kind: str, blobs: Any, reported: Any, **more: Any) -> Any:
        asked.append(reported)
        return real(kind, blobs, reported, **more)

    monkeypatch.setattr(asking, "decode", counted)
    client = founder_client()
    key = key_on(upload(client, zip_with_picture()))
    decoded = len(asked)
    client.post("/workbook/import", {"news_id": news_id(), "key": key})
    assert Part.objects.filter(number="CUP").exclude(picture_digest="").exists()
    assert (decoded, len(asked)) == (2, 2), "once for the sheets, once for the pictures"


@pytest.mark.django_db(transaction=True)
def test_nothing_is_decoded_in_a_transaction(monkeypatch: pytest.MonkeyPatch) -> None:
    held: list[bool] = []
    real = asking.decode

    def looked_at(kind: str, blobs: Any, reported: Any, **more: Any) -> Any:
        held.append(connection.in_atomic_block)
        return real(kind, blobs, reported, **more)

    monkeypatch.setattr(asking, "decode", looked_at)
    client = founder_client()
    key = key_on(upload(client, zip_with_picture()))
    (kept_uploads.folder() / f"{key}.book").unlink()
    client.post("/workbook/import", {"news_id": news_id(), "key": key})
    assert Site.objects.count() == 2
    assert held == [False] * 4


@pytest.mark.child
def test_the_server_decodes_nothing_of_an_upload(no_decoder_here: Callable[[], None]) -> None:
    client, sources = founder_client(), (("a.zip", zip_with_picture()), ("b.xlsx", small_xlsx()))
    no_decoder_here()
    for name, content in sources:
        page = upload(client, content, name)
        assert page.status_code == 200, text_of(page)
    assert client.post("/workbook/import", {"news_id": news_id(), "key": key_on(page)}).status_code == 302
    assert Site.objects.count() == 2


def test_a_part_picture_is_served_without_place_and_camera() -> None:
    client = founder_client()
    client.post("/workbook/import", {"news_id": news_id(), "key": key_on(upload(client, zip_with_picture()))})
    digest = Part.objects.get(number="CUP").picture_digest
    served = pass_client(Site.objects.get(code="mill"), person="").get(f"/picture/{digest}")
    assert served["Content-Type"] == "image/jpeg"
    picture = Image.open(io.BytesIO(served.content))
    assert (picture.format, picture.size, dict(picture.getexif())) == ("JPEG", (90, 60), {})
    assert all(word not in served.content for word in (b"a camera", b"at home", b"Exif"))


def test_a_task_that_is_done_twice_tells_the_same() -> None:
    client = founder_client()
    key = key_on(upload(client, zip_with_picture()))
    book = Kept(key, "book.zip").path.read_bytes()
    uid = news_id()
    client.post("/workbook/import", {"news_id": uid, "key": key})
    kept = Kept(key, "book.zip")
    first = kept.reported()
    assert first is not None and first.report is not None and first.report.sheets["sites"].added == 2
    # Its worker ended after the import and before it could say so.
    kept.keep(book)
    (kept_uploads.folder() / f"{key}.told").unlink()
    at = datetime.now(UTC).isoformat()
    tasks.do_asked.call(key=key, name="book.zip", aim="import", uid=uid, person="Mara Lind", happened=at, at=at)
    assert kept.reported() == first
    assert Event.objects.filter(kind="workbook imported").count() == 1


def test_files_of_uploads_are_their_owners_alone_and_go_with_the_day() -> None:
    client = founder_client()
    key = key_on(upload(client, zip_with_picture()))
    files = sorted(path.name for path in kept_uploads.folder().iterdir())
    assert files == [key, f"{key}.asked", f"{key}.book", f"{key}.told"]
    assert {path.stat().st_mode & 0o777 for path in kept_uploads.folder().iterdir()} == {0o600}
    assert kept_uploads.folder().stat().st_mode & 0o777 == 0o700
    kept_uploads.sweep_kept(datetime.now(UTC).timestamp() + 25 * 3600)
    assert list(kept_uploads.folder().iterdir()) == []
    assert re.search("not kept here any more", text_of(client.get(f"/workbook?upload={key}")))


def test_a_sixth_upload_lets_go_of_the_first() -> None:
    client = founder_client()
    keys = [key_on(upload(client, zip_with_picture())) for _ in range(6)]
    assert [Kept(key, "").is_there() for key in keys] == [False, *[True] * 5]
