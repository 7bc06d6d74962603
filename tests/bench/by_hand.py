"""The floor of recording: the rows that one report writes, as bare SQL on one cursor.

Nothing is looked up, judged or checked, no object is made, and every text is ready beforehand. One transaction each,
with the same durability and behind the same queue.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from django.db import connection, transaction
from django.db.models import Model

from traveller.batches.models import Count, Step, Verdict
from traveller.journal.action import queue
from traveller.journal.models import Event, EventSubject
from traveller.ledger.models import Account, Posting

TABLES: tuple[type[Model], ...] = (Event, EventSubject, Count, Posting, Verdict, Account)
_EVENT = (
    "INSERT INTO journal_event (uid, kind, site_id, actor_kind, person, site_pass_id, on_behalf, phone, happened_at, "
    "recorded_at, device_offset_ms, data, corrects_id, digest) "
    "VALUES (%s, %s, %s, %s, %s, NULL, %s, '', %s, %s, NULL, %s, NULL, %s) RETURNING id"
)
_ABOUT = "INSERT INTO journal_eventsubject (event_id, subject_id) VALUES (%s, %s)"
_COUNT = (
    "INSERT INTO batches_count (step_id, event_id, load_id, again, good, scrap, rework, samples, by_reason, shots) "
    "VALUES (%s, %s, NULL, %s, 1, 0, 0, 0, %s, 0)"
)
_ACCOUNT = "UPDATE ledger_account SET balance = balance + %s WHERE id = %s"
_POSTING = "INSERT INTO ledger_posting (event_id, account_id, quantity) VALUES (%s, %s, %s), (%s, %s, %s)"
_STEP = "UPDATE batches_step SET good = good + 1, state = %s, started_at = %s WHERE id = %s"
_WAS = "UPDATE batches_verdict SET latest = %s WHERE id = %s"
_VERDICT = (
    "INSERT INTO batches_verdict (step_id, check_key, load_id, event_id, outcome, code, figures, "
    "conceded_event_id, latest) VALUES (%s, %s, NULL, %s, %s, %s, %s, NULL, %s) RETURNING id"
)


@dataclass
class ByHand:
    """Writes reports of one good piece at a step that has been reported at before, `judged` or not."""

    step: Step
    judged: bool
    at: datetime

    def __post_init__(self) -> None:
        event = Event.objects.filter(counts__step=self.step).latest("id")
        self.subject = self.step.batch.subject_id
        self.accounts = list(event.postings.order_by("quantity").values_list("account_id", flat=True))
        assert len(self.accounts) == 2, "a report of one piece moves it from one account to one other"
        verdict = Verdict.objects.filter(step=self.step, latest=True).first()
        assert (verdict is not None) == self.judged
        self.verdict = verdict.pk if verdict else 0
        self.texts = [json.dumps(row.data) for row in Event.objects.order_by("-id")[: 2 if self.judged else 1]]
        self.figures = json.dumps(verdict.figures) if verdict else ""
        self.sqlite = connection.vendor == "sqlite"

    def doing(self) -> Any:
        """One report, its ids made now and its writing left for later."""
        uids = [uuid4() for _ in self.texts]
        return lambda: self._write(uids)

    def _write(self, uids: list[UUID]) -> None:
        with queue(), transaction.atomic(), connection.cursor() as cursor:
            event = self._event(cursor, uids[0], self.texts[0])
            self._do(cursor, _COUNT, self.step.pk, event, False, "{}")
            first, second = self.accounts
            self._do(cursor, _ACCOUNT, -1, first)
            self._do(cursor, _ACCOUNT, 1, second)
            self._do(cursor, _POSTING, event, first, -1, event, second, 1)
            self._do(cursor, _STEP, "running", self._when(), self.step.pk)
            if self.judged:
                self._judge(cursor, uids[1])

    def _event(self, cursor: Any, uid: UUID, text: str) -> int:
        when = self._when()
        key = uid.hex if self.sqlite else uid
        given = (key, "counted", self.step.site_id, "founder", "Mara Lind", False, when, when, text, "0" * 64)
        event = int(self._do(cursor, _EVENT, *given).fetchone()[0])
        self._do(cursor, _ABOUT, event, self.subject)
        return event

    def _judge(self, cursor: Any, uid: UUID) -> None:
        event = self._event(cursor, uid, self.texts[1])
        self._do(cursor, _WAS, False, self.verdict)
        given = (self.step.pk, "water", event, "missing", "every_piece.not_finished", self.figures, True)
        self.verdict = int(self._do(cursor, _VERDICT, *given).fetchone()[0])

    def _do(self, cursor: Any, sql: str, *values: Any) -> Any:
        cursor.execute(sql, values)
        return cursor

    def _when(self) -> Any:
        return str(self.at.replace(tzinfo=None)) if self.sqlite else self.at


def rows_by_table() -> dict[str, int]:
    """How many rows there are of each kind that a report writes."""
    return {model.__name__: model._default_manager.count() for model in TABLES}
