"""Programs that tests run to their end: one that does not come to it is ended with all that it started, and its test
fails in words instead of waiting for a pipe that somebody of its family keeps open."""

from __future__ import annotations

import os
import signal
import subprocess
import tempfile
from collections.abc import Mapping, Sequence
from typing import IO


def ran(command: Sequence[str], *, env: Mapping[str, str], within_s: float) -> subprocess.CompletedProcess[str]:
    """What the program said and how it ended. AssertionError when it ran longer than that."""
    with (
        tempfile.TemporaryFile("w+", encoding="utf-8", errors="replace") as out,
        tempfile.TemporaryFile("w+", encoding="utf-8", errors="replace") as faults,
    ):
        program = subprocess.Popen(
            list(command), env=dict(env), stdin=subprocess.DEVNULL, stdout=out, stderr=faults, start_new_session=True
        )
        try:
            program.wait(within_s)
        except subprocess.TimeoutExpired:
            os.killpg(program.pid, signal.SIGKILL)
            program.wait()
            raise AssertionError(f"not done after {within_s:.0f} s: {_said(out)}{_said(faults)}") from None
        return subprocess.CompletedProcess(list(command), program.returncode, _said(out), _said(faults))


def _said(file: IO[str]) -> str:
    file.seek(0)
    return file.read()
