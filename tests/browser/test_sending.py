"""The keeper's own sender against a server that fails at every point: in order, each once, and it never gives up."""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import pytest

from tests.browser.scripted import Fate, Kind, Script, scripted
from traveller.web import keeper_files

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser
ENTRIES = 40
KINDS: tuple[Kind, ...] = ("500", "502", "503", "hang", "torn", "closed", "later", "page")
# The sender's own times, a hundred times faster; whatever else is as the phone runs it.
FAST = {
    "PATIENCE_SEND_MS = 30_000": "PATIENCE_SEND_MS = 300",
    "PATIENCE_UPLOAD_MS = 180_000": "PATIENCE_UPLOAD_MS = 400",
    "PATIENCE_ASK_MS = 8_000": "PATIENCE_ASK_MS = 80",
    "WAIT_LEAST_MS = 2_000": "WAIT_LEAST_MS = 20",
    "WAIT_MOST_MS = 60_000": "WAIT_MOST_MS = 600",
    "ASK_MS = 3_000": "ASK_MS = 30",
}
# What stands between the sender and the page here: nobody hears of changes, and no pages are kept.
AROUND = """
  const changed = async () => {}, refresh = async () => {};
  const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));
  const fill = async (ids, files) => {
    for (const id of await allEntries()) await dropEntry(id.seq);
    for (const [place, id] of ids.entries()) {
      const photo = { field: "file", name: "a.jpg", blob: new Blob(["x".repeat(900)]) };
      const attached = files.includes(place) ? [photo] : [];
      await addEntry({ id, at: 1, site: 7, person: "Ines", path: "/here/x", fields: [["good", "1"]], files: attached,
        about: {}, state: "waiting" });
    }
  };
  // A page that stands open asks again and again, as unsent.js does.
  const through = async (withinMs) => {
    const end = performance.now() + withinMs;
    while ((await waiting()).length && performance.now() < end) { await send(false); await pause(4); }
    return (await waiting()).length;
  };
"""


@pytest.fixture(scope="module")
def source() -> str:
    text = "\n".join((keeper_files.SCRIPTS / name).read_text("utf-8") for name in ("keeper_store.js", "keeper_send.js"))
    for slow, fast in FAST.items():
        assert slow in text, slow
        text = text.replace(slow, fast)
    return text


@pytest.fixture(scope="module")
def sender(browser: Browser) -> Iterator[Page]:
    context = browser.new_context()
    yield context.new_page()
    context.close()


def sent(page: Page, source: str, address: str, script: str, reported: Any) -> Any:
    """Run the sender on a page of the scripted server."""
    page.goto(address)
    return page.evaluate(f"async (told) => {{ {source}\n{AROUND}\n{script} }}", reported)


def plan_of(seed: int) -> list[Fate]:
    """Some outages, one after another, each after so many of its entries were stored."""
    drawn = random.Random(seed)
    return [Fate(drawn.choice(KINDS), drawn.choice((0, 0, 1, 3, 7, 20))) for _ in range(drawn.randrange(3, 9))]


@pytest.mark.long
def test_wherever_the_server_fails_nothing_is_overtaken_lost_or_sent_again_once_answered(
    sender: Page, source: str
) -> None:
    """Each kind of failure, again and again, after none or some of the entries; then any after any, with photos."""
    plans = [[Fate(kind, stored), Fate(kind), Fate(kind, 1)] for kind in KINDS for stored in (0, 11)]
    plans += [plan_of(seed) for seed in range(10)]
    for number, plan in enumerate(plans):
        ids = [f"{number:03d}-{place:02d}" for place in range(ENTRIES)]
        files = [5, 6, 23] if number >= 2 * len(KINDS) else []
        script = Script(plan=list(plan))
        with scripted(script) as address:
            left = sent(
                sender,
                source,
                address,
                "await fill(told.ids, told.files); return through(8000);",
                {"ids": ids, "files": files},
            )
        assert left == 0, (plan, left)
        assert script.stored == ids, plan
        assert script.again == [], plan
        assert script.plan == [], plan


def test_an_outage_is_one_back_off_a_run_and_ends_as_soon_as_somebody_answers(sender: Page, source: str) -> None:
    """A hundred failures in a row: the phone waits longer, but never longer than a minute, and asks in between."""
    ids = [f"long-{place:02d}" for place in range(ENTRIES)]
    script = Script(plan=[Fate("500")] * 60)
    with scripted(script) as address:
        found = sent(
            sender,
            source,
            address,
            """await fill(told, []);
            const starts = [];
            while ((await waiting()).length) {
              await send(false);
              starts.push([failures, notBefore - performance.now()]);
              await pause(4);
            }
            return starts;""",
            ids,
        )
    assert script.stored == ids and script.again == []
    # 60 s at most, in the hundredth part; and no run counted more than once.
    steps = [later[0] - before[0] for before, later in pairwise(found)]
    assert max(wait for _failures, wait in found) <= 600
    assert max(steps) == 1
    # Questions that cost nothing went on all the time, so the end was noticed within a few of them.
    gaps = [later - before for before, later in pairwise(script.requests)]
    assert script.asked > 20 and max(gaps) < 0.5, (script.asked, max(gaps))


