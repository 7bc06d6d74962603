"""Do steps, loads, counts, readings, verdicts and holds follow from the journal?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from hashlib import sha256
from typing import Any

from django.db.models import F

from sites.models import Site, SitePass
from traveller.batches.actions.read_file import READ
from traveller.batches.files.decoded import message_of
from traveller.batches.history import for_review
from traveller.batches.history.replay import FIGURES, REPLAYED, Replay
from traveller.batches.history.replaying import replay
from traveller.batches.models import (
    Attachment,
    Batch,
    Count,
    EvidenceFile,
    FileReading,
    FirstPiece,
    Load,
    OwnNumber,
    Reading,
    Step,
    Verdict,
)
from traveller.batches.steps.closing import over
from traveller.journal.models import Event
from traveller.journal.verify import Difference, name_of, readable, reading, safely
from traveller.ledger.models import Hold

ROOM = "batches"
_STEP = ("site_id", "state", "started_at", "done_at", *FIGURES, "again_good", "again_scrap", "shots", "open_cavities")
_FILE = ("file_id", "step_id", "load_id", "kind", "name", "answers", "struck_by_id")
_LOAD = ("step_id", "number", "quantity", "started_at", "ended_at", "late_reason", "struck_by_id")


def differences() -> Iterator[Difference]:
    faults: list[Difference] = []
    replayed = replay(faults)
    yield from faults
    checks: dict[str, Iterator[Difference]] = {
        "steps": _steps(replayed),
        "loads": _loads(replayed),
        "counts": _counts(replayed),
        "readings": _readings(replayed),
        "files sent": _attachments(replayed),
        "bytes of files": _files(),
        "what was read of files": _read_files(),
        "verdicts": _verdicts(replayed),
        "first-offs": _first_pieces(replayed),
        "holds opened": _opened(replayed),
        "holds closed": _closed(replayed),
        "own numbers": _own_numbers(),
        "sites": _sites(),
        "closed batches": _over(),
        "news set aside": for_review.differences(),
        "lots of batches": _lots(),
    }
    for name, found in checks.items():
        yield from safely(ROOM, name, found)


def _lots() -> Iterator[Difference]:
    for batch in Batch.objects.exclude(lot=None).exclude(lot__subject=F("subject")).order_by("id"):
        yield Difference(ROOM, f"batch {batch.code}", "lot", str(batch.lot_id), "the lot of its subject")


def _differ(thing: str, fields: dict[str, tuple[Any, Any]]) -> Iterator[Difference]:
    for name, (stored, rebuilt) in fields.items():
        if stored != rebuilt:
            yield Difference(ROOM, thing, name, str(stored), str(rebuilt))


def _steps(replayed: Replay) -> Iterator[Difference]:
    for row in Step.objects.select_related("batch").order_by("id"):
        own = replayed.steps[row.pk]
        thing = f"batch {row.batch.code}, step {row.number}"
        yield from _differ(thing, {name: (getattr(row, name), getattr(own, name)) for name in _STEP})


def _loads(replayed: Replay) -> Iterator[Difference]:
    for row in Load.objects.select_related("step__batch").order_by("id"):
        thing = f"batch {row.step.batch.code}, step {row.step.number}, load {row.number}"
        own = replayed.loads.get(row.pk)
        if own is None:
            yield Difference(ROOM, thing, "start", "a load", "nothing told")
            continue
        yield from _differ(thing, {name: (getattr(row, name), getattr(own, name)) for name in _LOAD})


def _counts(replayed: Replay) -> Iterator[Difference]:
    stored = {
        row.event_id: (row.good, row.scrap, row.rework, row.samples, int(row.again), row.open_cavities)
        for row in Count.objects.order_by("id")
    }
    for event in sorted(stored.keys() | replayed.counts.keys()):
        fields = {"good, scrap, rework, samples, again": (stored.get(event), replayed.counts.get(event))}
        yield from _differ(f"count of event {event}", fields)


def _readings(replayed: Replay) -> Iterator[Difference]:
    stored: dict[int, list[list[Any]]] = defaultdict(list)
    for row in Reading.objects.order_by("id"):
        stored[row.event_id].append([row.check_key, row.name, row.value, row.unit, row.cavity, row.piece])
    for event in sorted(stored.keys() | replayed.readings.keys()):
        thing = f"readings of event {event}"
        yield from safely(ROOM, thing, _read(thing, stored.get(event, []), replayed.readings.get(event, [])))


def _read(thing: str, stored: list[list[Any]], replayed: list[list[Any]]) -> Iterator[Difference]:
    # As told: check, name, value, unit, load, cavity, piece, when.
    yield from _differ(thing, {"values": (stored, [[*row[:4], *row[5:7]] for row in replayed])})


def _attachments(replayed: Replay) -> Iterator[Difference]:
    """Each file stands where it was sent, is read as was answered, and is judged until something struck it."""
    stored = {row.event_id: row for row in Attachment.objects.order_by("id")}
    for event in sorted(stored.keys() | replayed.attachments.keys()):
        row, own = stored.get(event), replayed.attachments.get(event)
        if row is None or own is None:
            yield Difference(ROOM, f"file of event {event}", "sent", _there(row), _there(own))
            continue
        yield from _differ(f"file {row.name}", {name: (getattr(row, name), getattr(own, name)) for name in _FILE})


def _there(row: Attachment | None) -> str:
    return "nothing" if row is None else row.name


def _files() -> Iterator[Difference]:
    """Bytes that prove something are still the bytes that were sent: each is named by its digest."""
    for file in EvidenceFile.objects.order_by("digest").iterator(chunk_size=1):
        content = bytes(file.content)
        found = {"digest": (file.digest, sha256(content).hexdigest()), "size": (file.size, len(content))}
        yield from _differ(f"file {file.digest[:12]}", found)


def _read_files() -> Iterator[Difference]:
    """What was read of a file is what was judged by: as it was kept, and as the journal says."""
    there = set()
    for row in FileReading.objects.filter(state=FileReading.State.READ).order_by("id").iterator(chunk_size=1):
        there.add((row.file_id, row.kind, row.digest))
        try:
            found = sha256(message_of(bytes(row.content or b""))).hexdigest()
        except ValueError:
            found = "damaged"
        yield from _differ(f"{row.kind} of file {row.file_id[:12]}", {"read": (found, row.digest)})
    for event in Event.objects.filter(kind=READ).order_by("id").iterator():
        data = event.data
        if (data["file"], data["reading"], data["digest"]) not in there:
            yield Difference(ROOM, f"event {event.pk}", "read", "nothing", data["digest"][:12])


def _verdicts(replayed: Replay) -> Iterator[Difference]:
    seen = set()
    for row in Verdict.objects.select_related("step__batch").order_by("id"):
        key = (row.event_id, row.check_key, row.load_id)
        seen.add(key)
        thing = f"batch {row.step.batch.code}, step {row.step.number}, check {row.check_key}"
        judged = replayed.verdicts.get(key)
        if judged is None:
            yield Difference(ROOM, thing, "verdict", row.outcome, "never judged")
            continue
        yield from safely(ROOM, f"event {row.event_id}, check {row.check_key}", _verdict(thing, row, judged, replayed))
    for key in sorted(replayed.verdicts.keys() - seen, key=str):
        outcome = str(replayed.verdicts[key].get("outcome"))
        yield Difference(ROOM, f"event {key[0]}, check {key[1]}", "verdict", "gone", outcome)


def _verdict(thing: str, row: Verdict, judged: dict[str, Any], replayed: Replay) -> Iterator[Difference]:
    latest = replayed.latest.get((row.step_id, row.check_key, row.load_id)) == row.event_id
    key = (row.event_id, row.check_key, row.load_id)
    fields = {
        "outcome": (row.outcome, judged["outcome"]),
        "code": (row.code, judged["code"]),
        "figures": (row.figures, judged["figures"]),
        "latest": (row.latest, latest),
        "conceded": (row.conceded_event_id, replayed.conceded.get(key)),
    }
    yield from _differ(thing, fields)


def _first_pieces(replayed: Replay) -> Iterator[Difference]:
    """What the founder decided of first pieces, for which set-up."""
    stored = {
        row.event_id: (row.step_id, row.approved, row.decided_at, row.made_with) for row in FirstPiece.objects.all()
    }
    for event in sorted(stored.keys() | replayed.first_pieces.keys()):
        yield from _differ(
            f"first-off of event {event}", {"decision": (stored.get(event), replayed.first_pieces.get(event))}
        )


def _opened(replayed: Replay) -> Iterator[Difference]:
    """Holds that stand by themselves; those inherited are the ledger's matter."""
    stored = {
        (row.opened_event_id, row.cause): row.lot_id
        for row in Hold.objects.filter(root=None, opened_event__kind__in=REPLAYED).order_by("id")
    }
    for key in sorted(stored.keys() | replayed.opened.keys()):
        yield from _differ(f"hold {key[1]} of event {key[0]}", {"lot": (stored.get(key), replayed.opened.get(key))})


