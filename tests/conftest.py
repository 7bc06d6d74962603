"""What every test shares: what may be missing on this machine, the browser, the emptying of the journal.

Chromium, WebKit and PostgreSQL are the only things that may be missing. This file is the one place that says so:
their tests are reported by name as not run, and with CI=true each of them fails instead.
"""

from __future__ import annotations

import io
import json
import os
import shutil
import sqlite3
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import hypothesis
import pytest
from django.conf import settings
from django.db import connections
from django.test import TransactionTestCase
from django.utils import translation

from tests.browser import webkit
from traveller.decode import ask, child, wire

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page
    from pytest_django.plugin import DjangoDbBlocker

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
CHROMIUM_FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    # Each window's address bar is a page of its own, which took a fifth of the processor: not drawn here. The last
    # such list counts, so what Playwright turns off for steady tests stands in it once more.
    "--disable-features=WebUIOmniboxPopup,WebUIOmniboxAimPopup,WebUIOmniboxFullPopup,AimEnabled,"
    "AvoidUnnecessaryBeforeUnloadCheckSync,DestroyProfileOnBrowserClose,HttpsUpgrades,"
    "HttpsFirstBalancedModeAutoEnable,LensOverlay,MediaRouter,PaintHolding,ThirdPartyStoragePartitioning,"
    "AvoidCorsURLLoaderRestartOnRedirect,OptimizationHints,NetworkTimeServiceQuerying,PreconnectToSearch",
)
NO_CHROMIUM = "Chromium is missing (on Debian: apt install chromium)"
NO_POSTGRES = "PostgreSQL is missing (start one and set TEST_DATABASE_URL)"
DATABASE_FIXTURES = {"db", "transactional_db", "live_server"}

# Two busy cores make a single slow example no fault; the same examples every time make a failure repeatable.
hypothesis.settings.register_profile("suite", deadline=None, derandomize=True, print_blob=True)
hypothesis.settings.load_profile("suite")


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the switch of the second pass."""
    parser.addoption(
        "--only-database",
        action="store_true",
        help="run only the tests that touch the database, without the browser",
    )
    parser.addoption(
        "--only-both",
        action="store_true",
        help="run only what has to be shown on both databases: locks, triggers, raw SQL, JSON, races, verify",
    )


def pytest_configure(config: pytest.Config) -> None:
    """Declare the marks."""
    config.addinivalue_line("markers", "browser: drives a real Chromium")
    config.addinivalue_line("markers", "webkit: drives a real WebKit")
    config.addinivalue_line("markers", "postgres: says something about PostgreSQL alone")
    config.addinivalue_line("markers", "sqlite: says something about SQLite alone")
    config.addinivalue_line("markers", "both: has to be shown on both databases, at every run")
    config.addinivalue_line("markers", "child: needs a decoder in a child process, as strangers' bytes get it")
    config.addinivalue_line("markers", "long: tries at length what others try in short; only with --all")


def on_postgres() -> bool:
    """Is this pass the one on PostgreSQL?"""
    return os.environ.get("DATABASE_URL", "").startswith("postgres")


# Whole rooms that stand or fall with what the database does.
BOTH_ROOMS = frozenset(("journal", "ledger"))
# Measuring coverage doubles the time of what it watches.
UNMEASURED = frozenset(("bench", "browser", "laws"))


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave to the other pass what belongs there, and unmeasured what runs long over lines that others run too."""
    for item in items:
        if item.path.parent.name in UNMEASURED:
            item.add_marker(pytest.mark.no_cover)
    kept: list[pytest.Item] = []
    left: list[pytest.Item] = []
    for item in items:
        (left if belongs_to_other_pass(item, config) else kept).append(item)
    if left:
        config.hook.pytest_deselected(items=left)
        items[:] = kept


def belongs_to_other_pass(item: pytest.Item, config: pytest.Config) -> bool:
    """Does the pass on the other database run this test?"""
    if on_postgres():
        if item.get_closest_marker("sqlite"):
            return True
        if config.getoption("--only-both") and not needs_both(item):
            return True
        return bool(config.getoption("--only-database")) and not touches_database(item)
    # Without a PostgreSQL there will be no other pass: then the test stays and is reported as not run.
    return item.get_closest_marker("postgres") is not None and bool(os.environ.get("TEST_DATABASE_URL"))


def needs_both(item: pytest.Item) -> bool:
    """Has it to be shown on PostgreSQL at every run, and not only with all others?"""
    marked = item.get_closest_marker("both") or item.get_closest_marker("postgres")
    return bool(marked) or item.path.parent.name in BOTH_ROOMS


