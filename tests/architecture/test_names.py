"""A public name means one thing: no two rooms call different things alike, but for names by which a kind is known; and
no module has two of one name before it, even where one of them was given another name at its door."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import chain
from pathlib import Path

from tests.architecture.tree import ROOT, modules, name_of, parsed

# What every module of a kind has, and is asked for by that name.
PROTOCOL = {
    "KIND": "the kind of event, or of check, that a module is about",
    "WORDS": "the sentences of a module's codes",
    "COLUMNS": "the columns of a kind of check, or of a paper",
    "questions": "what a kind of check asks",
    "limit_words": "how a kind of check says its limit",
    "judge": "what a module with goals or limits says of what was found",
    "ROOM": "how a room is called in verify",
    "differences": "a room's check in verify",
    "register": "a module of template tags, to Django",
    "urlpatterns": "a module of addresses, to Django",
    "main": "the door of a module that is run",
}


def public(tree: ast.Module) -> Iterator[tuple[str, ast.stmt]]:
    """Functions, classes and values of a module that do not begin with a line."""
    for node in tree.body:
        names = []
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            names = [node.name]
        elif isinstance(node, ast.Assign):
            names = [target.id for target in node.targets if isinstance(target, ast.Name)]
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            names = [node.target.id]
        yield from ((name, node) for name in names if not name.startswith("_"))


def is_known_otherwise(node: ast.stmt) -> bool:
    """A page is known by its address and named after it, a tag by the templates; a type variable says nothing."""
    if isinstance(node, ast.FunctionDef):
        first = node.args.args[0].annotation if node.args.args else None
        is_page = isinstance(first, ast.Name) and first.id == "HttpRequest"
        return is_page or any("register." in ast.unparse(decorator) for decorator in node.decorator_list)
    value = getattr(node, "value", None)
    called = value.func if isinstance(value, ast.Call) else None
    return isinstance(called, ast.Name) and called.id in ("TypeVar", "ParamSpec")


def shared(trees: Iterable[tuple[Path, ast.Module]]) -> dict[str, list[str]]:
    """Names that stand in more than one room, with the modules that define them."""
    found: dict[str, dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    for path, tree in trees:
        room = "/".join(path.parts[:2]) if path.parts[0] == "traveller" else path.parts[0]
        for name, node in public(tree):
            if name not in PROTOCOL and not is_known_otherwise(node):
                found[name][room].append(str(path))
    return {name: sorted(chain(*rooms.values())) for name, rooms in found.items() if len(rooms) > 1}


def test_no_two_rooms_call_different_things_alike() -> None:
    trees = ((path.relative_to(ROOT), parsed(path)) for path in modules("traveller", "sites"))
    assert shared(trees) == {}


def test_a_name_that_two_rooms_share_is_seen_and_one_of_a_page_or_a_type_variable_is_not() -> None:
    one = ast.parse("T = TypeVar('T')\nKIND = 1\n_own = 1\ndef find(code): ...\ndef order(request: HttpRequest): ...")
    other = ast.parse("T = TypeVar('T')\nKIND = 2\n_own = 2\nclass find: ...\ndef order(): ...")
    pair = [(Path("traveller/a/x.py"), one), (Path("traveller/b/y.py"), other)]
    assert shared(pair) == {"find": ["traveller/a/x.py", "traveller/b/y.py"]}
    assert shared([(Path("traveller/a/x.py"), one), (Path("traveller/a/y.py"), other)]) == {}


def alike(tree: ast.Module, name: str) -> set[str]:
    """What the module of this name knows from two places, its own definitions counted, whatever it calls them."""
    homes: dict[str, set[str]] = defaultdict(set)
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] in ("traveller", "sites"):
            for one in node.names:
                homes[one.name].add(node.module)
    for own, node in public(tree):
        if not is_known_otherwise(node):
            homes[own].add(name)
    return {known for known, places in homes.items() if len(places) > 1} - PROTOCOL.keys()


def test_no_module_knows_two_things_by_one_name() -> None:
    found = {name_of(path): alike(parsed(path), name_of(path)) for path in modules("traveller", "sites")}
    assert {name: names for name, names in found.items() if names} == {}


def test_two_things_of_one_name_are_seen_under_whatever_name_they_are_imported() -> None:
    text = (
        "from traveller.a import find\nfrom traveller.b import find as found, own, KIND\nfrom traveller.c import KIND"
    )
    pages = "def find_page(request: HttpRequest): ...\ndef own(): ..."
    assert alike(ast.parse(f"{text}\n{pages}"), "traveller.d") == {"find", "own"}
    assert alike(ast.parse("from traveller.a import find\nfrom json import find as f"), "traveller.d") == set()