def _closed(replayed: Replay) -> Iterator[Difference]:
    rows = Hold.objects.select_related("lot", "closed_event", "root").order_by("id")
    for row in rows:
        if row.root_id is not None and row.pk not in replayed.closed:
            continue
        by_others = row.closed_event is not None and row.closed_event.kind not in REPLAYED
        if by_others and row.pk not in replayed.closed:
            continue
        event, disposition = replayed.closed.get(row.pk, (None, replayed.marked.get(row.pk, "")))
        fields = {
            "closed": (row.closed_at is not None, event is not None),
            "closed by": (row.closed_event_id, event),
            "disposition": (row.disposition, disposition),
        }
        yield from _differ(f"lot {row.lot.code}, hold {row.cause}", fields)


def _sites() -> Iterator[Difference]:
    """A site is closed by its last closing and opening; the passes that a closing ended are ended."""
    closed: dict[int | None, str | None] = {}
    for event in readable(Event.objects.filter(kind__in=("site closed", "site opened again"))):
        closed[event.site_id] = event.data["told"].get("on")
        yield from safely(ROOM, name_of(event), _passes(event))
    for site in Site.objects.order_by("id"):
        stored = site.closed_on.isoformat() if site.closed_on else None
        yield from _differ(f"site {site.code}", {"closed on": (stored, closed.get(site.pk))})


