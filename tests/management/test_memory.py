"""After large uploads a process is as small as before."""

from __future__ import annotations

import subprocess
import sys

from tests.test_settings import ROOT

# Four threads as in a server, each with blocks as an upload brings them, kept and let go in an order that leaves holes.
UPLOADS = """
import sys, threading
from traveller.management.memory import give_memory_back
if sys.argv[1] == "yes":
    assert give_memory_back()

def rss():
    with open("/proc/self/smaps_rollup") as file:
        return next(int(line.split()[1]) for line in file if line.startswith("Rss:"))

def upload(kept):
    for size in range(20):
        blocks = [bytes([1]) * (size * 1_000_000 + n * 100_000) for n in range(4)]
        kept.append(b"x" * 2_000)
        del blocks

before, kept = rss(), []
threads = [threading.Thread(target=upload, args=(kept,)) for _ in range(4)]
for thread in threads:
    thread.start()
for thread in threads:
    thread.join()
print((rss() - before) // 1024)
"""


def grown_mb(given_back: str) -> int:
    done = subprocess.run([sys.executable, "-c", UPLOADS, given_back], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return int(done.stdout)


def test_what_large_uploads_took_is_given_back() -> None:
    assert grown_mb("yes") < 15


def test_without_being_asked_the_c_library_keeps_it() -> None:
    """Else the module is good for nothing, and may go."""
    assert grown_mb("no") > 15
