"""`manage.py workbook_reference [PATH]`: what may stand in a workbook; or an empty one that explains itself."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from traveller.exchange.workbook import reference_text, template_xlsx, write_template_folder


class Command(BaseCommand):
    help = "Prints every sheet, column and kind of check of the workbook; with PATH writes an annotated template."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("path", type=Path, nargs="?", help="a file ending in .xlsx, or a folder to make (CSV)")

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path | None = options["path"]
        if path is None:
            self.stdout.write(reference_text(), ending="")
            return
        if path.exists() and (path.is_file() or any(path.iterdir())):
            raise CommandError(f"{path} is there already; give another name, so that nothing is written over.")
        if path.suffix.lower() == ".xlsx":
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(template_xlsx())
            self.stdout.write(f"Written: {path}")
        else:
            self.stdout.write(f"{len(write_template_folder(path))} files written to {path}")
