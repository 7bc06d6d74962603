"""What stands in the product and is used by none of it: found by vulture, but for what has a reason to wait."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

from vulture import Vulture

from tests.architecture.tree import ROOT, modules

# A name: why it stays although nothing of the product asks for it. One that is asked for again leaves this list.
EXCEPTIONS = {
    # "Plan and promise" is to reckon with them.
    "plate_cooling_s": "rules/cooling waits for Plan and promise",
    "lumped_rate_per_s": "rules/cooling waits for Plan and promise",
    "seconds_to_share": "rules/cooling waits for Plan and promise",
    "hopper_kg": "rules/cooling waits for Plan and promise",
    "hopper_litres": "rules/cooling waits for Plan and promise",
    "DIFFUSIVITY_MM2_S": "rules/cooling waits for Plan and promise",
    "fixture_positions": "rules/cooling waits for Plan and promise",
    "step_minutes": "rules/durations waits for Plan and promise",
    "continuous_dwell_seconds": "rules/durations waits for Plan and promise",
    "positions_needed": "rules/durations waits for Plan and promise",
    "requirements": "rules/requirements waits for Plan and promise",
    "planned_receipts": "rules/requirements waits for Plan and promise",
    "on_hand_end": "rules/requirements waits for Plan and promise",
    "late_releases": "rules/requirements waits for Plan and promise",
    "add_working_minutes": "lays the minutes of rules/durations on a calendar, for Plan and promise",
    "chance_of_enough": "how many to start, for Plan and promise",
    "start_for_confidence": "how many to start, for Plan and promise",
    "decimal_sign": "how a log's file was understood, held by the tests of its reader; no page shows it",
    # The books.
    "reenter": "a verb of the journal that laws and replay know and no page asks for yet",
    "left_over": "the step law itself: tests ask it of every story",
    # Tests begin anew, and draw from closed lists.
    "forget_logs": "a process remembers logs for as long as it lives; a test must not",
    "let_lock_go": "a lock ends with its process; a test ends it before",
    "METHODS": "the closed list of Method, of which tests draw",
    # Columns that are written, or asked for by the database alone.
    "token_hash": "queries look a pass up by it",
    "address_hash": "queries count tries by it",
    "read_at": "queries ask for the newest",
    "packed_event": "queries look a carton up by it",
    # Words of a workbook's cells.
    "BOUGHT": "a kind of part that a workbook names",
    "MATERIAL": "a kind of part that a workbook names",
    "GRAM": "a base unit that a workbook names",
    "MILLIGRAM": "a base unit that a workbook names",
    "MILLIMETRE": "a base unit that a workbook names",
    "MILLILITRE": "a base unit that a workbook names",
    # Asked for by Python itself.
    "unraisablehook": "Python calls it with what it drops",
    # Asked for by a text that is put together.
    "open_step": "a field of the form that sends a step elsewhere, found by its name",
}
# Files of which Django reads every name.
READ_BY_NAME = ("settings.py", "formats.py")
# Columns of a workbook are read as the table that they are; tests/exchange/test_read_columns.py names an unread one.
READ_AS_TABLE = Path("traveller/exchange/workbook/sheets")
_PATH = re.compile(r"(?:traveller|sites)(?:\.\w+)+")
_TAG = re.compile(r"\{\{.*?\}\}|\{%.*?%\}", re.DOTALL)


def unused() -> Iterator[tuple[str, str]]:
    """(name, where and what) of what nothing in the product uses. What only a test uses is not used."""
    own = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["vulture"]
    finder = Vulture(ignore_names=own["ignore_names"], ignore_decorators=own["ignore_decorators"])
    for path in [*modules(*own["paths"]), ROOT / "manage.py"]:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        finder.scan(_without_offers(path, tree), filename=path)
        finder.used_names |= set(_named_by_path(tree))
    finder.used_names |= set(_named_by_templates())
    for found in finder.get_unused_code(min_confidence=own["min_confidence"]):
        path = Path(found.filename)
        is_column = found.typ == "variable" and path.relative_to(ROOT).parent == READ_AS_TABLE
        if path.name not in READ_BY_NAME and not is_column:
            yield found.name, f"{path.relative_to(ROOT)}:{found.first_lineno} {found.typ} {found.name}"


def _without_offers(path: Path, tree: ast.Module) -> str:
    """The module without its `__all__`: to offer a name is not to use it."""
    lines = path.read_text(encoding="utf-8").splitlines()
    for node in tree.body:
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name) and node.targets[0].id == "__all__":
            first, last = node.lineno - 1, node.end_lineno or node.lineno
            lines[first:last] = [""] * (last - first)
    return "\n".join(lines)


def _named_by_path(tree: ast.Module) -> Iterator[str]:
    """What a text such as "traveller.web.faults.not_there" names: settings and addresses know views that way."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and _PATH.fullmatch(node.value):
            yield node.value.rpartition(".")[2]


def _named_by_templates() -> Iterator[str]:
    """Every word in a tag of a template."""
    for path in (ROOT / "traveller").rglob("templates/**/*.html"):
        for tag in _TAG.findall(path.read_text(encoding="utf-8")):
            yield from re.findall(r"[A-Za-z_]\w*", tag)
