"""Reading a log of more than a day and judging a soak and a cure from it, against the csv module reading it alone."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from datetime import timedelta
from statistics import median

from tests.bench.figures import Figure, Size, in_turns
from tests.rules.checks.evidence import load, parsed
from tests.rules.logs.files import START, UTC_ANSWER, file_of, log_of
from traveller.rules.checks import cure, soak
from traveller.rules.checks.base import Evidence

# A reading a second.
READINGS: dict[Size, int] = {"tiny": 2_000, "quick": 100_000, "full": 100_000}
ROUNDS: dict[Size, int] = {"tiny": 1, "quick": 9, "full": 31}
SOAK = parsed(soak.KIND.parse({"least": "30", "temperature": "150-200 C"}))
CURE = parsed(cure.KIND.parse({"least": "30", "reference": "150 C", "energy": "90", "probe": "mould"}))
# The form of a moment, and how many times the csv module's own time it may take.
FORMS = {"%Y-%m-%dT%H:%M:%S": 8.0, "%d/%m/%Y %H:%M:%S": 12.0}


def measure(size: Size) -> list[Figure]:
    return [_figure(form, most, size) for form, most in FORMS.items()]


def _figure(form: str, most: float, size: Size) -> Figure:
    readings = READINGS[size]
    content = long_log(form, readings)
    ours: list[Callable[[], object]] = [lambda: judged(content, readings - 1)]
    alone: list[Callable[[], object]] = [lambda: read_alone(content)]
    ours[0](), alone[0]()
    rounds = in_turns(ROUNDS[size], lambda turn: ours, lambda turn: alone)
    both = [median(spent.cpu_ms for spent in side) for side in (rounds.ours, rounds.floor)]
    notes = f"{both[0]:.0f} ms of CPU, the csv module {both[1]:.0f}"
    times = 1 / rounds.rate_ratio(cpu=True)
    return Figure(f"a log of {readings:,}, {form}, times csv", times, "at most", most, "x", notes)


def long_log(form: str, readings: int) -> bytes:
    """A reading a second."""
    moments = (START + timedelta(seconds=second) for second in range(readings))
    rows = (f"{moment.strftime(form)},{150 + second % 97 / 10:.1f}" for second, moment in enumerate(moments))
    return file_of(["Time,Temp (°C)", *rows])


def read_alone(content: bytes) -> None:
    """Read with the csv module, and nothing else."""
    for _ in csv.reader(io.TextIOWrapper(io.BytesIO(content), encoding="utf-8", newline="")):
        pass


def judged(content: bytes, last: int) -> None:
    """Read the bytes and judge soak and cure."""
    log = log_of(content, UTC_ANSWER)
    evidence = Evidence(loads=(load(last, start=START, log=log),))
    for check, of in ((soak, SOAK), (cure, CURE)):
        if (outcome := check.judge(of, evidence).step.outcome) != "passed":
            raise ValueError(f"the log that is measured does not pass: {outcome}")
