"""A valid workbook into the database: all of it in one transaction, or nothing and the reasons."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from django.db import transaction

from traveller.exchange.workbook import rows as r
from traveller.exchange.workbook.apply_orders import apply_batches, apply_orders, apply_stock
from traveller.exchange.workbook.apply_products import apply_parts, apply_technical
from traveller.exchange.workbook.apply_sites import apply_sites
from traveller.exchange.workbook.compare import Changes, canonical, compare, row_key
from traveller.exchange.workbook.confirming import unconfirmed_in
from traveller.exchange.workbook.current import from_database, known_from
from traveller.exchange.workbook.folders import Upload
from traveller.exchange.workbook.problems import WHOLE_FILE, Findings, Problem, Report, Unconfirmed
from traveller.exchange.workbook.raw import RawBook
from traveller.exchange.workbook.reading import read_raw, read_workbook
from traveller.journal.action import queue
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import record
from traveller.products import frozen

__all__ = ["KIND", "apply", "import_workbook"]

KIND = "workbook imported"


class _Faulty(Exception):
    """Rolls everything back on the way out."""


def import_workbook(
    source: Path | str | Upload | RawBook,
    *,
    event_context: EventContext,
    shift_days: int = 0,
    dry_run: bool = False,
    confirmed: str = "",
) -> Report | Unconfirmed | list[Problem]:
    """Read, check and apply a workbook; the same one twice changes nothing.

    Its faults, all of them; or its questions, unless `confirmed` is the token of exactly these; or what was done. A
    dry run is no answer to a question: its report says what would be done, and what is asked.
    """
    # Decoded before the database is asked for anything: nobody waits for a slow file.
    book = source if isinstance(source, RawBook) else read_raw(source)
    known = known_from(from_database(pictures=False))
    workbook = read_workbook(book, known=known, shift_days=shift_days)
    if isinstance(workbook, list):
        return workbook
    asked = unconfirmed_in(book, workbook.questions)
    if asked and not dry_run and asked.token != confirmed:
        return asked
    found = apply(workbook, event_context=event_context, dry_run=dry_run)
    return replace(found, asked=asked) if isinstance(found, Report) else found


def apply(workbook: r.Workbook, *, event_context: EventContext, dry_run: bool = False) -> Report | list[Problem]:
    """Write what is new or changed. `dry_run` goes all the way and takes it back.

    Sites, lanes, closures, people and parts are added or updated, never taken away. A part's bill, steps and
    checks are one whole: any change makes its next routing revision, batches under way keep theirs. Stock and
    batches under way are taken over once. What the workbook asks counts as confirmed here.
    """
    findings = Findings()
    try:
        with queue(), transaction.atomic():
            changes = _write(workbook, event_context, findings)
            if findings.problems:
                raise _Faulty
            if dry_run:
                transaction.set_rollback(True)
    except _Faulty:
        return findings.problems
    finally:
        # What was read of rows that are gone again must not be believed later.
        if dry_run or findings.problems:
            frozen.forget()
    return Report(changes.counts(), (*workbook.warnings, *findings.warnings), dry_run)


def _write(workbook: r.Workbook, event_context: EventContext, findings: Findings) -> Changes:
    before = from_database(pictures=False)
    units = {row.part: row.unit for row in (*before.parts, *workbook.parts)}
    digests = {row.part: row.picture for row in before.parts}
    mine = canonical(workbook, units, digests)
    changes = compare(mine, before)
    apply_sites(changes)
    apply_parts(changes, workbook, findings)
    if findings.problems:
        return changes
    apply_technical(mine, before, changes)
    apply_orders(mine, changes, event_context, findings)
    apply_stock(changes, event_context, findings)
    apply_batches(mine, changes, event_context, findings)
    _journal(changes, workbook, event_context, findings)
    return changes


def _journal(changes: Changes, workbook: r.Workbook, event_context: EventContext, findings: Findings) -> None:
    """What an import changed is news like any other: who, when, which rows, and what was confirmed for it."""
    reported: dict[str, Any] = {
        word: {sheet: rows for sheet in changes.news if (rows := _keys(changes, sheet, word))}
        for word in ("added", "changed", "removed")
    }
    if not any(reported.values()) or findings.problems:
        return
    if Event.objects.filter(uid=event_context.uid).exists():
        findings.wrong(WHOLE_FILE, None, "", "", "was sent under the number of another import", "open the page anew")
        return
    reported["confirmed"] = [question.text() for question in workbook.questions]
    record(event_context=event_context, kind=KIND, subjects=[], reported=reported)


def _keys(changes: Changes, sheet: str, word: str) -> list[str]:
    if word == "removed":
        rows = list(changes.removed.get(sheet, ()))
    else:
        rows = changes.of(sheet, "added") if word == "added" else changes.of(sheet, "changed")
    return [" / ".join(str(each) for each in row_key(row, sheet) if each not in (None, "")) for row in rows]
