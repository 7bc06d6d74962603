"""A batch's papers: from rows to the dataclasses that traveller.paper draws. Printing is an event with a serial."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from traveller.batches.models import Batch, Step, TravellerPrint
from traveller.batches.status import statuses_of
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.ledger.models import Account, Hold, Link
from traveller.paper.canvas import PaperSize
from traveller.paper.printable import warnings_for
from traveller.paper.traveller import draw_traveller
from traveller.paper.traveller_facts import Traveller, TravellerStep
from traveller.paper.words import UNITS, day_on_paper
from traveller.paper.writing_box import WritingBox
from traveller.products.frozen import CheckPlan, checks_of
from traveller.products.models import OperationKind
from traveller.rules.cautions import CAUTIONS
from traveller.rules.codes import TravellerCode
from traveller.rules.statuses import STATUS_WORDS

KIND = "traveller printed"


@dataclass(frozen=True, slots=True)
class Heading:
    """What the batch itself does not know: the maker, whom to call, the orders it is for, the address on paper."""

    maker: str
    call_if_found: str
    public_address: str
    orders: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Printed:
    pdf: bytes
    serial: int
    warnings: tuple[str, ...]


@action
def print_traveller(*, event_context: EventContext, batch_id: int, heading: Heading, size: PaperSize = "A4") -> Printed:
    """Draw the next print of a batch's traveller; the same event context draws the same print again."""
    if not heading.public_address:
        raise Refused("no_public_address")
    reported = {"batch": batch_id, "size": size}
    before = earlier(event_context, KIND, reported)
    batch = (
        Batch.objects.select_for_update(of=("self",))
        .select_related("part", "lot", "subject", "destination", "routing")
        .get(pk=batch_id)
    )
    if before:
        serial = TravellerPrint.objects.get(event=before).serial
    else:
        serial = batch.print_serial + 1
        event = record(
            event_context=event_context,
            kind=KIND,
            subjects=[batch.subject],
            reported=reported,
            site_id=event_context.actor.site_id,
            serial=serial,
        )
        TravellerPrint.objects.create(batch=batch, serial=serial, event=event, address=heading.public_address)
        batch.print_serial = serial
        batch.save(update_fields=["print_serial"])
    content = traveller_of(batch, serial, heading, on=event_context.at.date())
    return Printed(draw_traveller(content, size=size), serial, tuple(warnings_for(content)))


def traveller_of(batch: Batch, serial: int, heading: Heading, *, on: date) -> Traveller:
    steps = list(batch.steps.select_related("operation", "site").order_by("number"))
    making = next((step for step in steps if step.operation.kind == OperationKind.MAKE), None)
    material, material_lot = _material(batch)
    stopped_as, holds = _stopped(batch, on)
    return Traveller(
        code=TravellerCode(batch.code),
        public_address=heading.public_address,
        maker=heading.maker,
        print_number=serial,
        product=batch.part.name,
        variant=batch.part.variant,
        colour=batch.part.colour,
        swatch_hex=batch.part.swatch,
        picture=bytes(batch.part.picture) if batch.part.picture else None,
        revision=batch.part.revision,
        orders=heading.orders,
        due=batch.due_on,
        destination=batch.destination.name,
        start=batch.start,
        wanted=batch.wanted,
        unit=UNITS[batch.part.unit],
        shots=_shots(batch, making),
        tool=making.operation.tool if making else "",
        cavities_open=making.open_cavities or None if making else None,
        cavities=making.operation.cavities or None if making else None,
        material=material,
        material_lot=material_lot,
        material_owner=heading.maker if material else "",
        call_if_found=heading.call_if_found,
        steps=tuple(_row(step) for step in steps),
        stopped_as=stopped_as,
        holds=holds,
        then=f"Send to {batch.destination.name}." if steps and steps[-1].site_id != batch.destination_id else "",
    )


def _shots(batch: Batch, making: Step | None) -> int | None:
    """Shots for all that is started, with those that warm the tool up; None where nothing is moulded."""
    if making is None or not making.operation.cavities:
        return None
    return -(-batch.start // making.operation.cavities) + making.operation.startup_shots


def _row(step: Step) -> TravellerStep:
    plans = checks_of(step.operation_id)
    cavities = range(1, (step.open_cavities or step.operation.cavities) + 1)
    limits = [text for plan in plans for text in limit_texts(plan)]
    if step.operation.instruction:
        limits.append(step.operation.instruction)
    gates = [plan for plan in plans if plan.is_gate]
    boxes = tuple(
        WritingBox(box.label, box.unit, 1 if box.width <= 8 and len(box.label) <= 18 else 2)
        for plan in plans
        for box in plan.kind.boxes(plan.params, list(cavities))
    )
    return TravellerStep(
        number=step.number,
        site=step.site.name,
        verb=step.operation.verb,
        limits=tuple(limits),
        show_first=", ".join(plan.key.replace("-", " ") for plan in gates),
        boxes=boxes,
        counts_pieces=step.operation.kind != OperationKind.PREPARE,
        caution=" ".join(CAUTIONS.get(step.operation.work, CAUTIONS["other"])),
    )


def limit_texts(plan: CheckPlan) -> list[str]:
    """A check's limits as they stand on paper: "15 min or more"."""
    return [plan.kind.words[code].format_map(dict(figures)) for code, figures in plan.kind.limit_words(plan.params)]


def _material(batch: Batch) -> tuple[str, str]:
    """The material of the first making step, and its lots as far as they are known."""
    if batch.lot_id is None:
        return "", ""
    links = Link.objects.filter(child=batch.lot_id, parent__part__kind="material").select_related("parent__part")
    names = list(dict.fromkeys(link.parent.part.title for link in links))
    lots = list(dict.fromkeys(link.parent.outside_number or link.parent.code for link in links))
    return ", ".join(names), ", ".join(lots)


def _stopped(batch: Batch, on: date) -> tuple[str, tuple[str, ...]]:
    """In a word what stops pieces of the batch, and why, reason by reason; what still waits for proof stands below."""
    accounts = list(Account.objects.filter(lot=batch.lot_id, balance__gt=0).select_related("lot", "site"))
    kinds = {status.kind for status in statuses_of(accounts, on).values()} if batch.lot_id else set()
    if "held" in kinds:
        holds = Hold.objects.filter(lot=batch.lot_id, closed_at=None)
        return STATUS_WORDS["held"], tuple(sorted({_hold_words(hold) for hold in holds}))
    if "expired" in kinds and batch.lot and batch.lot.expires_on:
        return STATUS_WORDS["expired"], (f"on {day_on_paper(batch.lot.expires_on)}",)
    return "", ()


def _hold_words(hold: Hold) -> str:
    reason = hold.figures.get("reason")
    step = hold.figures.get("step")
    if reason:
        return str(reason)
    return f"step {step}: {hold.cause.rsplit(':', 1)[-1].replace('-', ' ')}" if step else hold.code
