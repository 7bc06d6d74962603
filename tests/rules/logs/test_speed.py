"""A long log is read and judged in a few times what the csv module takes to read the file alone."""

from __future__ import annotations

import csv
import gc
import time
from datetime import timedelta
from pathlib import Path

import pytest

from tests.rules.checks.evidence import load, parsed
from tests.rules.logs.files import START, UTC_ANSWER, file_of, log_of
from traveller.rules.checks import cure, soak
from traveller.rules.checks.base import Evidence

# Measuring which lines run costs our code more than the csv module's.
pytestmark = pytest.mark.no_cover
READINGS = 100_000
SOAK = parsed(soak.parse({"least": "60", "temperature": "150-200 C"}))
CURE = parsed(cure.parse({"least": "60", "reference": "150 C", "energy": "90"}))


def long_log(form: str) -> bytes:
    """A reading a second for more than a day."""
    moments = (START + timedelta(seconds=second) for second in range(READINGS))
    rows = (f"{moment.strftime(form)},{150 + second % 97 / 10:.1f}" for second, moment in enumerate(moments))
    return file_of(["Time,Temp (°C)", *rows])


def csv_seconds(path: Path) -> float:
    """Processor time of reading the file with the csv module, and nothing else."""
    start = time.process_time()
    with path.open(newline="", encoding="utf-8") as file:
        for _ in csv.reader(file):
            pass
    return time.process_time() - start


def judged_seconds(path: Path) -> float:
    """Processor time of reading the bytes and judging soak and cure."""
    start = time.process_time()
    log = log_of(path.read_bytes(), UTC_ANSWER)
    evidence = Evidence(loads=(load(READINGS - 1, start=START, log=log),))
    assert soak.judge(SOAK, evidence).step.outcome == "passed"
    assert cure.judge(CURE, evidence).step.outcome == "passed"
    return time.process_time() - start


@pytest.mark.long
@pytest.mark.parametrize(("form", "most"), [("%Y-%m-%dT%H:%M:%S", 8), ("%d/%m/%Y %H:%M:%S", 12)])
def test_a_long_log_is_read_and_judged_in_a_few_times_the_csv_module(tmp_path: Path, form: str, most: float) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(long_log(form))
    judged_seconds(path)
    # What other tests left in this process is none of the reader's: the sweeping of memory passes it over.
    gc.collect()
    gc.freeze()
    try:
        # Each pair one after the other, so that a busy machine slows both alike; the pair least disturbed counts.
        ratios = [judged_seconds(path) / csv_seconds(path) for _ in range(9)]
    finally:
        gc.unfreeze()
    assert min(ratios) <= most, ratios
    print(f"{form}: {min(ratios):.1f} times")
