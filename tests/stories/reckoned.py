"""The demo's pages, reckoned a second time at the end of each of its days, or after each event of some."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from functools import cached_property
from unittest.mock import patch

from django.contrib.auth.models import User
from django.db import connection
from django.test import Client

from tests.cast import founder_client, make_founder
from tests.reckoning.claims import Book
from tests.reckoning.pages import reckon
from tests.reckoning.rows import Rows

# The end of the day at every site.
EVENING = time(23, 50, tzinfo=UTC)


@dataclass
class Reckoned:
    """Looks at all pages when a day is over; at the days in `closely` after each event too."""

    closely: Sequence[date] = ()
    every_day: bool = True
    looks: list[tuple[datetime, Book]] = field(default_factory=list)
    latest: datetime | None = None
    client: Client = field(default_factory=Client)

    @cached_property
    def user(self) -> User:
        return make_founder()

    def fetch(self, address: str) -> str:
        answer = self.client.get(address)
        assert answer.status_code == 200, (address, answer.status_code)
        return answer.content.decode()

    def before(self, at: datetime) -> None:
        """An action is about to be told: if it is of a later day than all before, those days are over."""
        if self.latest is None:
            self.latest = at
        day = self.latest.date()
        while self.every_day and day < at.date():
            self.look(datetime.combine(day, EVENING))
            day += timedelta(days=1)
        self.latest = max(self.latest, at)

    def after(self, at: datetime) -> None:
        if at.date() in self.closely and self.latest is not None:
            self.look(self.latest + timedelta(minutes=2))

    def look(self, now: datetime) -> Book:
        """The pages as they are at this moment, beside the rows as they are."""
        with patch("django.utils.timezone.now", lambda: now), connection.cursor() as cursor:
            # She signs in anew: nobody stays signed in for weeks.
            self.client = founder_client(self.user)
            book = reckon(Rows(cursor), now, self.fetch)
        self.looks.append((now, book))
        return book

    @property
    def differences(self) -> list[str]:
        return [one for _now, book in self.looks for one in book.differences]
