"""Logger files of our own making, for the tests of the reader."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

from traveller.rules.logs import Answers, Log, NotALog, Unclear, read_log

START = datetime(2026, 3, 14, 2, 0, tzinfo=UTC)
UTC_ANSWER = Answers(zone="UTC")


def lines(
    form: str = "%Y-%m-%dT%H:%M:%S",
    values: Iterable[float] = (150.0, 150.5, 151.0, 150.5),
    *,
    header: str = "Time,Temp (°C)",
    sign: str = ",",
    every_s: int = 10,
    comma: bool = False,
) -> list[str]:
    """A header and a reading every ten seconds."""
    shown = [f"{value:.1f}".replace(".", "," if comma else ".") for value in values]
    moments = [START + timedelta(seconds=every_s * place) for place in range(len(shown))]
    return [header, *(f"{moment.strftime(form)}{sign}{value}" for moment, value in zip(moments, shown, strict=True))]


def file_of(rows: list[str], encoding: str = "utf-8") -> bytes:
    """The file's bytes, the last line ended."""
    return ("\n".join(rows) + "\n").encode(encoding)


def log_of(data: bytes, answers: Answers = UTC_ANSWER) -> Log:
    """A log that must be readable."""
    found = read_log(data, answers)
    assert isinstance(found, Log), found
    return found


def asked(data: bytes, answers: Answers = UTC_ANSWER) -> Unclear:
    """A question that must come."""
    found = read_log(data, answers)
    assert isinstance(found, Unclear), found
    return found


def refused(data: bytes, answers: Answers = UTC_ANSWER) -> str:
    """The code of why this is no log."""
    found = read_log(data, answers)
    assert isinstance(found, NotALog), found
    return found.code
