"""The process record of a batch, from its rows. It is a copy of facts: drawing it tells nothing."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import UTC, timedelta

from traveller.batches.history.step_law import step_accounts
from traveller.batches.models import Batch, OwnNumber, StepState
from traveller.batches.reads.papers import Heading
from traveller.batches.reads.record_rows import Voice, by, reported_of, step_record, steps_of
from traveller.journal.models import Event
from traveller.ledger.models import Hold, Link, Lot
from traveller.paper import words
from traveller.paper.canvas import PaperSize
from traveller.paper.process_record import ProcessRecord, Remark, UsedRow, draw_process_record
from traveller.rules.codes import TravellerCode, show_code
from traveller.rules.moments import on_clocks
from traveller.rules.units import show_quantity

# What is told at the end of a shift is still told on the spot.
_LATE = timedelta(minutes=30)


def process_record(batch: Batch, *, heading: Heading, voice: Voice, size: PaperSize = "A4") -> bytes:
    """The PDF; the same record gives the same bytes."""
    return draw_process_record(record_of(batch, heading, voice), size=size)


def record_of(batch: Batch, heading: Heading, voice: Voice) -> ProcessRecord:
    """A constant number of queries for the batch, and one for the content of each file not read before."""
    steps = steps_of(batch.pk)
    reported = reported_of(batch.pk)
    events = list(
        Event.objects.filter(about__subject=batch.subject_id).select_related("site", "corrects").order_by("id")
    )
    verbs = {step.number: step.operation.verb for step in steps}
    last = max((event.recorded_at for event in events), default=None)
    return ProcessRecord(
        code=TravellerCode(batch.code),
        public_address=heading.public_address,
        maker=heading.maker,
        part=batch.part.title,
        facts=_facts(batch, heading, sum(step.state == StepState.DONE for step in steps), len(steps)),
        steps=tuple(step_record(account, reported, voice) for account in step_accounts(batch, steps)),
        used=tuple(_used(batch.lot)),
        holds=tuple(_holds(batch, voice)),
        corrections=tuple(_corrections(events, verbs)),
        late=tuple(_late(events, verbs)),
        news=len(events),
        last_news_at=on_clocks(last, batch.destination.zone) if last else None,
    )


def _facts(batch: Batch, heading: Heading, done: int, of: int) -> tuple[tuple[str, tuple[str, ...]], ...]:
    zone = batch.destination.zone
    kin = (
        [f"from {show_code(TravellerCode(batch.parent.code))}, whose record tells its earlier steps"]
        if batch.parent
        else []
    )
    kin += [f"{show_code(TravellerCode(child.code))} was set apart" for child in batch.children.order_by("id")]
    facts = [
        ("Part", (batch.part.title, batch.part.number)),
        ("Revision", (f"part {batch.part.revision or '–'}, routing {batch.routing.revision}",)),
        ("Orders", (words.listed(heading.orders) or "–",)),
        ("Steps", (f"{done} of {of} done",)),
        ("Wanted", (words.figure(batch.wanted),)),
        ("Start", (words.figure(batch.start),)),
        ("Released", (words.moment_on_paper(on_clocks(batch.released_at, zone)),)),
        ("Goes to", (batch.destination.name, f"due {words.day_on_paper(batch.due_on)}" if batch.due_on else "")),
    ]
    own = OwnNumber.objects.filter(lot=batch.lot_id or 0).select_related("site").order_by("id")
    called = [f"{row.number} ({row.site.name})" for row in own]
    found = (("Family", kin), ("Shops call it", called))
    return (*facts, *((name, tuple(lines)) for name, lines in found if lines))


def _used(lot: Lot | None) -> list[UsedRow]:
    """Net of corrections; a lot that the bill only supposes stays named."""
    if lot is None:
        return []
    sums: dict[int, int] = defaultdict(int)
    supposed: dict[int, bool] = defaultdict(bool)
    lots: dict[int, Lot] = {}
    for link in Link.objects.filter(child=lot).select_related("parent__part").order_by("id"):
        lots[link.parent_id] = link.parent
        sums[link.parent_id] += link.quantity
        supposed[link.parent_id] |= link.inferred
    return [
        UsedRow(
            parent.part.title,
            show_code(TravellerCode(parent.code)),
            parent.outside_number or "–",
            show_quantity(sums[pk], parent.part.unit),  # type: ignore[arg-type]
            supposed[pk],
        )
        for pk, parent in lots.items()
        if sums[pk] or supposed[pk]
    ]


def _holds(batch: Batch, voice: Voice) -> list[Remark]:
    if batch.lot is None:
        return []
    zone = batch.destination.zone
    found = []
    rows = Hold.objects.filter(lot=batch.lot).select_related("opened_event", "closed_event", "root__lot")
    for hold in rows.order_by("id"):
        then = "still held"
        if hold.closed_event and hold.closed_at:
            reason = f": {hold.reason}" if hold.reason else ""
            who = by(hold.closed_event)
            then = f"{hold.disposition}{reason} ({who}, {words.moment_on_paper(on_clocks(hold.closed_at, zone))})"
        root = f" (from lot {show_code(TravellerCode(hold.root.lot.code))})" if hold.root else ""
        what = f"{voice.say(hold.code, hold.figures)}{root}"
        found.append(Remark(on_clocks(hold.opened_at, zone), what, by(hold.opened_event), then))
    return found


def _corrections(events: Sequence[Event], verbs: dict[int, str]) -> list[Remark]:
    found = []
    for event in events:
        if event.corrects is None:
            continue
        reported = event.data.get("told", {})
        at = on_clocks(event.happened_at, event.site.zone) if event.site else event.happened_at
        if event.kind == "undone":
            found.append(
                Remark(at, f"{_where(event, verbs)}{event.data['what']}, taken back: it did not occur", by(event), "")
            )
            continue
        before, after = _figures(event.corrects.data.get("told", {})), _figures(reported)
        reason = str(reported.get("reason", ""))
        found.append(Remark(at, f"{_where(event, verbs)}{before} became {after}", by(event), reason))
    return found


def _figures(reported: dict[str, object]) -> str:
    scrap = reported.get("scrap") or {}
    pieces = sum(scrap.values()) if isinstance(scrap, dict) else 0
    good, rework, samples = (reported.get(what, 0) for what in ("good", "rework", "samples"))
    return f"good {good}, scrap {pieces}, rework {rework}, samples {samples}"


def _late(events: Sequence[Event], verbs: dict[int, str]) -> list[Remark]:
    """Told more than LATE after it happened; what was judged from it tells nothing new."""
    found = []
    for event in events:
        if event.recorded_at - event.happened_at <= _LATE or event.kind == "judged":
            continue
        zone = event.site.zone if event.site else UTC
        then = f"told {words.moment_on_paper(on_clocks(event.recorded_at, zone))}"
        if reason := event.data.get("told", {}).get("late_reason"):
            then += f": {reason}"
        what = f"{_where(event, verbs)}{event.kind}"
        found.append(Remark(on_clocks(event.happened_at, zone), what, by(event), then))
    return found


def _where(event: Event, verbs: dict[int, str]) -> str:
    number = event.data.get("number", event.data.get("step"))
    return f"{number}, {verbs.get(number, '')}: " if isinstance(number, int) else ""