def touches_database(item: pytest.Item) -> bool:
    """Does it use the database without the browser? The browser pages run once, on SQLite."""
    if item.get_closest_marker("browser") or item.get_closest_marker("webkit"):
        return False
    if item.get_closest_marker("django_db"):
        return True
    case = getattr(item, "cls", None)
    if isinstance(case, type) and issubclass(case, TransactionTestCase):
        return True
    return bool(DATABASE_FIXTURES & set(getattr(item, "fixturenames", ())))


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Report a test whose program is missing: not run, or failed where nothing may be missing."""
    reason = None
    if item.get_closest_marker("browser") and CHROMIUM is None:
        reason = NO_CHROMIUM
    elif item.get_closest_marker("webkit") and webkit.missing():
        reason = webkit.missing()
    elif item.get_closest_marker("postgres") and not on_postgres():
        reason = NO_POSTGRES
    if reason is None:
        return
    if os.environ.get("CI") == "true":
        pytest.fail(reason, pytrace=False)
    pytest.skip(reason)


@pytest.fixture(autouse=True, scope="session")
def _places_of_its_own(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Who tests that all places for decoders are taken takes none from the tests that run beside it."""
    settings.DECODE_PLACE = tmp_path_factory.mktemp("decode")


# Rooms whose tests are about the child, or see a whole server.
WITH_CHILDREN = frozenset(("decode", "browser", "stories", "trials", "management"))


@pytest.fixture(autouse=True)
def _decoded_here(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Elsewhere the same decoders run without a process of their own, which takes longer than most of these tests."""
    if not (request.node.get_closest_marker("child") or WITH_CHILDREN & set(request.node.path.parts)):
        monkeypatch.setattr(ask, "_asked", decoded_here)


def decoded_here(pieces: Sequence[bytes], limit: object) -> io.BytesIO:
    """What the child would answer, were there no limits."""
    line, given = pieces[0], io.BytesIO(b"".join(pieces[1:]))
    head: dict[str, Any] = json.loads(line)["head"]
    kind = import_module(f"traveller.decode.kinds.{head['kind']}")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # which stops nothing in the child
        found = child.found_or_fault(lambda: kind.decode(head["asked"], wire.unpack(line, given.read)[1]))
    return io.BytesIO(wire.packed_message(*found))


@pytest.fixture(autouse=True)
def _nothing_remembered() -> Iterator[None]:
    """What was read of routings outlives the rolled-back rows it was read from: the next ones may have their ids."""
    from traveller.batches.files import decoded as read_files
    from traveller.products import frozen

    frozen.forget()
    read_files.forget_logs()
    # A page is in its reader's language, and leaves it behind where no server tells the end of a request.
    translation.deactivate()
    yield
    frozen.forget()
    read_files.forget_logs()


@pytest.fixture(autouse=True)
def _emptied_journal(request: pytest.FixtureRequest) -> Iterator[None]:
    """Lift the append-only triggers before a transactional test's database is flushed.

    The flush itself puts them back: it ends in the signal that installs them after every migrate.
    """
    mark = request.node.get_closest_marker("django_db")
    names = set(request.fixturenames)
    if not (names & {"transactional_db", "live_server"} or (mark and mark.kwargs.get("transaction"))):
        yield
        return
    request.getfixturevalue("transactional_db")  # so that this ends before the flush
    yield
    from tests.unguarded import lift

    for connection in connections.all():
        lift(connection)


@pytest.fixture(scope="session")
def migrated(
    django_db_setup: None, django_db_blocker: DjangoDbBlocker, tmp_path_factory: pytest.TempPathFactory
) -> Callable[[Path], None]:
    """Puts into a data folder what `migrate` makes of an empty one, as the tests' own database was made."""
    whole = tmp_path_factory.mktemp("migrated") / "traveller.sqlite3"
    with django_db_blocker.unblock(), closing(sqlite3.connect(whole)) as copy:
        connections["default"].ensure_connection()
        connections["default"].connection.backup(copy)

    def put(folder: Path) -> None:
        shutil.copyfile(whole, folder / whole.name)
        (folder / whole.name).chmod(0o600)

    return put


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's Chromium, started once a session."""
    from playwright.sync_api import sync_playwright

    # Playwright keeps an event loop in this thread; the tests still use the ORM in the plain way.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=list(CHROMIUM_FLAGS))
        yield chromium
        chromium.close()


@pytest.fixture
def phone(browser: Browser) -> Iterator[Page]:
    """A page 360 pixels wide, touched."""
    context = browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True)
    yield context.new_page()
    context.close()


@pytest.fixture
def desk(browser: Browser) -> Iterator[Page]:
    """A page 1280 pixels wide."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    yield context.new_page()
    context.close()
