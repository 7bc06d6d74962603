"""The process record by its address: the founder's alone, a GET that tells nothing, linked from the batch page."""

from __future__ import annotations

import re

import pytest

from tests.cast import founder_client
from tests.globe import make_globe
from tests.paper.reading import texts
from tests.web.founder.signed_in import assert_for_the_founder_alone
from traveller.journal.models import Event

pytestmark = pytest.mark.django_db


def test_only_the_founder_may_open_it() -> None:
    globe = make_globe()
    assert_for_the_founder_alone(f"/batches/{globe.batch.code}/record", globe.moulder)


def test_it_opens_as_a_pdf_from_the_batch_page_and_tells_nothing() -> None:
    globe = make_globe()
    globe.report(20, 5, scrap={"short": 2})
    client, before = founder_client(), Event.objects.count()
    address = f"/batches/{globe.batch.code}/record"
    assert f'href="{address}"' in client.get(f"/batches/{globe.batch.code}").content.decode()
    answer = client.get(address)
    assert answer.status_code == 200 and answer["Content-Type"] == "application/pdf"
    found = re.sub(r"\s+", " ", " ".join(texts(answer.content)))
    assert "scrap 2 (short 2)" in found and "not a certificate" in found
    assert Event.objects.count() == before
    assert client.post(address).status_code == 405


def test_a_bench_that_prints_on_letter_gets_letter() -> None:
    globe = make_globe()
    client = founder_client()
    a4 = client.get(f"/batches/{globe.batch.code}/record").content
    globe.bench.paper = "Letter"
    globe.bench.save()
    letter = client.get(f"/batches/{globe.batch.code}/record").content
    assert b"841." in a4 and b"792 " in letter
