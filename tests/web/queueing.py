"""A phone that had no signal: it keeps forms and sends them to /here/queue, as the keeper of the page does."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

from django.http import HttpResponse
from django.test import Client

from sites.models import Site

_SPACE = UUID("0b6d4f9e-5a53-4a4e-8f0a-5f3c2d8f9a11")
URL = "/here/queue"


@dataclass
class Phone:
    """Its own clock runs `ahead` of the true time, which the test gives with each tap."""

    client: Client
    site: Site
    person: str = "Ines"
    ahead: timedelta = timedelta()
    name: str = "phone"
    seq: int = 0
    kept: list[dict[str, Any]] = field(default_factory=list)

    def tap(self, path: str, at: datetime, fields: Mapping[str, object] | None = None, **more: Any) -> dict[str, Any]:
        """A form filled in and kept; double underlines stand for colons."""
        self.seq += 1
        typed = {**(fields or {}), **{name.replace("__", ":"): value for name, value in more.items()}}
        entry = {
            "id": str(uuid5(_SPACE, f"{self.name} {self.seq}")),
            "seq": self.seq,
            "at": ms(at + self.ahead),
            "path": path,
            "person": self.person,
            "fields": [[name, str(value)] for name, value in typed.items()],
        }
        self.kept.append(entry)
        return entry

    def envelope(self, entries: list[dict[str, Any]], now: datetime) -> dict[str, Any]:
        return {"site": self.site.pk, "sent_at": ms(now + self.ahead), "entries": entries}

    def post(self, entries: list[dict[str, Any]], now: datetime) -> HttpResponse:
        return post(self.client, self.envelope(entries, now))

    def send(self, now: datetime, entries: list[dict[str, Any]] | None = None) -> list[dict[str, Any]]:
        """Send what is kept, or these again, and forget what the server has."""
        sent = self.kept[:50] if entries is None else entries
        answer = self.post(sent, now)
        assert answer.status_code == 200, answer.content
        answers: list[dict[str, Any]] = json.loads(answer.content)["answers"]
        gone = {one["id"] for one in answers if one["state"] in ("stored", "parked")}
        self.kept = [entry for entry in self.kept if entry["id"] not in gone]
        return answers

    def send_file(self, now: datetime, entry: dict[str, Any], **files: Any) -> HttpResponse:
        """One entry with what was photographed."""
        body = {"envelope": json.dumps(self.envelope([entry], now)), **files}
        answer = self.client.post(URL, body, headers={"x-queue": "1"})
        assert isinstance(answer, HttpResponse)
        return answer


def post(client: Client, body: object, **how: Any) -> HttpResponse:
    text = body if isinstance(body, (str, bytes)) else json.dumps(body)
    answer = client.post(URL, text, content_type=how.pop("content_type", "application/json"), **how)
    assert isinstance(answer, HttpResponse)
    return answer


def ms(moment: datetime) -> int:
    return int(moment.timestamp() * 1000)
