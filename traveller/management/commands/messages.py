"""Bring the message catalogues up to date with the sources, and compile them."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

if TYPE_CHECKING:
    from babel.messages import Catalog
    from babel.messages.catalog import Message

NO_BABEL = (
    "This needs the package Babel, which only developers need: `manage.py test` installs it with what tests need."
)


class Command(BaseCommand):
    """After sentences changed: run it, translate what is empty in django.po, run it again, commit both files."""

    help = "Collect the messages of the shops' pages into locale/*/LC_MESSAGES/django.po and compile django.mo."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--check", action="store_true", help="write nothing; fail when something is missing")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            from traveller.web.language.collect import messages
        except ModuleNotFoundError as error:
            raise CommandError(NO_BABEL) from error
        wanted = messages()
        missing = 0
        for path in catalogues():
            found = refreshed(path, wanted)
            lacking = [message for message in found if message.id and not is_translated(message, found)]
            missing += len(lacking)
            self.stdout.write(f"{path.parent.parent.name}: {len(found)} messages, {len(lacking)} without translation")
            if options["check"]:
                for message in lacking:
                    self.stdout.write(f"  {english(message)}")
            else:
                write_catalogue(path, found)
        if options["check"] and missing:
            raise CommandError(f"{missing} translations are missing.")


def catalogues() -> list[Path]:
    """The catalogue of each language that is not English."""
    return sorted(Path(settings.LOCALE_PATHS[0]).glob("*/LC_MESSAGES/django.po"))


def read_catalogue(path: Path) -> Catalog:
    """A catalogue as it was written; a line that is no line of one is an error."""
    from babel.messages.pofile import read_po

    with path.open("rb") as file:
        return read_po(file, locale=path.parent.parent.name, abort_invalid=True)


def refreshed(path: Path, wanted: Catalog) -> Catalog:
    """The wanted messages with the translations that are known; what is wanted no more is left out."""
    found = read_catalogue(path)
    # No guesses from sentences alike, and no date that changes with each run.
    found.update(wanted, no_fuzzy_matching=True, update_creation_date=False)
    return found


def is_translated(message: Message, catalogue: Catalog) -> bool:
    """Every form is there, and none is doubtful."""
    forms = message.string if isinstance(message.string, (tuple, list)) else [message.string]
    wanted = catalogue.num_plurals if message.pluralizable else 1
    return len(forms) == wanted and all(forms) and not message.fuzzy


def english(message: Message) -> str:
    """What is to be translated, in the singular."""
    return message.id if isinstance(message.id, str) else message.id[0]


def write_catalogue(path: Path, catalogue: Catalog) -> None:
    """The text that translators edit, and beside it what gettext reads, without what is empty or doubtful."""
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import write_po

    with path.open("wb") as text:
        write_po(text, catalogue, width=0, no_location=True, ignore_obsolete=True)
    with path.with_suffix(".mo").open("wb") as compiled:
        write_mo(compiled, catalogue)
