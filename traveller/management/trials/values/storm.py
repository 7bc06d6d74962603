"""The trial itself: readers who walk the pages, fill in what they find, and get it wrong in every way that is drawn."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from time import time

from traveller.management.trials import Out
from traveller.management.trials.values.draw import CHARSETS, HTTP_METHODS, Draw
from traveller.management.trials.values.filled import filled, request_of, spoiled
from traveller.management.trials.values.pages import Page, read_page
from traveller.management.trials.values.places import Places, routes
from traveller.management.trials.values.wire import BadAnswer, Heard, Jar, Overheard, Request, ask_server

__all__ = ["Met", "Reader", "Storm"]

# Where a walk begins; the rest is found on the pages, and what is for others is refused.
BEGIN = (
    "/",
    "/here/",
    "/pack/",
    "/sign-in",
    "/pass",
    "/t/7K3QX2B",
    "/workbook",
    "/founder/plan",
    "/here/scan",
    "/person",
)
FRESH_EVERY = 250
PAGES_KEPT = 20
BIG = 100_000


@dataclass(slots=True)
class Reader:
    """Somebody with a browser: `enter` brings a new one through the door, `home` shows whether it is still let in."""

    name: str
    enter: Callable[[], Jar]
    home: str
    site: int = 0
    jar: Jar = field(default_factory=Jar)
    pages: dict[str, list[str]] = field(default_factory=dict)


@dataclass(slots=True)
class Met:
    """A fault, how often it was met, and the request that met it first."""

    fault: BadAnswer
    number: int
    reader: str
    request: Request
    times: int = 1

    def reported(self) -> str:
        """With all that is needed to meet it again."""
        first = f"  first at request {self.number:,}, by the {self.reader}:\n  {self.request.reported()}"
        return f"FAULT: {self.fault.where}\n  {self.fault.text}\n{first}"


class Storm:
    """Requests with drawn values, one after the other."""

    def __init__(self, seed: int, readers: list[Reader]) -> None:
        self.draw = Draw(seed)
        self.readers = readers
        self.heard = Overheard()
        self.places = Places()
        self.routes = routes()
        self.met: dict[str, Met] = {}
        self.statuses: Counter[int] = Counter()
        self.drawn = self.walked = 0
        self.tried: set[str] = set()
        self.forms_seen: set[tuple[str, str]] = set()
        self.names: dict[str, str] = {"at": "moment"}
        self.forms_filled: set[tuple[str, str]] = set()
        self.slowest: tuple[float, str] = (0.0, "")

    def blow(self, requests: int, out: Out) -> None:
        """So many requests with drawn values; those that only look for pages and forms are not counted."""
        with self.heard.listening():
            self.freshen()
            for reader in self.readers:
                for address in BEGIN:
                    self.look(reader, address)
            for route in self.routes:
                self.some_address(self.draw.random.choice(self.readers), route)
            fresh = said = known = 0
            while self.drawn < requests:
                if self.drawn - fresh >= FRESH_EVERY:
                    self.freshen()
                    fresh = self.drawn
                self.turn(self.draw.random.choice(self.readers))
                for met in list(self.met.values())[known:]:
                    out(met.reported())
                known = len(self.met)
                if self.drawn // 1000 > said:
                    said = self.drawn // 1000
                    out(f"  {self.drawn:,} requests, {len(self.met)} kinds of fault so far")

    def freshen(self) -> None:
        """Who was thrown out, or threw himself out, comes back; a stranger comes from another address."""
        for reader in self.readers:
            if self.look(reader, reader.home) is None:
                reader.jar = reader.enter()
                self.look(reader, reader.home)

    def turn(self, reader: Reader) -> None:
        way = self.draw.random.random()
        if way < 0.62:
            self.some_form(reader)
        elif way < 0.84:
            self.some_address(reader)
        elif way < 0.95:
            self.some_queue(reader)
        else:
            self.some_nonsense(reader)

    # --- What is asked ------------------------------------------------------------------------------------

    def look(self, reader: Reader, address: str) -> Page | None:
        """A page as it should be asked for; what it names is remembered."""
        path, _, query = address.partition("?")
        answer = self.asked(reader, Request("GET", path, query), drawn=False)
        if not answer.is_page:
            return None
        page = read_page(answer.body.decode("utf-8", "replace"), address)
        for each in page.addresses:
            route = self.places.note(each)
            if route is not None:
                known = reader.pages.setdefault(route, [])
                if each not in known:
                    known.append(each)
                    del known[:-PAGES_KEPT]
        for form in page.forms:
            self.names |= {each.name: each.wants for each in form.fields if each.name != "csrfmiddlewaretoken"}
            self.forms_seen.add((reader.name, self.places.note(form.action) or form.action))
        return page

    def some_form(self, reader: Reader) -> None:
        """A form of some page: every kind of page has the same chance, however many there are of it."""
        if not reader.pages:
            return self.some_address(reader)
        address = self.draw.random.choice(reader.pages[self.draw.random.choice(sorted(reader.pages))])
        page = self.look(reader, address)
        if page is None or not page.forms:
            return self.some_address(reader)
        for _ in range(self.draw.random.randint(1, 3)):
            form = self.draw.random.choice(page.forms)
            self.forms_filled.add((reader.name, self.places.note(form.action) or form.action))
            pairs = filled(form, self.draw, self.places.words())
            if self.draw.chance(0.8):
                pairs = spoiled(form, pairs, self.draw, self.names)
            headers = self.draw.headers() if self.draw.chance(0.1) else {}
            request = request_of(form, pairs, self.draw, headers)
            if self.draw.chance(0.06):
                request = replace(request, content_type=self.draw.content_type())
            if self.draw.chance(0.04):
                request = replace(request, body=request.body[: self.draw.random.randint(0, len(request.body))])
            self.asked(reader, request)
        return None

    def some_address(self, reader: Reader, route: str = "") -> None:
        """Any address of the table, whoever it is for, with things in it and behind it that may not belong there."""
        route = route or self.draw.random.choice(self.routes)
        self.tried.add(route)
        path = self.places.address(route, self.draw, odd=0.3)
        query = "&".join(
            f"{name}={self.draw.value()}"
            for name in self.draw.random.sample(
                ("code", "page", "next", "q", "sort", "show", "site", "part", "kept", "id", "from", "by"), 2
            )
        )
        query = query if self.draw.chance(0.5) and len(query) < BIG else ""
        method = self.draw.random.choice(HTTP_METHODS) if self.draw.chance(0.25) else "GET"
        headers = self.draw.headers() if self.draw.chance(0.3) else {}
        if self.draw.chance(0.1):
            headers["Cookie"] = self.mangled(reader)
        content_type = self.draw.content_type() if self.draw.chance(0.1) else ""
        self.asked(reader, Request(method, path, query, headers, b"", content_type))

    def some_queue(self, reader: Reader) -> None:
        """What a phone would have kept: forms of its pages, in an envelope that may be torn."""
        entries = []
        for _ in range(self.draw.random.randint(0, 3)):
            address = self._own_page(reader)
            page = self.look(reader, address) if address else None
            form = self.draw.random.choice(page.forms) if page and page.forms else None
            right = filled(form, self.draw, self.places.words()) if form else []
            pairs = spoiled(form, right, self.draw, self.names) if form else []
            fields = [[name, value] for name, value in pairs if isinstance(value, str) and len(value) < BIG]
            entry: dict[str, object] = {"id": self.draw.uid(), "seq": self.draw.random.randint(0, 99)}
            entry |= {"at": int(time() * 1000) - self.draw.random.randint(0, 10**9), "person": "Ines"}
            entry |= {"path": form.action if form else self.draw.value("/here/"), "fields": fields}
            if self.draw.chance(0.4):
                entry[self.draw.random.choice(sorted(entry))] = self.anything()
            entries.append(entry)
        reported: dict[str, object] = {"site": reader.site, "sent_at": int(time() * 1000), "entries": entries}
        if self.draw.chance(0.15):
            reported[self.draw.random.choice(sorted(reported))] = self.anything()
        body = json.dumps(reported).encode() if self.draw.chance(0.85) else self.draw.json()
        content_type = "application/json" if self.draw.chance(0.9) else self.draw.content_type()
        self.asked(reader, Request("POST", "/here/queue", "", {"Accept": "application/json"}, body, content_type))

    def some_nonsense(self, reader: Reader) -> None:
        """A request that fits nothing: any body of any kind to any address, by any method."""
        body = self.draw.random.choice(
            (self.draw.json(), self.draw.file().content, self.draw.value().encode("utf-8", "replace"))
        )
        path = self.places.address(self.draw.random.choice(self.routes), self.draw, odd=0.1)
        headers = self.draw.headers() | {"X-CSRFToken": "v" * 32}
        if self.draw.chance(0.3):
            headers["Cookie"] = self.mangled(reader)
        kind = self.draw.content_type()
        kind = (
            kind if self.draw.chance(0.7) else f"application/x-www-form-urlencoded; charset={self.draw.one(*CHARSETS)}"
        )
        self.asked(reader, Request(self.draw.random.choice(HTTP_METHODS), path, "", headers, body, kind))

    def _own_page(self, reader: Reader) -> str | None:
        known = [page for pages in reader.pages.values() for page in pages if page.startswith("/here/")]
        return self.draw.random.choice(known) if known else None

    def anything(self) -> object:
        """Something that JSON can carry."""
        made: tuple[object, ...] = (
            None, True, [], {}, -1, 0, 1.5, 1e300, 10**18, 10**30, [[]], [["a"]], [["a", 1]], [["a", "b", "c"]],
            {"a": "b"}, "x" * 5000, self.draw.value("x")[:3000], [self.draw.letters()], float("nan"),
        )  # fmt: skip
        return self.draw.random.choice(made)

    def mangled(self, reader: Reader) -> str:
        """The reader's cookies with one of them wrong."""
        kept = dict(reader.jar.kept) or {"x": "y"}
        name = self.draw.random.choice(sorted(kept))
        kept[name] = self.draw.value(kept[name])[:4000].replace("\r", "").replace("\n", "")
        return self.draw.one("; ", ";", ", ", " ").join(f"{key}={value}" for key, value in kept.items())

    # --- What comes back ----------------------------------------------------------------------------------

    def asked(self, reader: Reader, request: Request, *, drawn: bool = True) -> Heard:
        answer = ask_server(request, reader.jar, self.heard)
        if drawn:
            self.drawn += 1
            self.statuses[answer.status] += 1
        else:
            self.walked += 1
        route = self.places.note(request.path)
        if answer.seconds > self.slowest[0]:
            asked = f"{request.method!r} {request.path[:80]!r}, {len(request.body):,} bytes, by the {reader.name}"
            self.slowest = (answer.seconds, f"{answer.of_processor:.1f} s of them at work: {asked}")
        faults = answer.faults
        if answer.status >= 500 and not faults:
            faults = (BadAnswer(f"{answer.status} at {route or request.path[:60]}", "nobody said why"),)
        for fault in faults:
            known = self.met.setdefault(fault.where, Met(fault, self.drawn, reader.name, request, 0))
            known.times += 1
        return answer
