"""`manage.py lock`: writes requirements.lock anew from pyproject.toml."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from traveller.management.lock import NAME, PYTHONS, composed, disagreements, parts

NO_UV = "This needs the program uv (pip install uv). It resolves for all supported Pythons and systems at once."


class Command(BaseCommand):
    help = f"Writes {NAME} from pyproject.toml; versions stay as they are where they still fit."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--upgrade", action="store_true", help="take the newest version of everything that fits")

    def handle(self, *args: Any, **options: Any) -> None:
        file = settings.ROOT / NAME
        project = tomllib.loads((settings.ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
        before = file.read_text(encoding="utf-8") if file.exists() and not options["upgrade"] else ""
        text = renewed(find_uv(), settings.ROOT / "pyproject.toml", before)
        if wrong := disagreements(project, text):
            raise CommandError("Nothing was written. " + "; ".join(wrong))
        file.write_text(text, encoding="utf-8")
        self.stdout.write(f"{NAME} is written. Run all tests, then commit it together with pyproject.toml.")


def find_uv() -> str:
    """uv beside this Python, or on the path."""
    beside = Path(sys.executable).with_name("uv")
    found = str(beside) if beside.exists() else shutil.which("uv")
    if found is None:
        raise CommandError(NO_UV)
    return found


def renewed(uv: str, pyproject: Path, before: str) -> str:
    """The text of the lock. What `before` pins is kept where it fits; the tests get the product's very versions."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        # Relative names: uv writes them into its notes, and a folder of this machine is nobody's business.
        shutil.copy(pyproject, folder / "pyproject.toml")
        (folder / "core.txt").write_text(parts(before)[0] if before else "", encoding="utf-8")
        (folder / "whole.txt").write_text(before, encoding="utf-8")
        resolve(uv, folder, "core.txt")
        resolve(uv, folder, "whole.txt", "--extra", "test", "--constraints", "core.txt")
        core, whole = ((folder / each).read_text(encoding="utf-8") for each in ("core.txt", "whole.txt"))
    return composed(core, "".join(f"{line}\n" for line in whole.splitlines() if "-c core.txt" not in line))


def resolve(uv: str, folder: Path, out: str, *more: str) -> None:
    """One resolution for all Pythons and systems, with digests, into a file of this folder."""
    oldest = PYTHONS[0]
    fixed = ("--universal", "--python-version", oldest, "--generate-hashes", "--no-header", "--no-emit-index-url")
    command = [uv, "pip", "compile", "--quiet", *fixed, "--output-file", out, *more, "pyproject.toml"]
    done = subprocess.run(command, cwd=folder, env=os.environ, capture_output=True, text=True)
    if done.returncode != 0:
        raise CommandError(f"uv could not resolve the packages:\n{done.stderr.strip()}")
