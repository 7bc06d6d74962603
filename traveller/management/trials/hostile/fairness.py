"""A hundred hostile logs of one shop wait, and another shop sends an honest one: when is it read?"""

from __future__ import annotations

import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from random import Random

from traveller.management.trials.hostile.caller import Caller
from traveller.management.trials.hostile.files import Hostile, made
from traveller.management.trials.hostile.files.logs import rows

# The element of a page that says so carries this until the file has been read.
BEING_READ = b"data-being-read"
BYTES_EACH = 3_000_000
PATIENCE_S = 300.0
LOOK_S = 0.25


@dataclass
class Fairness:
    """Seconds until the honest log was read (infinite: not in time), and how many hostile ones still waited then."""

    sent: list[str] = field(default_factory=list)
    refused: int = 0
    waiting: int = 0
    read_s: float = float("inf")


def hostile_logs(kinds: Sequence[Hostile], seed: int, count: int, size: int) -> list[bytes]:
    """So many logs, each of its own bytes, none larger than `size`."""
    logs = [kind for kind in kinds if kind.reader == "log"]
    # How large the whole would be is told from a hundredth of it.
    whole = {kind.name: 100 * len(made(kind, seed, 0.01)) for kind in logs}
    drawn = {kind.name: made(kind, seed, min(1.0, size / whole[kind.name]))[:size] for kind in logs}
    # A last line of its own makes another file of it: the same one would be read only once.
    return [drawn[logs[n % len(logs)].name] + b"\n2026-11-20T10:00:00Z,%d\n" % n for n in range(count)]


def tried(
    phones: Sequence[Caller], step: int, honest: Caller, honest_step: int, logs: Sequence[bytes], rng: Random
) -> Fairness:
    """The phones send their logs at once, each its share; then the honest one is sent, and its page looked at."""
    found = Fairness()
    lock = threading.Lock()

    def send(phone: Caller, own: Sequence[bytes]) -> None:
        for content in own:
            answer = phone.post(f"/here/step/{step}/proof", {"kind": "log"}, [("file", "hostile.csv", content)])
            with lock:
                if answer.status == 302:
                    found.sent.append(answer.place)
                else:
                    found.refused += 1

    threads = [
        threading.Thread(target=send, args=(phone, logs[number :: len(phones)]), daemon=True)
        for number, phone in enumerate(phones)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    found.read_s = _read_after(honest, honest_step, rows(rng, 600))
    found.waiting = sum(BEING_READ in phones[0].get(place).body for place in found.sent)
    return found


def _read_after(honest: Caller, step: int, content: bytes) -> float:
    began = time.monotonic()
    answer = honest.post(f"/here/step/{step}/proof", {"kind": "log"}, [("file", "honest.csv", content)])
    if answer.status != 302:
        return float("inf")
    while time.monotonic() - began < PATIENCE_S:
        page = honest.get(answer.place)
        if page.status == 200 and BEING_READ not in page.body:
            return time.monotonic() - began
        time.sleep(LOOK_S)
    return float("inf")
