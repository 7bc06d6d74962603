"""A logger's file: its readings, or what is unclear about it, or why it is no log."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from traveller.rules.logs import Answers, Log, NotALog, Unclear, read_log
from traveller.rules.logs.text import decoded
from traveller.rules.moments import read_moment

# What a logger says of itself stands in the first lines.
HEAD_BYTES = 2000


# One of each way of writing time and letters: what reading them needs is loaded by it.
_SAMPLES = (
    "Time,Temp °C\n2026-01-01 10:00:00,150.0\n2026-01-01 10:01:00,151.0\n",
    "Zeit;Temp °F\n01.02.2026 10:00;150,0\n01.02.2026 10:01;151,0\n13.02.2026 10:01;151,0\n",
    "Time\tTemp C\n10:00:00\t150\n10:01:00\t151\n",
    "min,Temp C\n0,150\n1,151\n2,152\n",
    "Epoch|Temp K\n1767261600|423.15\n1767261660|424.15\n",
    "Day;Temp C\n46023.4166666667;150\n46023.4173611111;151\n",
    "Time   Temp C\n2026-01-01 10:00:00   150\n2026-01-01 10:01:00   151\n",
    "Date,Time,Temp C\n1 Mar 2026,10:00 AM,150\n1 Mar 2026,10:01 AM,151\n",
)
_LETTERS = ("utf-8", "utf-8-sig", "utf-16", "cp1252")


def rehearse(asked: Mapping[str, Any]) -> None:
    """With the zone that was asked for: its rules lie in files, which the bound child cannot open."""
    reported = {"zone": asked.get("zone"), "start": "2026-01-01T10:00:00+00:00", "unit": "C", "date_order": "day"}
    for sample in _SAMPLES:
        decode(reported, [sample.encode()])
    for letters in _LETTERS:
        decode(reported, [_SAMPLES[0].encode(letters)])


def decode(asked: Mapping[str, Any], blobs: list[bytes]) -> tuple[dict[str, Any], list[bytes]]:
    """`asked` is the answers as they are kept. The arrays come as little-endian doubles: seconds, degrees C."""
    head = decoded(blobs[0][:HEAD_BYTES])
    facts: dict[str, Any] = {"head": "" if isinstance(head, NotALog) else head}
    found = read_log(blobs[0], answers_from(asked))
    if isinstance(found, NotALog):
        return facts | {"not_a_log": asdict(found)}, []
    if isinstance(found, Unclear):
        return facts | {"unclear": asdict(found)}, []
    assert isinstance(found, Log)
    said = {"said": asdict(found.said), "faults": [asdict(fault) for fault in found.faults]}
    arrays = [found.times.astype("<f8").tobytes(), found.celsius.astype("<f8").tobytes()]
    return facts | {"log": said}, arrays


def answers_from(reported: Mapping[str, Any]) -> Answers:
    """Answers as they are kept: names of the log reader's questions, values as text."""
    start = reported.get("start")
    return Answers(
        date_order=reported.get("date_order"),
        unit=reported.get("unit"),
        channel=reported.get("channel"),
        zone=reported.get("zone"),
        start=read_moment(start) if start else None,
        elapsed_unit=reported.get("elapsed_unit"),
        unit_sure=reported.get("unit_sure"),
        probe=reported.get("probe"),
        oven=reported.get("oven"),
    )
