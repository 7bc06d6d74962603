"""Which room may know which: imports (late and type-only ones too) and models named in strings."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator

import pytest

from tests.architecture.tree import ROOT, modules, name_of, parsed

# Room -> the rooms it may know. DESIGN: each knows those above it; paper and decode only from consignments on.
LEDGER = {"rules", "sites", "products", "journal"}
FOUR = LEDGER | {"ledger", "paper", "decode"}
MAY_KNOW: dict[str, set[str]] = {
    "rules": set(),
    "paper": {"rules"},
    "decode": {"rules"},
    "sites": {"rules"},
    "products": {"rules", "sites"},
    "journal": {"rules", "sites"},
    "ledger": LEDGER,
    "dispatches": FOUR,
    "batches": FOUR | {"dispatches"},
    "orders": FOUR | {"dispatches", "batches"},
    "shipping": FOUR | {"dispatches", "batches", "orders"},
    "exchange": FOUR | {"dispatches", "batches", "orders", "shipping"},
    "web": FOUR | {"dispatches", "batches", "orders", "shipping", "exchange"},
}
ON_TOP = {"management"}
ROOMS = set(MAY_KNOW) | ON_TOP
MODEL_IN_TEXT = re.compile(r"^([a-z_]+)\.([A-Z]\w*)$")
MODEL_IN_MIGRATION = re.compile(r"^([a-z_]+)\.(\w+)$")
MODULE_IN_TEXT = re.compile(r"^(traveller\.\w+|sites)(\.\w+)*$")


def room_of(module: str) -> str | None:
    """The room a module belongs to; None for the world outside and for settings, urls and wsgi."""
    parts = module.split(".")
    if parts[0] == "sites":
        return "sites"
    if parts[0] == "traveller" and len(parts) > 1 and parts[1] in ROOMS:
        return parts[1]
    return None


def imported(tree: ast.Module, module: str, *, package: bool) -> Iterator[str]:
    """Every module that this one imports, wherever in the file, relative ones spelled out."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                parts = module.split(".")
                home = parts[: len(parts) - node.level + (1 if package else 0)]
                base = ".".join([*home, *([base] if base else [])])
            # `from traveller import batches` names the room only in its second half.
            yield from (f"{base}.{alias.name}" for alias in node.names)


def named_in_text(tree: ast.Module, *, migration: bool) -> Iterator[str]:
    """Rooms named by strings: foreign keys, get_model, migrations' dependencies, dotted module names."""
    pattern = MODEL_IN_MIGRATION if migration else MODEL_IN_TEXT
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            if found := pattern.match(node.value):
                yield found[1]
            if MODULE_IN_TEXT.match(node.value) and (room := room_of(node.value)) and "." in node.value:
                yield room
        elif isinstance(node, ast.Call) and getattr(node.func, "attr", "") in ("get_model", "get_app_config"):
            first = node.args[0] if node.args else None
            if isinstance(first, ast.Constant) and isinstance(first.value, str):
                yield first.value.split(".")[0]
        elif migration and isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "dependencies":
            for pair in ast.walk(node.value):
                if isinstance(pair, ast.Tuple) and isinstance(pair.elts[0], ast.Constant):
                    yield str(pair.elts[0].value)


def known_rooms(source: str, module: str, *, package: bool = False, migration: bool = False) -> set[str]:
    """The other rooms that this source knows."""
    tree = ast.parse(source)
    rooms = {room_of(name) for name in imported(tree, module, package=package)}
    rooms |= {name for name in named_in_text(tree, migration=migration) if name in ROOMS}
    return {room for room in rooms if room is not None and room != room_of(module)}


def test_every_folder_of_the_program_is_a_known_room() -> None:
    folders = {path.parent.name for path in (ROOT / "traveller").glob("*/__init__.py")}
    assert folders <= ROOMS, f"give these rooms their place among the arrows: {sorted(folders - ROOMS)}"


def test_no_room_knows_a_room_above_it() -> None:
    wrong = []
    for path in modules("traveller", "sites", migrations=True):
        module = name_of(path)
        room = room_of(module)
        if room is None or room in ON_TOP:
            continue
        known = known_rooms(
            path.read_text(encoding="utf-8"),
            module,
            package=path.name == "__init__.py",
            migration="migrations" in path.parts,
        )
        if forbidden := known - MAY_KNOW[room]:
            wrong.append(f"{path.relative_to(ROOT)} knows {', '.join(sorted(forbidden))}")
    assert not wrong, "\n".join(wrong)


def test_the_arithmetic_of_the_trade_knows_no_framework() -> None:
    wrong = [
        f"{path.relative_to(ROOT)} imports {name}"
        for path in modules("traveller/rules", "traveller/paper", "traveller/decode")
        for name in imported(parsed(path), name_of(path), package=path.name == "__init__.py")
        if name.split(".")[0] in ("django", "django_tables2", "psycopg")
    ]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize(
    ("source", "room"),
    [
        ("import traveller.web.tables", "web"),
        ("from traveller.orders.models import Order", "orders"),
        ("from traveller import shipping", "shipping"),
        ("from ..orders import models", "orders"),
        ("if TYPE_CHECKING:\n    from traveller.web import who", "web"),
        ("def late():\n    from traveller.exchange import workbook", "exchange"),
        ("order = ForeignKey('orders.Order', on_delete=CASCADE)", "orders"),
        ("Order = apps.get_model('orders', 'Order')", "orders"),
        ("importlib.import_module('traveller.web.who')", "web"),
        ("import sites.access", "sites"),
    ],
)
def test_a_forbidden_arrow_is_seen(source: str, room: str) -> None:
    assert known_rooms(source, "traveller.ledger.post") == {room}


def test_a_forbidden_arrow_in_a_migration_is_seen() -> None:
    source = "dependencies = [('orders', '0001_initial')]\nfield = ForeignKey(to='shipping.carton')"
    assert known_rooms(source, "traveller.ledger.migrations.0002_more", migration=True) == {
        "orders",
        "shipping",
    }


def test_a_word_that_only_looks_like_a_room_is_no_arrow() -> None:
    assert known_rooms("name = 'orders.csv'\nimport sitesmap", "traveller.ledger.post") == set()
