"""`manage.py import_workbook PATH`: sites, products, orders and stock from a folder of CSV files, an XLSX or a zip."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any
from uuid import uuid4

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from sites.actor import Actor
from traveller.exchange.workbook import Report, Unconfirmed, consequences, import_workbook
from traveller.journal.event_context import EventContext
from traveller.management.ready import refuse_other


class Command(BaseCommand):
    help = "Imports a workbook, all of it or nothing; every fault is named with its sheet, row and column."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("path", type=Path, help="a folder of CSV files, an XLSX or a zip of either")
        parser.add_argument("--dry-run", action="store_true", help="say what would change, and change nothing")
        parser.add_argument(
            "--confirm", default="", metavar="CODE", help="the code that an earlier run gave with its questions"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        refuse_other()
        now = timezone.now()
        event_context = EventContext(uid=uuid4(), at=now, recorded_at=now, actor=Actor("founder", "command line"))
        found = import_workbook(
            options["path"],
            event_context=event_context,
            dry_run=options["dry_run"],
            confirmed=options["confirm"],
        )
        if isinstance(found, Unconfirmed):
            self.ask(found)
            sys.exit(1)
        if isinstance(found, list):
            for problem in found:
                self.stderr.write(problem.text())
            faults = "1 fault" if len(found) == 1 else f"{len(found):,} faults"
            self.stderr.write(f"\nNothing was imported: {faults}.")
            sys.exit(1)
        self.show(found)

    def ask(self, asked: Unconfirmed) -> None:
        """Each question, and how all of them are confirmed."""
        for question in asked.questions:
            self.stderr.write(f"Question: {question.text()}")
        count = len(asked.questions)
        self.stderr.write(f"\nNothing was imported: {'1 question' if count == 1 else f'{count:,} questions'}.")
        self.stderr.write(f"To import, and {consequences(asked.questions)}: --confirm {asked.token}")

    def show(self, report: Report) -> None:
        """The report as a table, what was confirmed and what is noted first."""
        if report.asked:
            word = "Question" if report.dry_run else "Confirmed"
            for question in report.asked.questions:
                self.stdout.write(f"{word}: {question.text()}")
        for warning in report.warnings:
            self.stdout.write(f"Note: {warning.text()}")
        self.stdout.write(f"{'':10}{'added':>9}{'changed':>9}{'removed':>9}{'as it was':>11}")
        for sheet, counts in report.sheets.items():
            self.stdout.write(
                f"{sheet:10}{counts.added:9,}{counts.changed:9,}{counts.removed:9,}{counts.unchanged:11,}"
            )
        if report.changes_nothing:
            self.stdout.write("Everything was there already.")
        elif report.dry_run:
            self.stdout.write("Tried only: nothing was changed.")
            if report.asked:
                done = consequences(report.asked.questions)
                self.stdout.write(f"To import, and {done}: --confirm {report.asked.token}")
        else:
            self.stdout.write("Imported.")
