"""Small rooms: no module and no function grows past what one can read at once."""

from __future__ import annotations

import ast

from tests.architecture.tree import ROOT, modules, parsed

MODULE_LINES_MAX = 400
FUNCTION_LINES_MAX = 70
FOLDERS = ("traveller", "sites", "tests")


def test_no_module_is_longer_than_400_lines() -> None:
    paths = [*modules(*FOLDERS), ROOT / "manage.py"]
    lengths = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in paths}
    wrong = [f"{path.relative_to(ROOT)}: {n} lines" for path, n in lengths.items() if n > MODULE_LINES_MAX]
    assert not wrong, "\n".join(wrong)


def test_no_function_is_longer_than_70_lines() -> None:
    wrong = []
    for path in [*modules(*FOLDERS), ROOT / "manage.py"]:
        for node in ast.walk(parsed(path)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                length = (node.end_lineno or node.lineno) - node.lineno + 1
                if length > FUNCTION_LINES_MAX:
                    wrong.append(f"{path.relative_to(ROOT)}:{node.lineno} {node.name}: {length} lines")
    assert not wrong, "\n".join(wrong)


def test_no_module_is_a_drawer_for_everything() -> None:
    drawers = {"utils", "util", "helpers", "misc", "common"}
    wrong = [path for path in (ROOT / "traveller").rglob("*") if path.stem in drawers and path.is_file()]
    assert not wrong


def test_the_top_level_holds_what_it_should_and_nothing_else() -> None:
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "manage.py",
        "pyproject.toml",
        "requirements.lock",
        "traveller",
        "sites",
        "tests",
        "fixtures",
    }
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith((".", "__pycache__"))}
    assert found <= allowed, f"does not belong at the top: {sorted(found - allowed)}"
