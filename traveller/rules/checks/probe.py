"""Where was the probe of this log? What a check says of it, what its sender answered, and what that proves."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, get_args

from traveller.rules.checks.fields import Field, OneOf
from traveller.rules.logs.found import Log, Probe

__all__ = ["PROBE", "PROBE_WORDS", "note_of", "probe_of", "reaches"]

# From the air inward: who knows how hot it was further in knows that it was at least so hot outside of it.
_DEPTH: Final[Mapping[Probe, int]] = {"air": 0, "platen": 0, "surface": 1, "mould": 1, "part": 2}

_NOTES: Final[Mapping[Probe, str]] = {
    "part": "logged.probe_part",
    "surface": "logged.probe_surface",
    "mould": "logged.probe_mould",
    "platen": "logged.probe_platen",
    "air": "logged.probe_air",
}

PROBE = Field(
    "probe",
    OneOf(words=get_args(Probe)),
    "Where the probe of its log is; where it is empty and it matters, whoever sends a log is asked.",
)

PROBE_WORDS: Mapping[str, str] = {
    "logged.no_probe": "Load {load}: it was not said where the probe of this log was, so what it proves is not known.",
    "logged.probe_part": "The probe was inside a part.",
    "logged.probe_surface": "The probe was on the surface of a part.",
    "logged.probe_mould": "The probe was in the face of the mould.",
    "logged.probe_platen": "The probe was in the platen.",
    "logged.probe_air": "The probe was in the air of the oven.",
}


def probe_of(log: Log, expected: str) -> Probe | None:
    """What whoever sent it said, else where the check says that it is; None: nobody knows."""
    found: Mapping[str, Probe] = {one: one for one in _DEPTH}
    return log.answers.probe or found.get(expected)


def note_of(probe: Probe) -> str:
    """The code of the sentence that says where it was."""
    return _NOTES[probe]


def reaches(probe: Probe, wanted: Probe) -> int:
    """0: the probe was where it is asked for; below 0: further out; above 0: further in."""
    return _DEPTH[probe] - _DEPTH[wanted]
