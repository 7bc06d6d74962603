"""A phone at a shop: opened by a pass of the founder's, then scan, one task, done."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from tests.stories.hand import Hand
from tests.stories.small_order import BENCH, Clock


@dataclass
class Phone(Hand):
    """Times that it tells late are in the shop's own zone, as its browser sends them."""

    clock: Clock | None = None
    zone: ZoneInfo = BENCH

    def earlier(self, minutes: int) -> dict[str, object]:
        """The fields of "it happened earlier"."""
        assert self.clock is not None
        return {"at": self.clock.local(minutes, self.zone), "late_reason": "the phone was flat"}

    def scan(self, code: str) -> None:
        """Scan a traveller and say yes to "is this it?"."""
        self.open("/here/")
        self.press("Open", {"code": code})
        self.says("Is this it?")
        self.follow("Yes, this one")

    def start(self, verb: str) -> None:
        self.press(f"Start: {verb}")
        self.says("Recorded.")

    def load(self, pieces: int, went_in: int, came_out: int, read: Mapping[str, object] | None = None) -> None:
        """A load that went in and came out so many minutes ago, both told late."""
        self.follow("Load in")
        how_many = {"How many go in?": pieces} if pieces else {}
        self.press("In now", {"Where?": "place A", **how_many, **self.earlier(went_in)})
        self.follow(" out")
        self.press("Out now", {**(read or {}), **self.earlier(came_out)})

    def count(self, good: int, rest: Mapping[str, object] | None = None) -> None:
        """Good first; then, if the page asks, the rest by their labels. From the step, or from a load just told."""
        if "How many are good?" not in self.text:
            self.follow("Count pieces")
        self.press("Next", {"How many are good?": good})
        if rest:
            self.press("Record", rest)
        self.says(f"Recorded · {good} good")

    def measure(self, *readings: str, proves: bool = True) -> None:
        """What the step asks, field by field; `proves`: that is all that the check wants."""
        self.follow("Measure")
        form, _button = self.page.form_with("Record")
        asked = [name for name in form.typed if name.startswith("r:")]
        self.press("Record", dict(zip(asked, readings, strict=True)))
        self.says("Recorded", *(["proved"] if proves else []))

    def find_leak(self) -> None:
        """The tester finds the test master; back to the step."""
        self.follow("Try the known leak")
        self.press("Yes, it found it")
        self.says("Recorded")
        self.follow("Go on: ")

    def done(self) -> None:
        self.follow("Step is done")
        self.press("Yes, the step is done")
        self.says("Recorded")

    def send(self, to: str) -> str:
        """All that is done here and goes there; gives the words of the note that is printed for it."""
        self.press(f"Send to {to}")
        self.says(f"On the road to {to}")
        return self.paper("Print the dispatch note")

    def count_in(self, origin: str, quantity: object, sent: str) -> None:
        """Count what is on the way here, before the sender's figure is shown."""
        self.open("/here/")
        self.follow(f"from {origin}")
        # As a word of its own: a code on the page may have the same figures in it.
        assert not re.search(rf"(?<!\w){sent}(?!\w)", self.text), f"the receiver counts first: {self.text}"
        how = "How much arrived?" if sent.endswith("kg") else "How many arrived?"
        self.press("Counted: record", {how: quantity})
        self.says("Agreed", f"They sent {sent}")


def open_pass(
    founder: Hand, site: str, person: str, clock: Clock, *, zone: ZoneInfo = BENCH, kind: str = "operator"
) -> Phone:
    """The founder makes a pass; the phone opens its link, and the person taps a name."""
    founder.open(f"/sites/{site}")
    founder.press("Make a pass", {"What for": kind, "Whose phone": f"the phone of {person}"})
    link = next(word for word in founder.text.split() if "/pass/" in word)
    phone = Phone(clock=clock, zone=zone)
    phone.open(urlsplit(link).path)
    phone.press("Use this phone here")
    phone.press(person)
    return phone
