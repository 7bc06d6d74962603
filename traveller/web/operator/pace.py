"""How much one pass may send in a while: far more than a shift of honest work, far less than a flood.

Counted by each process of the server for itself and forgotten when it ends: what is to be stopped is a phone, or
somebody with its pass, that sends without end.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field

# A shift of 500 in a minute passes, and so does the same shift sent again twice because its answers were lost.
_AT_ONCE = 2_000
A_SECOND = 20.0
KNOWN_MAX = 5_000


@dataclass
class Pace:
    """A bucket for each pass, filled again by the second."""

    clock: Callable[[], float] = time.monotonic
    _left: dict[str, tuple[float, float]] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def wait_seconds(self, name: str, wanted: int) -> int:
        """Take `wanted` out of the bucket and answer 0, or leave it and say how long to wait for so many."""
        with self._lock:
            now = self.clock()
            left, since = self._left.pop(name, (float(_AT_ONCE), now))
            left = min(float(_AT_ONCE), left + (now - since) * A_SECOND)
            wait = 0
            if wanted > left:
                wait = max(1, round((wanted - left) / A_SECOND))
            else:
                left -= wanted
            self._left[name] = (left, now)
            while len(self._left) > KNOWN_MAX:
                # The one that was heard of longest ago.
                self._left.pop(next(iter(self._left)))
            return wait

    def forget(self) -> None:
        """For tests: every bucket is full again."""
        with self._lock:
            self._left.clear()


PACE = Pace()
