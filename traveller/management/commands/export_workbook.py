"""`manage.py export_workbook PATH`: the same workbook back, as a folder of CSV files, an XLSX or a zip."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from traveller.exchange.workbook import as_zip, from_database, write_csv_folder, write_xlsx
from traveller.management.ready import refuse_other


class Command(BaseCommand):
    help = "Writes sites, products, orders, opening stock and batches taken over as a workbook."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("path", type=Path, help="a folder to make, or a file ending in .xlsx or .zip")

    def handle(self, *args: Any, **options: Any) -> None:
        refuse_other()
        path: Path = options["path"]
        if path.exists() and (path.is_file() or any(path.iterdir())):
            raise CommandError(f"{path} is there already; give another name, so that nothing is written over.")
        workbook = from_database()
        if path.suffix.lower() == ".zip":
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(as_zip(workbook))
            written = [path]
        elif path.suffix.lower() == ".xlsx":
            written = write_xlsx(workbook, path)
        else:
            written = write_csv_folder(workbook, path)
        self.stdout.write(f"{len(written)} files written to {path}" if len(written) > 1 else f"Written: {path}")
