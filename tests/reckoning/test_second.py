"""A second opinion is one only if it does not ask the first."""

from __future__ import annotations

import ast
import sys
from pathlib import Path

from tests.architecture.tree import ROOT

HERE = ROOT / "tests" / "reckoning"


def test_the_reckoning_imports_nothing_but_the_standard_library_and_itself() -> None:
    modules = [path for path in HERE.glob("*.py") if not path.name.startswith("test_")]
    assert len(modules) > 8
    wrong = [f"{path.name}: {name}" for path in modules for name in _asked(path) if not _may(name)]
    assert not wrong


def _may(name: str) -> bool:
    return name.split(".")[0] in sys.stdlib_module_names or name.startswith("tests.reckoning.")


def _asked(path: Path) -> list[str]:
    """What a module imports, or would by other ways."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [one.name for one in node.names]
        elif isinstance(node, ast.ImportFrom):
            found += [f"{node.module}.{one.name}" for one in node.names]
        elif isinstance(node, ast.Name) and node.id in ("__import__", "eval", "exec"):
            found.append(node.id)
    return found


def test_another_import_would_be_seen(tmp_path: Path) -> None:
    path = tmp_path / "second.py"
    path.write_text("from traveller.orders import kits\nimport django\n__import__('os')\n", encoding="utf-8")
    assert [name for name in _asked(path) if not _may(name)] == ["traveller.orders.kits", "django", "__import__"]
