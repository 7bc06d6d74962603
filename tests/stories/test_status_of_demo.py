"""What is said of goods over the whole demo: nothing is called free that may not be used, nothing less that may.

After every event (in the suite: of one drawn day) each place where goods lie is reckoned again from the rows alone, by
hand and one by one, and compared with label, page, phone and packer's list.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from random import Random
from typing import TYPE_CHECKING, Any
from unittest.mock import patch

import pytest
from django.db import transaction
from django.db.models import Q

from sites.models import Site
from tests.kept import standing
from tests.stories import altered
from tests.stories.reckoned import Reckoned
from traveller.batches.models import Batch, Step, Verdict
from traveller.batches.reads import labels
from traveller.batches.reads.labels import Totes, tote_labels
from traveller.batches.reads.papers import Heading
from traveller.batches.splitting.places import SEPARABLE
from traveller.batches.status import TELLABLE, statuses_of
from traveller.journal.models import Event, EventSubject
from traveller.ledger import genealogy, holds
from traveller.ledger.models import Account, Condition, Hold, Link, Lot
from traveller.management.commands.demo import Command
from traveller.management.demo.story import Story
from traveller.management.demo.teller import Teller
from traveller.orders.kits import free_here
from traveller.paper.tote_label import ToteLabel
from traveller.products import frozen
from traveller.products.models import BillLine, Check
from traveller.rules.checks import KINDS
from traveller.rules.purposes import Purpose
from traveller.rules.statuses import FREE_WORDS
from traveller.shipping.queries import shelves
from traveller.web.status_words import said_in_words

if TYPE_CHECKING:
    from pytest_django.plugin import DjangoDbBlocker

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 11, 25, 15, 0, tzinfo=UTC)
FIGURES_A_DAY = 200
SEED = 20261130
HEADING = Heading(maker="Bench", call_if_found="", public_address="https://trace.example")
# What a check's word of the workbook keeps goods from.
KEEPS_FROM: dict[Purpose, tuple[str, ...]] = {
    "start": ("step",),
    "send": ("step", "sending"),
    "consume": ("step", "sending", "consuming"),
    "pack": ("step", "sending", "consuming", "packing"),
    "ship": ("step", "sending", "consuming", "packing"),
}


class ByHand:
    """May pieces of an account be used for a purpose? From the rows, one lot at a time, as one would look it up.

    What was looked up once is known until an event is about that lot, or about one that it was made of.
    """

    def __init__(self) -> None:
        self.known: dict[tuple[int, Purpose, int | None], bool] = {}
        self.proofs: dict[tuple[int, Purpose, int | None], bool] = {}

    def forget_what_changed(self, since: int) -> None:
        subjects = EventSubject.objects.filter(event__gt=since).values_list("subject_id", flat=True)
        lots = set(Lot.objects.filter(subject__in=list(subjects)).values_list("pk", flat=True))
        lots |= {below for lot in lots for below in genealogy.descendants(lot)}
        batches = set(
            Batch.objects.filter(Q(lot__in=lots) | Q(subject__in=list(subjects))).values_list("pk", flat=True)
        )
        self.known = {key: may for key, may in self.known.items() if key[0] not in lots}
        self.proofs = {key: proved for key, proved in self.proofs.items() if key[0] not in batches}

    def may(self, account: Account, purpose: Purpose, on: date) -> bool:
        until = None
        if account.condition == Condition.STOCK and account.step:
            until = account.step + 1
        lot = account.lot
        if lot.expires_on is not None and lot.expires_on < on:
            return False
        key = (lot.pk, purpose, until)
        if key not in self.known:
            self.known[key] = self.looked_up(lot, purpose, until)
        return self.known[key]

    def looked_up(self, lot: Lot, purpose: Purpose, until: int | None) -> bool:
        if Hold.objects.filter(lot=lot, closed_at=None).exists():
            return False
        batch = Batch.objects.filter(lot=lot).first()
        if batch and not self.proved(batch, purpose, until):
            return False
        above = genealogy.ancestors(lot.pk)
        for link in Link.objects.filter(parent__in=above, child__in=above | {lot.pk}).select_related("parent", "child"):
            used = Batch.objects.filter(lot=link.parent).first()
            is_component = link.parent.part_id != link.child.part_id and link.child.origin != "regrade"
            if is_component and used and not self.proved(used, purpose, None):
                return False
        return True

    def proved(self, batch: Batch, purpose: Purpose, until: int | None) -> bool:
        key = (batch.pk, purpose, until)
        if key not in self.proofs:
            self.proofs[key] = self.looked_up_proof(batch, purpose, until)
        return self.proofs[key]

    def looked_up_proof(self, batch: Batch, purpose: Purpose, until: int | None) -> bool:
        for check in Check.objects.filter(operation__routing=batch.routing, blocks__in=KEEPS_FROM[purpose]):
            number = check.operation.number
            if until is not None and number >= until:
                continue
            at: Batch | None = batch
            while at is not None and not Step.objects.filter(batch=at, number=number).exists():
                at = at.parent
            rows = Verdict.objects.filter(step__batch=at, step__number=number, check_key=check.key, latest=True)
            row = rows.filter(load=None).first() if at else None
            if row is None or (row.outcome != "passed" and row.conceded_event is None):
                return False
        return True

    def purpose(self, account: Account) -> Purpose:
        """What goods on a shelf wait for."""
        batch = Batch.objects.filter(lot=account.lot).first()
        if account.condition == Condition.PACKED:
            return "ship"
        if account.condition != Condition.STOCK:
            return "start"
        if batch and (account.step or account.site_id != batch.destination_id):
            return "send"
        steps = set(BillLine.objects.filter(component=account.lot.part).values_list("step", flat=True))
        return "consume" if steps and 0 not in steps else "pack"


class Watch:
    """Looks at everything after each event of the days that it is to look at."""

    def __init__(self, day: date | None) -> None:
        self.day, self.looks, self.free, self.stopped = day, 0, 0, 0
        self.hand = ByHand()
        self.before = 0

    def look(self) -> None:
        last = Event.objects.order_by("-id").first()
        if last is None or last.pk == self.before or (self.day and last.happened_at.date() != self.day):
            return
        self.hand.forget_what_changed(self.before)
        self.before = last.pk
        on = last.happened_at.date()
        self.compare(self.rows(), on, str(last))
        if self.day or self.looks % 4 == 0:
            self._lists(self.rows(), on)
        with transaction.atomic():
            # The demo is told by people who do it right: so that both answers come, something is spoilt for a look.
            lot = self.spoil(last)
            if lot is not None:
                kept, self.hand = self.hand, ByHand()
                family = {lot.pk, *genealogy.descendants(lot.pk)}
                self.compare([row for row in self.rows() if row.lot_id in family], on, f"spoilt after {last}")
                self.hand = kept
            transaction.set_rollback(True)
        self.looks += 1

    def rows(self) -> list[Account]:
        lying = Account.objects.filter(condition__in=TELLABLE, balance__gt=0)
        return list(lying.select_related("lot__part", "site").defer("lot__part__picture"))

    def spoil(self, last: Event) -> Lot | None:
        """One lot on a shelf is held, or too old, or one of its proofs is gone: drawn by the event's number."""
        shelf = Account.objects.filter(condition=Condition.STOCK, balance__gt=0).order_by("id")
        draw = Random(last.pk)
        lots = list(shelf.values_list("lot_id", flat=True))
        if not lots:
            return None
        lot = Lot.objects.get(pk=draw.choice(lots))
        how = draw.choice(["hold", "age", "proof"])
        if how == "hold":
            holds.open_hold(last, lot, cause="spoilt", code="founder_hold")
        elif how == "age":
            Lot.objects.filter(pk=lot.pk).update(expires_on=last.happened_at.date() - timedelta(days=1))
        else:
            steps = list(Step.objects.filter(batch__lot=lot).values_list("pk", flat=True))
            proofs = Verdict.objects.filter(step__in=steps, load=None, latest=True, outcome="passed")
            return lot if proofs.update(outcome="missing") else None
        return lot

    def compare(self, rows: list[Account], on: date, last: str) -> None:
        """Every word against what the rows say."""
        statuses = statuses_of(rows, on)
        words = self._labels(rows, on)
        for account in rows:
            status = statuses[account.pk]
            shelf = account.condition in (Condition.STOCK, Condition.PACKED)
            may = shelf and self.hand.may(account, self.hand.purpose(account), on)
            said = said_in_words(status)
            where = f"{account.lot} ({account.lot.part}), {account.condition} {account.step} at {account.site}, {last}"
            assert (status.kind == "free") == may, where
            assert (said["word"] in FREE_WORDS.values()) == may, where
            assert (said["why"] == "") or not may, where
            if account.pk in words:
                assert words[account.pk] == status.word and words[account.pk].startswith("Free") == may, where
            self.free, self.stopped = self.free + may, self.stopped + (shelf and not may)

    def _labels(self, rows: list[Account], on: date) -> dict[int, str]:
        """The word on the label of each place, without drawing it."""
        found: dict[int, str] = {}
        drawn: list[ToteLabel] = []

        def instead(contents: list[ToteLabel], *, size: str) -> bytes:
            drawn.extend(contents)
            return b"%PDF"

        with patch.object(labels, "draw_tote_labels", instead):
            batches = {batch.lot_id: batch for batch in Batch.objects.select_related("part", "lot")}
            told = [account for account in rows if account.condition in SEPARABLE and account.lot_id in batches]
            for lot_id in {account.lot_id for account in told}:
                own = [account for account in told if account.lot_id == lot_id]
                totes = [Totes(account, (account.balance,)) for account in own]
                tote_labels(batches[lot_id], totes, heading=HEADING, on=on)
                words = [label.status.word for label in drawn[-len(own) :]]
                found |= dict(zip((account.pk for account in own), words, strict=True))
        return found

    def _lists(self, rows: list[Account], on: date) -> None:
        """The packer's shelves and the kits at the bench say the same."""
        bench = Site.objects.get(kind="own")
        here = [a for a in rows if a.site_id == bench.pk and a.condition == Condition.STOCK and a.step == 0]
        parts = {account.lot.part_id for account in here}
        shown = {shelf.lot_id: not shelf.why for shelf in shelves(parts, bench, on=on)}
        assert shown == {account.lot_id: self.hand.may(account, "pack", on) for account in here}
        purposes: tuple[Purpose, ...] = ("consume", "pack")
        for purpose in purposes:
            free = free_here(parts, bench.pk, on=on, purpose=purpose)
            for part_id in parts:
                own = [account for account in here if account.lot.part_id == part_id]
                assert free.get(part_id, 0) == sum(a.balance for a in own if self.hand.may(a, purpose, on))


