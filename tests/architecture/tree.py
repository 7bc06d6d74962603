"""The project's own files, as the architecture tests read them."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def modules(*folders: str, migrations: bool = False) -> Iterator[Path]:
    """Every Python file below these folders, generated migrations only when asked for."""
    for folder in folders:
        for path in sorted((ROOT / folder).rglob("*.py")):
            if migrations or "migrations" not in path.parts:
                yield path


def name_of(path: Path) -> str:
    """The dotted name of a module: traveller/batches/models/step.py is traveller.batches.models.step."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def parsed(path: Path) -> ast.Module:
    """The module as a syntax tree."""
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))
