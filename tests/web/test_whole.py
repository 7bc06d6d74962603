"""Many large files at once: a process holds one of them at a time."""

from __future__ import annotations

import threading
from functools import partial
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile, TemporaryUploadedFile, UploadedFile
from django.http import HttpRequest, HttpResponse
from django.test import RequestFactory

from traveller.decode.slots import slot
from traveller.web import outage
from traveller.web.whole import whole


def on_disk(content: bytes) -> TemporaryUploadedFile:
    file = TemporaryUploadedFile("a.jpg", "image/jpeg", len(content), None)
    file.write(content)
    file.seek(0)
    return file


def test_of_four_large_files_one_is_held_at_a_time_and_each_is_whole() -> None:
    held, most, seen, gate = 0, 0, [], threading.Barrier(4)
    count = threading.Lock()

    def keep(n: int) -> None:
        nonlocal held, most
        file = on_disk(bytes([n]) * 100_000)
        gate.wait(20)
        with whole(file) as content:
            with count:
                held += 1
                most = max(most, held)
                seen.append((content[0], len(content)))
            threading.Event().wait(0.05)
            with count:
                held -= 1

    threads = [threading.Thread(target=keep, args=(n,)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert most == 1 and sorted(seen) == [(n, 100_000) for n in range(4)]


def test_another_process_of_this_machine_waits_too() -> None:
    """Its lock on the same file is another one than ours: that is how this process meets it here."""
    with whole(on_disk(b"ours")), slot(settings.DECODE_PLACE, ("upload",), 0) as theirs:
        assert not theirs
    with slot(settings.DECODE_PLACE, ("upload",), 0) as theirs:
        assert theirs


def test_who_waits_too_long_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("traveller.web.whole.LONGEST_WAIT_S", 0.0)
    with slot(settings.DECODE_PLACE, ("upload",), 0) as theirs, whole(on_disk(b"ours")) as content:
        assert theirs and content == b"ours"


def test_one_that_lies_in_memory_waits_for_nobody() -> None:
    """It may be told again within a transaction, whose end the holder of a large one waits for."""
    with whole(on_disk(b"large")), whole(SimpleUploadedFile("a.jpg", b"small")) as content:
        assert content == b"small"


def test_a_fault_lets_the_next_one_in() -> None:
    with pytest.raises(OSError), whole(on_disk(b"first")):
        raise OSError("no room")
    with whole(on_disk(b"second")) as content:
        assert content == b"second"


def test_after_a_large_one_the_database_is_opened_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    """Else the connection of each thread keeps a copy of it."""
    closed: list[str] = []
    monkeypatch.setattr(outage, "renew", lambda: closed.append("closed"))

    def page(request: HttpRequest, file: UploadedFile[Any]) -> HttpResponse:
        with whole(file):
            return HttpResponse()

    outage._worn.set(False)
    for file, times in ((SimpleUploadedFile("a.jpg", b"small"), 0), (on_disk(b"large"), 1)):
        answer = outage.OutageMiddleware(partial(page, file=file))(RequestFactory().get("/"))
        assert (answer.status_code, len(closed)) == (200, times)
    outage._worn.set(False)