def _passes(event: Event) -> Iterator[Difference]:
    for row in SitePass.objects.filter(pk__in=event.data.get("passes", []), revoked_at=None):
        yield Difference(ROOM, f"pass {row.pk}", "revoked", "no", "yes")


def _own_numbers() -> Iterator[Difference]:
    """What shops call a lot, as they told it."""
    replayed: dict[int, tuple[int | None, str]] = {}
    faults: list[Difference] = []
    for event in readable(Event.objects.filter(kind="own number told")):
        with reading(event, ROOM, faults):
            replayed[event.pk] = (event.site_id, event.data["told"]["number"])
    yield from faults
    stored = {row.event_id: (row.site_id, row.number) for row in OwnNumber.objects.all()}
    for pk in sorted(stored.keys() | replayed.keys()):
        yield from _differ(f"own number of event {pk}", {"number": (stored.get(pk), replayed.get(pk))})


def _over() -> Iterator[Difference]:
    """Closed when and only when it is over; of the ledger and the steps, which are held against the journal."""
    for batch in Batch.objects.annotate(over=over()).order_by("id"):
        if batch.over != (batch.closed_at is not None):
            wanted = "closed" if batch.over else "open"
            yield Difference(ROOM, f"batch {batch.code}", "closed at", str(batch.closed_at), wanted)