def play(watch: Watch | None, pages: Reckoned | None = None) -> None:
    """The whole demo, with a look after each of its actions, and one at the pages when a day is over."""
    frozen.forget()
    Command().read_workbook(NOW)
    told = Teller.done

    def done(self: Teller, action: Callable[..., Any], **reported: Any) -> Any:
        at: datetime = reported["event_context"].recorded_at
        if pages:
            pages.before(at)
        answer = told(self, action, **reported)
        if watch:
            watch.look()
        if pages:
            pages.after(at)
        return answer

    with patch.object(Teller, "done", done):
        Story(NOW).tell()
    if pages and pages.every_day:
        # And when nobody reports anything for weeks: orders become late, a year ends.
        for days in (0, 12, 40):
            pages.look(NOW + timedelta(days=days))
    frozen.forget()


@dataclass(frozen=True)
class Walked:
    """What both lookers saw on one walk; what the first of them stumbled over."""

    watch: Watch
    pages: Reckoned
    stumbled: AssertionError | None


def _walk() -> Walked:
    # Drawn once: a day of the last week on which something is held and goods are on the road.
    watch, pages = Watch((NOW - timedelta(days=7)).date()), Reckoned()
    try:
        play(watch, pages)
    except AssertionError as stumbled:
        return Walked(watch, pages, stumbled)
    return Walked(watch, pages, None)


