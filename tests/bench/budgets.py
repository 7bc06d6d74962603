"""What a phone must load before its first task, and how long a newcomer waits for the demo."""

from __future__ import annotations

import os
import re
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from urllib.parse import urljoin

from tests.bench.figures import Figure, Size
from tests.bench.server import ROOT, Phone, cookies_of, serving
from tests.globe import TESTING, make_globe

WIRE_KB_MAX, DEMO_S_MAX = 100, 60
# A style sheet, script, picture or icon that a page names, and what those name in their turn.
_NAMED = re.compile(rb"""<(?:link|script|img)\b[^>]*?\b(?:href|src)="([^"]+)"|\bfrom\s*"([^"]+)"|url\(["']?([^"')]+)""")


def measure(size: Size) -> list[Figure]:
    globe = make_globe(checks={40: (TESTING,)}, start=500)
    globe.report(20, 400, shots=200)
    globe.report(30, 300)
    globe.moved(200)
    step = globe.step(40).pk
    cookies = cookies_of(globe.bench)
    with serving() as port:
        pages = {path: _weight(Phone(port, cookies), path) for path in ("/here/", f"/here/step/{step}/count")}
    heaviest = max(kb for kb, _ in pages.values())
    notes = "; ".join(f"{path} {kb:.1f} kB in {files} answers" for path, (kb, files) in pages.items())
    figures = [Figure("operator's page, first load over the wire", heaviest, "at most", WIRE_KB_MAX, "kB", notes)]
    return figures if size == "tiny" else [*figures, _demo()]


def _weight(phone: Phone, path: str) -> tuple[float, int]:
    """Kilobytes of a page and all that it loads, headers included, as a phone with an empty cache asks for them."""
    seen: set[str] = set()
    waiting = [path]
    weight = 0
    while waiting:
        path = waiting.pop()
        if path in seen:
            continue
        seen.add(path)
        _, plain_headers, plain = phone.get(path)
        status, headers, body = phone.get(path, **{"Accept-Encoding": "br, gzip"})
        assert status == 200, f"{path}: {status}"
        weight += len(body) + sum(len(name) + len(value) + 4 for name, value in headers.items())
        if plain_headers.get("content-type", "").split(";")[0] in ("text/html", "text/css", "text/javascript"):
            waiting += [urljoin(path, name) for name in _named(plain)]
    return weight / 1000, len(seen)


def _named(text: bytes) -> Iterator[str]:
    for found in _NAMED.finditer(text):
        name = next(group for group in found.groups() if group).decode()
        if not name.startswith(("data:", "http:", "https:", "#")):
            yield name


def _demo() -> Figure:
    """The demo to its end without serving, in a folder of its own."""
    with tempfile.TemporaryDirectory(prefix="bench-") as folder:
        environment = {**os.environ, "TRAVELLER_DATA": folder, "DATABASE_URL": "", "TRAVELLER_ADDRESS": ""}
        before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
        command = [sys.executable, str(ROOT / "manage.py"), "demo", "--no-serve"]
        done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
        took, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    if done.returncode != 0:
        raise RuntimeError(f"the demo failed: {(done.stderr.strip() or 'no words').splitlines()[-1]}")
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Figure("the demo without serving", took, "at most", DEMO_S_MAX, "s", f"{cpu:.0f} s of CPU")