def test_the_wait_that_the_server_asks_for_is_kept_up_to_a_minute(sender: Page, source: str) -> None:
    with scripted(Script()) as address:
        waits = sent(
            sender,
            source,
            address,
            """const found = [];
            for (const [why, seconds] of told) {
              failures = 0; holdBack(why, seconds, false);
              found.push([notBefore - performance.now(), askFrom - performance.now()]);
            }
            return found;""",
            [["away", 0], ["away", 0.3], ["away", 3600], ["busy", 0]],
        )
    (plain, asks), (reported, asks_reported), (capped, asks_capped), (busy, asks_busy) = waits
    assert 10 <= plain <= 20 and 25 <= asks <= 30
    assert 290 <= reported <= 300 and 290 <= asks_reported <= 300
    assert 590 <= capped <= 600 and 590 <= asks_capped <= 600
    assert 10 <= busy <= 20 and asks_busy == busy


def test_whoever_answers_a_question_but_takes_nothing_is_not_flooded(sender: Page, source: str) -> None:
    """Every question is answered and every sending fails, as behind a proxy that lets only small things through."""
    script = Script()
    with scripted(script) as address:
        sent(
            sender,
            source,
            address,
            """await fill(told, []);
            const real = heard;
            let sendings = 0;
            self.counted = () => sendings;
            const before = fetch;
            self.fetch = (path, options) => {
              if (String(options?.body).includes('"entries":[]')) return before(path, options);
              sendings += 1;
              return Promise.reject(new Error("torn"));
            };
            await through(1200);
            self.fetch = before;
            self.sendings = sendings;""",
            ["one", "two"],
        )
        sendings = sender.evaluate("self.sendings")
    # 20, 40, 80, 160, 320, 600 ms: seven tries at most, and one more after the first question.
    assert 3 <= sendings <= 9, sendings


# The whole keeper with a store in memory, in a page: it is asked by message, as a page of the shop asks it.
WHOLE = """async ([pieces, slowMs]) => {
  const store = `let last = 0; const rows = new Map(), notes = new Map([["site", 7], ["version", "1.x"]]);
    const allEntries = async () => [...rows.values()];
    const entryOf = async (id) => [...rows.values()].find((row) => row.id === id);
    const putEntry = async (row) => { const seq = row.seq ?? ++last; rows.set(seq, { ...row, seq }); return seq; };
    const dropEntry = async (seq) => { rows.delete(seq); };
    const note = async (key) => notes.get(key), writeNote = async (key, value) => { notes.set(key, value); };
    const keptPage = async () => null, keptPaths = async () => [], keptGroups = async () => [];
    const writePages = async () => {}, blobOf = (file) => file.blob;`;
  const heardBy = {}, log = [], began = performance.now();
  const keeper = { addEventListener: (name, deed) => { heardBy[name] = deed; }, location, navigator, crypto, indexedDB,
    AbortController, registration: {}, caches: {}, clients: { matchAll: async () => [] } };
  const json = { get: (name) => (name === "Content-Type" ? "application/json" : null) };
  const ask = async (path, options) => {
    const at = performance.now() - began;
    if (path !== "/here/queue") {
      log.push({ at, what: "pages" });
      await new Promise((resolve) => setTimeout(resolve, slowMs));
      return { status: 304, headers: { get: () => null } };
    }
    const ids = JSON.parse(options.body).entries.map((entry) => entry.id);
    log.push({ at, what: ids.join() });
    return { status: 200, headers: json, json: async () => ({ answers: ids.map((id) => ({ id, state: "stored" })) }) };
  };
  const body = `const VERSION = "v", STATICS = []; ${store} ${pieces} return putEntry;`;
  const put = new Function("self", "fetch", "caches", body)(keeper, ask, {});
  for (const id of ["one", "two", "three"]) {
    const typed = { path: "/here/x", fields: [], files: [], about: {} };
    await put({ ...typed, id, at: 1, site: 7, person: "Ines", state: "waiting" });
    heardBy.message({ data: { type: "send", now: true }, waitUntil: (promise) => promise });
    await new Promise((resolve) => setTimeout(resolve, slowMs / 8));
  }
  return log;
}"""


def test_what_is_told_while_pages_are_fetched_does_not_wait_for_them(sender: Page) -> None:
    """Drawing all pages of a shop may take a busy server a minute."""
    names = ("keeper_codes.js", "keeper_send.js", "keeper.js")
    pieces = "\n".join((keeper_files.SCRIPTS / name).read_text("utf-8") for name in names)
    slow_ms = 2_000
    with scripted(Script()) as address:
        sender.goto(address)
        log = sender.evaluate(WHOLE, [pieces, slow_ms])
    reported = [row for row in log if row["what"] != "pages"]
    assert [row["what"] for row in reported] == ["one", "two", "three"]
    pages = next(row for row in log if row["what"] == "pages")
    assert pages["at"] < reported[1]["at"] and reported[2]["at"] < pages["at"] + slow_ms, log
