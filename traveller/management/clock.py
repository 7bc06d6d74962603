"""The server's clock against the journal when it starts, and against a clock that nobody sets while it runs."""

from __future__ import annotations

import getpass
import os
import socket
import threading
import time
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from uuid import uuid4

from django.core.management.base import CommandError
from django.db import Error, connection
from django.utils import timezone

from sites.actor import Actor
from traveller.journal.clock import TOLERANCE, behind, jumped, was_wrong
from traveller.journal.event_context import EventContext
from traveller.journal.refusal import Refusal
from traveller.web.templatetags.look import lapse_words

LOOK_S = 10.0
# Goes on while the machine sleeps, so that waking up is no jump.
STEADY = getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC)


def refuse_behind(reason: str | None) -> str | None:
    """Refuse a clock behind the journal, unless a person says why the journal was ahead; that is recorded.

    Returns what there is to tell, if anything.
    """
    if reason is not None and not reason.strip():
        raise CommandError("--clock-was-wrong needs a reason in your words; it stays in the journal.")
    now = timezone.now()
    newest = behind(now)
    if newest is None:
        return None if reason is None else "The clock is not behind the journal: there was nothing to record about it."
    if reason is None:
        raise CommandError(_behind(now, newest))
    event_context = EventContext(
        uid=uuid4(), at=now, recorded_at=now, actor=Actor("founder", f"{_user()} at the command line"[:80])
    )
    answer = was_wrong(event_context=event_context, reason=reason)
    if isinstance(answer, Refusal):
        raise CommandError(f"It could not be recorded that the clock was wrong ({answer.code}).")
    return f"Recorded: the clock was wrong until {_utc(newest)}. Times up to now may be wrong; what follows counts."


def _behind(now: datetime, newest: datetime) -> str:
    return (
        f"This machine's clock says {_utc(now)}, but the newest record was made at {_utc(newest)}: the clock is "
        f"{lapse_words(newest - now)} behind, or it was ahead when that was recorded. Curing, drying and lateness "
        "are proved by this clock. If it is wrong, set it right and start again. If it is right now and was wrong "
        "then, say so once: manage.py serve --clock-was-wrong 'why, in your words'. That is recorded."
    )


def _utc(moment: datetime) -> str:
    return f"{moment.astimezone(UTC):%Y-%m-%d %H:%M:%S} UTC"


def _user() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError):  # a user without a name, as in some containers
        return f"user {os.getuid()}"


def _ahead() -> float:
    """Seconds of the wall clock minus those of the steady one: the same number until somebody sets the clock."""
    return time.time() - time.clock_gettime(STEADY)


@dataclass
class Watch:
    """Notices that the clock was set, and writes it into the journal, later if the database is away.

    `ahead`: seconds of the wall clock minus the steady one's, as they were last known.
    """

    ahead: float
    unreported: list[tuple[EventContext, int]] = field(default_factory=list)

    def look(self) -> None:
        """Compare once; tell what was noticed."""
        seconds = round(_ahead() - self.ahead)
        if abs(seconds) > TOLERANCE / timedelta(seconds=1):
            self.ahead += seconds
            now = timezone.now()
            actor = Actor("system", f"server process {os.getpid()}")
            self.unreported.append((EventContext(uid=uuid4(), at=now, recorded_at=now, actor=actor), seconds))
        while self.unreported:
            event_context, seconds = self.unreported[0]
            jumped(event_context=event_context, seconds=seconds, machine=socket.gethostname())
            self.unreported.pop(0)

    def keep(self) -> None:
        """Look every ten seconds, for ever."""
        while True:
            time.sleep(LOOK_S)
            try:
                self.look()
            except Error:
                continue  # told at the next look
            finally:
                connection.close()


def watch() -> None:
    """Watch this machine's clock in a thread until the process ends."""
    threading.Thread(target=Watch(_ahead()).keep, name="clock-watch", daemon=True).start()
