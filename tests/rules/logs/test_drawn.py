"""Twenty drawn logs of each way in which loggers write: each says what the plain log it was drawn from says.

The drawing is seeded, so that a failure can be seen again. What is compared is what a check makes of it: the verdict,
the minutes, and which lines were skipped.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import pytest

from tests.rules.checks.evidence import parsed
from tests.rules.logs.files import file_of, log_of
from traveller.rules.checks import cure, soak
from traveller.rules.checks.base import CheckVerdict, Evidence, LoadEvidence
from traveller.rules.logs import Answers, Log

BERLIN: Final = ZoneInfo("Europe/Berlin")
AT_HOME: Final = Answers(zone="Europe/Berlin")
BAKE = parsed(soak.KIND.parse({"least": "30", "total": "30", "temperature": "150 C"}))
CURE = parsed(cure.KIND.parse({"least": "12", "reference": "160 C", "doubling": "10"}))
TURNS = range(20)
# The clocks of Berlin go back at 01:00 UTC: a night with an hour that comes twice.
AUTUMN: Final = datetime(2026, 10, 25, 0, 0, tzinfo=UTC)
ODD: Final = ("n.a.", "---.-", "Err.", "9999.9", "", "OL", "#N/A", "-")


@dataclass(frozen=True)
class Drawn:
    """Readings of a load: when in UTC, how hot in tenths of a degree C."""

    moments: tuple[datetime, ...]
    celsius: tuple[float, ...]

    def file(
        self,
        stamp: Callable[[datetime], str] = lambda at: f"{at.astimezone(BERLIN):%d.%m.%Y %H:%M:%S}",
        value: Callable[[float], str] = lambda celsius: f"{celsius:.1f}",
        *,
        sign: str = ",",
        header: Sequence[str] = ("Time", "Temp °C"),
    ) -> list[str]:
        """The file's lines, oldest first."""
        rows = zip(self.moments, self.celsius, strict=True)
        return [sign.join(header), *(f"{stamp(at)}{sign}{value(celsius)}" for at, celsius in rows)]


def drawn(turn: int, *, every_s: int = 60, start: datetime = datetime(2026, 3, 4, 9, 0, tzinfo=UTC)) -> Drawn:
    """A load that warms up, stays near 160 C for a drawn time, and cools: some are long enough, some are not."""
    draw = random.Random(20261130 + turn)
    begins = start + timedelta(seconds=draw.randrange(0, 1800, 5))
    rise, hold = draw.randint(5, 12), draw.randint(24, 44)
    shape = [25.0 + 135 * n / rise for n in range(rise)]
    shape += [160 + draw.choice((-1.5, -0.5, 0.0, 0.5, 1.5)) for _ in range(hold)]
    shape += [160 - 10.0 * n for n in range(1, 6)]
    apart = timedelta(seconds=every_s)
    return Drawn(tuple(begins + n * apart for n in range(len(shape))), tuple(round(celsius, 1) for celsius in shape))


def commas(comma: bool) -> Callable[[float], str]:
    """How degrees are written: with a decimal comma or a point."""
    return lambda celsius: f"{celsius:.1f}".replace(".", "," if comma else ".")


def judged(log: Log, plain: Drawn) -> list[CheckVerdict]:
    """What a soak and a cure make of it, from the plain log's first reading to its last."""
    load = LoadEvidence(1, 10, plain.moments[0], plain.moments[-1], log=replace(log, answers=Answers(probe="surface")))
    evidence = Evidence(loads=(load,))
    return [soak.judge(BAKE, evidence).step, cure.judge(CURE, evidence).step]


def same(log: Log, plain: Drawn) -> None:
    """The same verdicts with the same figures as the plain log has."""
    wanted = judged(log_of(file_of(plain.file()), AT_HOME), plain)
    found = judged(log, plain)
    assert [(one.outcome, one.code) for one in found] == [(one.outcome, one.code) for one in wanted]
    assert [one.figures for one in found] == [one.figures for one in wanted]


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("sign", [",", ";"])
def test_one_odd_cell_among_many_is_named_and_skipped(turn: int, sign: str) -> None:
    plain, draw = drawn(turn), random.Random(turn)
    rows = plain.file(
        sign=sign, header=("Time", "Temp °C"), value=lambda c: f"{c:.1f}".replace(".", "," if sign == ";" else ".")
    )
    place, odd = draw.randrange(1, len(rows) - 1), ODD[turn % len(ODD)]
    rows[place] = f"{rows[place].split(sign)[0]}{sign}{odd}"
    log = log_of(file_of(rows), AT_HOME)
    kept = [n for n in range(len(plain.moments)) if n != place - 1]
    left = Drawn(tuple(plain.moments[n] for n in kept), tuple(plain.celsius[n] for n in kept))
    assert [(fault.code, fault.line) for fault in log.faults if fault.code != "log.gap"] == [
        ("log.impossible" if odd == "9999.9" else "log.not_a_number", place + 1)
    ]
    same(log, left)


@pytest.mark.parametrize("turn", TURNS)
def test_newest_first_over_the_hour_that_comes_twice(turn: int) -> None:
    plain = drawn(turn, start=AUTUMN + timedelta(minutes=20))
    rows = plain.file()
    for body in (rows[1:], rows[:0:-1]):
        log = log_of(file_of([rows[0], *body]), AT_HOME)
        assert log.times.tolist() == [at.timestamp() for at in plain.moments] and not log.faults
        same(log, plain)


