"""What came out of a logger's file: readings, what was understood, what is wrong, or a question."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

__all__ = ["Answers", "DateOrder", "Fault", "Floats", "Log", "LogFigure", "NotALog", "Probe", "Said", "Unclear", "Unit"]

Floats: TypeAlias = NDArray[np.float64]
LogFigure: TypeAlias = int | str | list[str] | dict[str, int]
DateOrder = Literal["day", "month", "year"]
Unit = Literal["C", "F", "K"]
# Where the probe was: inside a part, on its surface, in the mould's face (held face), in a platen, in the oven's air.
Probe = Literal["part", "surface", "mould", "platen", "air"]
_Asked = Literal[
    "date_order", "unit", "channel", "zone", "start", "elapsed_unit", "clock",
    "fahrenheit", "celsius", "kelvin", "probe", "oven",
]  # fmt: skip


@dataclass(frozen=True)
class Fault:
    """Something wrong at a line of the file (1 = first): the code of its sentence and its figures."""

    code: str
    line: int
    figures: Mapping[str, LogFigure] = field(default_factory=dict)


@dataclass(frozen=True)
class NotALog:
    """No log can be read from this file, and why; the file itself is kept."""

    code: str
    figures: Mapping[str, LogFigure] = field(default_factory=dict)


@dataclass(frozen=True)
class Unclear:
    """What nobody can know from the file alone; the answer goes into the parameter of that name.

    `clock` (the logger does not follow the site's clock changes) is answered by a fixed zone such as +01:00,
    `fahrenheit`, `celsius` and `kelvin` (did you mean ...?) by `unit_sure`.
    """

    question: _Asked
    choices: tuple[str, ...]
    figures: Mapping[str, LogFigure] = field(default_factory=dict)

    @property
    def code(self) -> str:
        """The code of the question's sentence."""
        return f"log.ask_{self.question}"


@dataclass(frozen=True)
class Answers:
    """What was told about a file beside its bytes; kept with it, the file reads the same way again.

    `unit` counts where the file names none; `unit_sure` goes before the file: somebody was asked and knows better.
    `probe` is where the probe was, `oven` whether a log that names another oven is this load's all the same.
    """

    date_order: DateOrder | None = None
    unit: Unit | None = None
    channel: str | None = None
    zone: str | None = None
    start: datetime | None = None
    elapsed_unit: Literal["s", "min", "h"] | None = None
    unit_sure: Unit | None = None
    probe: Probe | None = None
    oven: Literal["same", "other"] | None = None

    def __post_init__(self) -> None:
        if self.start is not None and self.start.utcoffset() is None:
            raise ValueError("a start without a zone is no instant")


@dataclass(frozen=True)
class Said:
    """How the file was understood."""

    delimiter: str
    decimal_sign: str
    dates: Literal["iso", "day", "month", "year", "words", "clock", "elapsed", "epoch", "serial"]
    unit: Unit
    channel: str
    channel_number: int
    channels: tuple[str, ...]
    interval_s: float
    zone: str
    newest_first: bool = False
    faults: int = 0


@dataclass(frozen=True, eq=False)
class Log:
    """Readings of one channel, oldest first: UTC seconds since 1970 and degrees C; a straight line between."""

    times: Floats
    celsius: Floats
    said: Said
    faults: tuple[Fault, ...] = ()
    answers: Answers = Answers()

    @property
    def started_at(self) -> datetime:
        """The first reading, in UTC."""
        return datetime.fromtimestamp(float(self.times[0]), UTC)

    @property
    def ended_at(self) -> datetime:
        """The last reading, in UTC."""
        return datetime.fromtimestamp(float(self.times[-1]), UTC)

    def figures(self) -> dict[str, LogFigure]:
        """What was understood, for the sentence `log.said`; times in UTC, the page shows the site's."""
        return {
            "dates": self.said.dates,
            "temperature_unit": self.said.unit,
            "channel": self.said.channel,
            "channel_number": self.said.channel_number,
            "interval_s": f"{self.said.interval_s:g}",
            "readings": int(self.times.size),
            "from": self.started_at.isoformat(),
            "to": self.ended_at.isoformat(),
            "lowest_c": f"{float(self.celsius.min()):.1f}",
            "highest_c": f"{float(self.celsius.max()):.1f}",
            "faults": self.said.faults,
        }
