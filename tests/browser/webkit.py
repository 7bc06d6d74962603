"""A real WebKit beside Chromium: Debian's own, driven over WebDriver on a screen that nobody sees."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from glob import glob
from pathlib import Path
from typing import TYPE_CHECKING, Any

from traveller.management.ports import unused

if TYPE_CHECKING:
    from selenium.webdriver.webkitgtk.webdriver import WebDriver

WIDTH, HEIGHT = 360, 740


def missing() -> str:
    """What this machine lacks to drive a WebKit; "" where nothing is missing."""
    if shutil.which("WebKitWebDriver") is None or not _browser():
        return "WebKit is missing (on Debian: apt install webkit2gtk-driver)"
    return "" if shutil.which("Xvfb") else "a screen for WebKit is missing (on Debian: apt install xvfb)"


def _browser() -> str:
    found = sorted(glob("/usr/lib/*/webkit2gtk-4.*/MiniBrowser") + glob("/usr/libexec/webkit2gtk-4.*/MiniBrowser"))
    return found[-1] if found else ""


@contextmanager
def screen() -> Iterator[str]:
    """A screen in memory; its name for DISPLAY. The server itself chooses one that is free."""
    reading, writing = os.pipe()
    command = ["Xvfb", "-displayfd", str(writing), "-screen", "0", "800x900x24", "-nolisten", "tcp"]
    server = subprocess.Popen(command, pass_fds=(writing,), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    os.close(writing)
    try:
        with os.fdopen(reading) as reported:
            yield f":{reported.readline().strip()}"
    finally:
        server.terminate()
        server.wait(timeout=10)


@contextmanager
def webkit() -> Iterator[WebDriver]:
    """A browser as wide as a phone, with nothing in it of any browser before."""
    from selenium.webdriver import WebKitGTK
    from selenium.webdriver.webkitgtk.options import Options
    from selenium.webdriver.webkitgtk.service import Service

    with screen() as display, tempfile.TemporaryDirectory() as home:
        own = {name: str(Path(home, name)) for name in ("XDG_CACHE_HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME")}
        env = {**os.environ, **own, "DISPLAY": display, "GDK_BACKEND": "x11", "LIBGL_ALWAYS_SOFTWARE": "1"}
        options = Options()
        options.binary_location = _browser()
        options.add_argument("--automation")
        service = Service(shutil.which("WebKitWebDriver") or "", port=unused(), env=env)
        with warnings.catch_warnings():
            # The library says of its own way to reach a driver that it is outdated.
            warnings.simplefilter("ignore", DeprecationWarning)
            driver = WebKitGTK(options=options, service=service)
        try:
            driver.set_window_size(WIDTH, HEIGHT)
            driver.set_script_timeout(30)
            driver.set_page_load_timeout(60)
            yield driver
        finally:
            driver.quit()


def hand_over(driver: WebDriver, address: str, cookies: Mapping[str, str]) -> None:
    """Give the browser what the door left on a phone; a page of that address has to stand open for it."""
    driver.get(f"{address}/manifest.webmanifest")
    for name, value in cookies.items():
        driver.add_cookie({"name": name, "value": value, "path": "/"})


def ask(driver: WebDriver, script: str, *reported: Any) -> Any:
    """What an expression of the page comes to, a promise awaited; `reported` are its arguments a, b, c."""
    names = ", ".join("abc"[: len(reported)])
    body = f"const done = arguments[arguments.length - 1]; (async ({names}) => ({script}))(...arguments)"
    return driver.execute_async_script(
        f"{body}.then((found) => done([found]), (why) => done([null, String(why)]));", *reported
    )
