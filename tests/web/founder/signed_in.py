"""Who sits at the founder's desk in these tests, who may not, and how many queries a page costs."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from uuid import uuid4

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from sites.models import Site
from tests import cast
from traveller.products import frozen


def assert_for_the_founder_alone(path: str, site: Site, method: str = "get") -> None:
    """Strangers are shown the sign-in; to a site pass the page does not exist."""
    stranger = getattr(Client(), method)(path)
    assert stranger.status_code == 302 and stranger["Location"].startswith("/sign-in"), path
    assert getattr(cast.pass_client(site, person=""), method)(path).status_code == 404, path


def news_id() -> str:
    return str(uuid4())


def queries_of(client: Client, path: str) -> int:
    """How many queries a page costs, with nothing remembered from before."""
    frozen.forget()
    with CaptureQueriesContext(
        connection,
    ) as caught:
        answer = client.get(path)
    assert answer.status_code == 200, path
    return len(caught)


def assert_costs_the_same(client: Client, path: str, more: Callable[[], object]) -> None:
    """A page with few things on it and with ten times as many asks the database equally often."""
    few = queries_of(client, path)
    more()
    many = queries_of(client, path)
    assert many == few, f"{path}: {few} queries, then {many}"


def text_of(answer: object) -> str:
    """The page's words without tags, blanks made single."""
    page = answer.content.decode()  # type: ignore[attr-defined]
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())