@pytest.fixture(scope="module")
def walked(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Walked]:
    yield from standing(django_db_blocker, _walk)


def test_on_a_drawn_day_of_the_demo_nothing_is_called_free_that_may_not_be_used(walked: Walked) -> None:
    if walked.stumbled:
        raise walked.stumbled
    watch = walked.watch
    assert watch.looks >= 3 and watch.free and watch.stopped, vars(watch)
    _every_kind_of_check_is_judged()


def _every_kind_of_check_is_judged() -> None:
    """Each kind stands in a routing of the demo and was judged there; a sample and an ink both ways, and decided."""
    checks = {(row.operation_id, row.key): row.kind for row in Check.objects.all()}
    judged: dict[str, set[str]] = {kind: set() for kind in KINDS}
    conceded = set()
    for verdict in Verdict.objects.select_related("step"):
        kind = checks[verdict.step.operation_id, verdict.check_key]
        judged[kind].add(verdict.outcome)
        if verdict.conceded_event_id:
            conceded.add(kind)
    assert [kind for kind, outcomes in judged.items() if not outcomes] == []
    assert {"passed", "failed"} <= judged["sample"] & judged["age"]
    assert {"sample", "age"} <= conceded


def test_the_demo_proves_a_soak_and_a_cure_with_its_middle_by_logs(walked: Walked) -> None:
    """The final bake of the amber bands: a log of the oven's air, and one from inside a band of a full charge."""
    rows = Verdict.objects.filter(step__batch__part__number="BAND-AM", step__number=40, latest=True)
    found = {key: list(rows.filter(check_key=key).exclude(load=None)) for key in ("bake", "through")}
    assert len(found["bake"]) == len(found["through"]) > 3
    assert {row.code for row in found["bake"]} == {"soak.passed"}
    assert {row.code for row in found["through"]} == {"cure.passed_through"}
    assert all("cure.note_core" in row.figures["notes"] for row in found["through"])


def test_on_every_day_of_the_demo_each_figure_on_the_pages_is_what_the_rows_make_it(walked: Walked) -> None:
    pages = walked.pages
    assert not pages.differences, "\n".join(pages.differences)
    assert len(pages.looks) >= 28
    few = {f"{now:%d %b}": book.compared for now, book in pages.looks if book.compared < FIGURES_A_DAY}
    assert not few, few


def test_ten_postings_altered_one_at_a_time_are_each_found_on_a_page(walked: Walked, db: None) -> None:
    found = altered.postings(walked.pages, NOW, Random(SEED), ten=10)
    print(f"seed {SEED}", *(f"{what}: {seen}" for what, seen in found.items()), sep="\n")
    assert len(found) == 10 and all(found.values()), found


def test_ten_postings_altered_with_their_balances_break_a_law(walked: Walked, db: None) -> None:
    found = altered.with_balances(Random(SEED), ten=10)
    print(f"seed {SEED}", *(f"{what}: {seen}" for what, seen in found.items()), sep="\n")
    assert len(found) == 10 and all(found.values()), found
