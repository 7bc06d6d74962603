"""Tells the demo's news: each telling has its own given time, person and id, and goes through a real action."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any, TypeVar
from uuid import UUID, uuid5

from sites.actor import Actor
from sites.models import Person, Site
from traveller.batches.actions.attach import attach
from traveller.batches.actions.finish_step import finish_step
from traveller.batches.actions.loads import end_load, start_load
from traveller.batches.actions.measure import measure
from traveller.batches.actions.receive import receive
from traveller.batches.actions.report import report
from traveller.batches.actions.send import send
from traveller.batches.actions.start_step import start_step
from traveller.batches.models import Batch, Load, Step
from traveller.batches.proof.readings import ReadingTold
from traveller.batches.steps.consume import Used
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import Consignment
from traveller.journal.event_context import EventContext
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Account, Condition, Lot

STORY = UUID("4c2e5a52-6c2b-4a1e-8f27-3f7b2d1c9a10")
T = TypeVar("T")


class StoryBroken(Exception):
    """The demo asked for something that was refused: a fault of the story or of the program."""


@dataclass
class Teller:
    """`day_0` is a Monday; a moment is given as days after it and a local time at a site."""

    day_0: date
    reported: int = 0
    sites: dict[str, Site] = field(default_factory=dict)

    def site(self, code: str) -> Site:
        if code not in self.sites:
            self.sites[code] = Site.objects.get(code=code)
        return self.sites[code]

    def at(self, day: int, clock: str, site: str = "bench") -> datetime:
        hour, minute = clock.split(":")
        local = datetime.combine(self.day_0 + timedelta(days=day), time(int(hour), int(minute)))
        return local.replace(tzinfo=self.site(site).zone)

    def event_context(self, at: datetime, site: str | None = None, person: int = 0, *, name: str = "") -> EventContext:
        """The next telling: by a person of the site, or by the founder.

        `name`: it stands beside the story, which prints the same codes with it and without it.
        """
        self.reported += not name
        uid = uuid5(STORY, name or str(self.reported))
        if site is None:
            return EventContext(uid=uid, at=at, recorded_at=at, actor=Actor("founder", "founder"))
        row = self.site(site)
        people = list(Person.objects.filter(site=row).order_by("pk").values_list("name", flat=True))
        actor = Actor("operator", people[person % len(people)], site_id=row.pk)
        return EventContext(uid=uid, at=at, recorded_at=at + timedelta(minutes=1), actor=actor)

    def done(self, action: Callable[..., T | Refusal], **reported: Any) -> T:
        answer = action(**reported)
        if isinstance(answer, Refusal):
            raise StoryBroken(f"{action.__name__}: {answer.code} {answer.figures}")
        return answer

    # --- at a step -----------------------------------------------------------------------------------------
    def step(self, batch: Batch, number: int) -> Step:
        return Step.objects.select_related("operation", "site", "batch").get(batch=batch, number=number)

    def waiting(self, batch: Batch, number: int) -> int:
        """Pieces that lie before a step now."""
        row = self.step(batch, number)
        lot_id = Batch.objects.values_list("lot_id", flat=True).get(pk=batch.pk)
        account = Account.objects.filter(
            lot_id=lot_id, site=row.site, condition=Condition.IN_PROCESS, step=number
        ).first()
        return account.balance if account else 0

    def start(self, batch: Batch, number: int, at: datetime) -> Step:
        row = self.step(batch, number)
        self.done(start_step, event_context=self.event_context(at, row.site.code), step_id=row.pk)
        return row

    def count(self, batch: Batch, number: int, at: datetime, **figures: Any) -> None:
        row = self.step(batch, number)
        self.done(report, event_context=self.event_context(at, row.site.code), step_id=row.pk, **figures)

    def finish(self, batch: Batch, number: int, at: datetime) -> None:
        row = self.step(batch, number)
        self.done(finish_step, event_context=self.event_context(at, row.site.code), step_id=row.pk)

    def read(
        self, batch: Batch, number: int, at: datetime, values: Sequence[ReadingTold], *, beside: bool = False
    ) -> None:
        """What was measured; `beside` the story, see event_context."""
        row = self.step(batch, number)
        name = f"read {batch.code} {number} {at.isoformat()}" if beside else ""
        self.done(
            measure, event_context=self.event_context(at, row.site.code, name=name), step_id=row.pk, readings=values
        )

    def send_log(
        self,
        batch: Batch,
        number: int,
        at: datetime,
        name: str,
        content: bytes,
        *,
        kind: str = "log",
        load: Load | None = None,
    ) -> None:
        """A logger's file as a shop sends it: its clock is the site's."""
        row = self.step(batch, number)
        self.done(
            attach,
            event_context=self.event_context(at, row.site.code, name=f"{batch.code} {name}"),
            step_id=row.pk,
            content=content,
            name=name,
            kind=kind,
            load=load.uid if load else None,
            answers={"zone": row.site.zone.key},
        )

    def load_in(self, batch: Batch, number: int, at: datetime, quantity: int = 0, place: str = "") -> Load:
        row = self.step(batch, number)
        event_context = self.event_context(at, row.site.code)
        self.done(start_load, event_context=event_context, step_id=row.pk, quantity=quantity, place=place)
        return Load.objects.get(uid=event_context.uid)

    def load_out(self, load: Load, at: datetime, readings: Sequence[ReadingTold] = ()) -> None:
        row = Step.objects.select_related("site").get(pk=load.step_id)
        self.done(end_load, event_context=self.event_context(at, row.site.code), load_id=load.pk, readings=readings)

    def loads(
        self,
        batch: Batch,
        number: int,
        begin: datetime,
        *,
        size: int,
        minutes: int,
        every: int,
        short: dict[int, int] | None = None,
        scrap: dict[int, tuple[str, int]] | None = None,
        samples: dict[int, int] | None = None,
        place: str = "",
        most: int = 10_000,
    ) -> datetime:
        """Fill after fill until nothing waits; `short` gives the minutes of loads that came out too early."""
        at, fill = begin, 0
        while fill < most:
            pieces = min(size, self.waiting(batch, number))
            if not pieces:
                break
            fill += 1
            load = self.load_in(batch, number, at, pieces, place)
            out = at + timedelta(minutes=(short or {}).get(fill, minutes))
            self.load_out(load, out)
            row = Step.objects.select_related("site", "batch").get(pk=Load.objects.get(pk=load.pk).step_id)
            reason, lost = (scrap or {}).get(fill, ("", 0))
            taken = (samples or {}).get(fill, 0)
            figures = {"good": pieces - lost - taken, "scrap": {reason: lost} if lost else {}, "samples": taken}
            after = out + timedelta(minutes=2)
            event_context = self.event_context(after, row.site.code)
            self.done(report, event_context=event_context, step_id=row.pk, load=load.uid, **figures)
            at += timedelta(minutes=every)
        return at

    # --- between sites -------------------------------------------------------------------------------------
    def ship(
        self,
        what: Sequence[tuple[Lot, int]],
        origin: str,
        to: str,
        at: datetime,
        *,
        from_step: int = 0,
        purpose: str = "processing",
        carrier: str = "own van",
        method: str = "hand",
        sample: int = 0,
    ) -> Consignment:
        by = None if origin == "bench" else origin
        lines = [
            SendLine(lot.pk, quantity, from_step, method=method, sample=sample, how=_weighed(lot, quantity, sample))
            for lot, quantity in what
        ]
        return self.done(
            send,
            event_context=self.event_context(at, by),
            origin_id=self.site(origin).pk,
            destination_id=self.site(to).pk,
            lines=lines,
            purpose=purpose,
            carrier=carrier,
            owner="Tamarack Lantern Bench",
        )

    def arrive(
        self,
        consignment: Consignment,
        at: datetime,
        counted: dict[int, int] | None = None,
        *,
        method: str = "hand",
        sample: int = 0,
    ) -> None:
        """Every line is counted; `counted` gives the figures that differ, by lot id."""
        for line in consignment.lines.select_related("lot"):
            quantity = (counted or {}).get(line.lot_id, line.sent)
            self.done(
                receive,
                event_context=self.event_context(at, consignment.destination.code),
                line_id=line.pk,
                quantity=quantity,
                method=method,
                sample=sample,
            )

    def shelf(self, batch: Batch, site: str, step: int = 0) -> int:
        lot_id = Batch.objects.values_list("lot_id", flat=True).get(pk=batch.pk)
        account = Account.objects.filter(
            lot_id=lot_id, site=self.site(site), condition=Condition.STOCK, step=step
        ).first()
        return account.balance if account else 0


def lot_made(batch: Batch) -> Lot:
    batch.refresh_from_db()
    if batch.lot is None:
        raise StoryBroken(f"batch {batch.code} has no lot yet")
    return batch.lot


def _weighed(lot: Lot, quantity: int, sample: int) -> dict[str, Any]:
    """What the scales showed of so many pieces: the sample in steps of a gram, a full tote in steps of twenty."""
    if not sample:
        return {}
    grams = (lot.part.piece_mass_mg or 0) / 1000
    of_sample, gross = f"{round(sample * grams)} g", f"{round(quantity * grams / 20) * 20 / 1000} kg"
    scale = {"weight": of_sample, "sample_step": "1 g", "step": "0.02 kg", "readings": 1}
    return {"gross": gross, "sample": str(sample), "sample_weight": of_sample, "scale": scale}


def scans(*lots: Lot) -> list[Used]:
    return [Used(lot.pk) for lot in lots]
