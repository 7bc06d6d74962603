"""Does this log belong to this load? Another day, too short, from the future."""

from __future__ import annotations

from datetime import UTC, datetime

from traveller.rules.logs.found import Fault, Log

__all__ = ["misfits"]


def misfits(log: Log, started_at: datetime | None, ended_at: datetime | None, now: datetime) -> tuple[Fault, ...]:
    """What does not fit, for the page where the log is sent; line 0 is the file as a whole.

    None of it refuses the file: it is kept, and what it cannot prove stays missing.
    """
    found = []
    first, last = log.started_at, log.ended_at
    figures = {"first": first.isoformat(), "last": last.isoformat()}
    if last > now.astimezone(UTC):
        found.append(Fault("log.from_the_future", 0, figures))
    if started_at is None or ended_at is None:
        return tuple(found)
    start, end = started_at.astimezone(UTC), ended_at.astimezone(UTC)
    figures |= {"started": start.isoformat(), "ended": end.isoformat()}
    if last < start or first > end:
        found.append(Fault("log.another_time", 0, figures))
        return tuple(found)
    covered = (min(last, end) - max(first, start)).total_seconds() / 60
    lasted = (end - start).total_seconds() / 60
    if covered < lasted:
        found.append(Fault("log.shorter", 0, {"covered": f"{covered:.1f}", "lasted": f"{lasted:.1f}"}))
    return tuple(found)
