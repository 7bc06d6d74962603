"""How long the tests take, told only; it runs when it is named: `manage.py bench suite`."""

from __future__ import annotations

import os
import subprocess
import sys
import time

from tests.bench.figures import Figure, Size
from tests.bench.server import ROOT


def measure(size: Size) -> list[Figure]:
    what = ["tests/rules/test_codes.py"] if size == "tiny" else []
    command = [sys.executable, str(ROOT / "manage.py"), "test", *what]
    own = {key: value for key, value in os.environ.items() if not key.startswith(("TRAVELLER_", "DATABASE_URL"))}
    start = time.perf_counter()
    done = subprocess.run(command, env=own, capture_output=True, text=True, check=False)
    took = (time.perf_counter() - start) / 60
    last = (done.stdout.strip() or "no words").splitlines()[-1]
    return [Figure("the tests, all of them", took, unit="min", notes=last)]