@pytest.mark.parametrize("turn", TURNS)
def test_a_clock_that_was_set_back_is_named_in_either_order(turn: int) -> None:
    """An hour back in the middle, on a day without a change of the clocks: nothing of it is guessed."""
    plain = drawn(turn)
    at = len(plain.moments) // 2
    moved = replace(plain, moments=(*plain.moments[:at], *(one - timedelta(hours=1) for one in plain.moments[at:])))
    rows = moved.file()
    for body in (rows[1:], rows[:0:-1]):
        assert "log.out_of_order" in {fault.code for fault in log_of(file_of([rows[0], *body]), AT_HOME).faults}


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("form", ["seconds", "milliseconds", "with a point"])
def test_seconds_since_1970(turn: int, form: str) -> None:
    plain = drawn(turn)
    stamps: dict[str, Callable[[datetime], str]] = {
        "seconds": lambda at: f"{at.timestamp():.0f}",
        "milliseconds": lambda at: f"{at.timestamp() * 1000:.0f}",
        "with a point": lambda at: f"{at.timestamp():.3f}",
    }
    rows = plain.file(stamps[form], header=("Epoch", "Temp °C"))
    # They are UTC: no zone is asked for.
    log = log_of(file_of(rows if turn % 2 else [rows[0], *rows[:0:-1]]), Answers())
    assert log.said.dates == "epoch"
    same(log, plain)


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("comma", [False, True])
def test_the_days_of_a_spreadsheet(turn: int, comma: bool) -> None:
    plain = drawn(turn)

    def stamp(at: datetime) -> str:
        local = at.astimezone(BERLIN).replace(tzinfo=UTC)
        return f"{25569 + local.timestamp() / 86400:.10f}".replace(".", "," if comma else ".")

    rows = plain.file(stamp, commas(comma), sign=";")
    log = log_of(file_of(rows), AT_HOME)
    assert log.said.dates == "serial" and log.times.tolist() == [at.timestamp() for at in plain.moments]
    same(log, plain)


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("named", ["Temp (K)", "Temp K", "Oven, kelvin", "T/K", "Kanal 1 [K]", "°K"])
def test_kelvin(turn: int, named: str) -> None:
    plain = drawn(turn)
    log = log_of(file_of(plain.file(value=lambda c: f"{c + 273.15:.2f}", sign=";", header=("Time", named))), AT_HOME)
    assert log.said.unit == "K"
    same(log, plain)


def test_a_type_of_thermocouple_is_no_unit() -> None:
    rows = drawn(0).file(header=("Time", "TC type K (°C)"))
    assert log_of(file_of(rows), AT_HOME).said.unit == "C"
    rows = drawn(0).file(value=lambda c: f"{c + 273.15:.2f} K", header=("Time", "Oven"))
    assert log_of(file_of(rows), AT_HOME).said.unit == "K"


@pytest.mark.parametrize("turn", TURNS)
def test_fahrenheit(turn: int) -> None:
    plain = drawn(turn)
    # A tenth of a degree C is 0.18 degrees F: two places carry it.
    log = log_of(file_of(plain.file(value=lambda c: f"{c * 9 / 5 + 32:.2f}", header=("Time", "Temp °F"))), AT_HOME)
    same(log, plain)


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("look", ["|", " | ", "| a | b |"])
def test_cells_parted_by_upright_strokes(turn: int, look: str) -> None:
    plain = drawn(turn)
    comma = turn % 2 == 1
    rows = plain.file(sign="|" if look == "|" else " | ", value=commas(comma))
    if look == "| a | b |":
        rows = [f"| {row} |" for row in rows]
        rows.insert(1, "|------|------|")
    same(log_of(file_of(rows), AT_HOME), plain)


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize(
    ("sign", "header"), [(" ", "Date Time Temp_C"), ("     ", "Time     Temp °C"), ("   \t", "Time")]
)
def test_cells_parted_by_blanks(turn: int, sign: str, header: str) -> None:
    plain = drawn(turn)
    comma = turn % 2 == 1
    rows = plain.file(sign=sign, value=lambda c: f"{commas(comma)(c)} ")
    log = log_of(file_of([header, *rows[1:]]), replace(AT_HOME, unit="C"))
    same(log, plain)


@pytest.mark.parametrize("turn", TURNS)
def test_a_byte_order_mark_semicolons_and_decimal_commas(turn: int) -> None:
    plain = drawn(turn)
    rows = plain.file(value=commas(True), sign=";", header=("Zeit", "Temp °C"))
    for encoding in ("utf-8-sig", "utf-16"):
        same(log_of(file_of(rows, encoding), AT_HOME), plain)


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("every_s", [300, 240, 180])
def test_long_intervals(turn: int, every_s: int) -> None:
    """The same shape logged every few minutes: as many minutes as that many readings span."""
    slow, quick = drawn(turn, every_s=every_s), drawn(turn)
    log = log_of(file_of(slow.file()), AT_HOME)
    assert log.said.interval_s == every_s and not log.faults
    found = judged(log, slow)[0].figures
    wanted = judged(log_of(file_of(quick.file()), AT_HOME), quick)[0].figures
    assert float(str(found["longest"])) == pytest.approx(float(str(wanted["longest"])) * every_s / 60, abs=0.06)


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("place", [1, -1])
def test_an_odd_cell_at_either_end_is_named_too(odd: str, place: int) -> None:
    rows = drawn(3).file()
    rows[place] = f"{rows[place].split(',')[0]},{odd}"
    log = log_of(file_of(rows), AT_HOME)
    line = 2 if place == 1 else len(rows)
    assert [fault.line for fault in log.faults if fault.code in ("log.not_a_number", "log.impossible")] == [line]
    assert log.celsius.size == len(rows) - 2
