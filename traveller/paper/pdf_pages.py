"""The first pages of a PDF that somebody sent, as pictures: drawn by a program of its own, with an end to its time."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import threading
from dataclasses import dataclass
from pathlib import Path

DRAWER = Path(__file__).with_name("pdf_drawer.py")
# A drawer's seconds of the processor, and how long they may take on a busy machine.
CPU_S, PATIENCE_S = 10, 30
FAULTS = {
    "locked": "Its pages cannot be shown: it is locked by a password.",
    "damaged": "Its pages cannot be shown: it is damaged, or no complete PDF.",
    "endless": "Its pages cannot be shown: drawing them takes too long.",
}
OUT_OF_TIME = {getattr(signal, name) for name in ("SIGXCPU", "SIGKILL") if hasattr(signal, name)}
# One at a time: a burst of looks must not fill the machine with drawers.
_ONE = threading.Lock()


@dataclass(frozen=True, slots=True)
class PdfPages:
    """JPEGs of the first pages, how many pages there are, and why there is none."""

    pictures: tuple[bytes, ...] = ()
    total: int = 0
    fault: str = ""

    @property
    def note(self) -> str:
        """What is not shown, in words; empty where all is."""
        more = self.total - len(self.pictures)
        if self.fault:
            return f"{FAULTS[self.fault]} The original is kept as it was sent."
        return f"{more:,} more page{'' if more == 1 else 's'} in the original." if more else ""


def draw_pages(content: bytes, *, cpu_s: int = CPU_S, patience_s: float = PATIENCE_S) -> PdfPages:
    """The pages of any bytes at all; raises TimeoutError where the machine was too busy or too full to tell."""
    with _ONE:
        try:
            # Isolated: neither this folder nor the surroundings may lend it modules.
            call = [sys.executable, "-I", str(DRAWER), str(cpu_s)]
            done = subprocess.run(call, input=content, capture_output=True, timeout=patience_s, check=False)
        except (subprocess.TimeoutExpired, OSError) as late:
            raise TimeoutError from late
    if -done.returncode in OUT_OF_TIME:
        return PdfPages(fault="endless")
    first, _, rest = done.stdout.partition(b"\n")
    if done.returncode or not first:
        return PdfPages(fault="damaged")
    head = json.loads(first)
    if "fault" in head:
        return PdfPages(fault=head["fault"])
    pictures, at = [], 0
    for size in head["sizes"]:
        pictures.append(rest[at : at + size])
        at += size
    return PdfPages(tuple(pictures), head["total"])
