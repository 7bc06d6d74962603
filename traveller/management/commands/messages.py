"""Bring the message catalogues up to date with the sources, and compile them."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from traveller.web.language import po
from traveller.web.language.collect import messages


class Command(BaseCommand):
    """After sentences changed: run it, translate what is empty in django.po, run it again, commit both files."""

    help = "Collect the messages of the shops' pages into locale/*/LC_MESSAGES/django.po and compile django.mo."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--check", action="store_true", help="write nothing; fail when something is missing")

    def handle(self, *args: Any, **options: Any) -> None:
        wanted = messages()
        missing = 0
        for path in catalogues():
            before = po.read(path.read_text(encoding="utf-8"))
            after = po.Catalogue(before.header, refreshed(before, wanted))
            lacking = [entry.msgid for entry in after.entries.values() if not entry.is_translated]
            missing += len(lacking)
            language = path.parent.parent.name
            self.stdout.write(f"{language}: {len(after.entries)} messages, {len(lacking)} without translation")
            if options["check"]:
                for msgid in lacking:
                    self.stdout.write(f"  {msgid}")
                continue
            path.write_text(po.written(after), encoding="utf-8")
            path.with_suffix(".mo").write_bytes(po.compiled(after))
        if options["check"] and missing:
            raise CommandError(f"{missing} translations are missing.")


def catalogues() -> list[Path]:
    """The catalogue of each language that is not English."""
    return sorted(Path(settings.LOCALE_PATHS[0]).glob("*/LC_MESSAGES/django.po"))


def refreshed(catalogue: po.Catalogue, wanted: dict[str, str]) -> dict[str, po.Entry]:
    """The wanted messages with the translations that are known; what is wanted no more is left out."""
    entries = {}
    for msgid, plural in wanted.items():
        known = catalogue.entries.get(msgid)
        forms = catalogue.forms if plural else 1
        if known is None or known.plural != plural or len(known.words) != forms:
            known = po.Entry(msgid, plural, ("",) * forms)
        entries[msgid] = known
    return entries
