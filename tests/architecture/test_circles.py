"""Modules use each other one way: none is reached again from what it uses, names for the type checker counted."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from graphlib import CycleError, TopologicalSorter

import pytest

from tests.architecture.tree import modules, name_of, parsed


def used(tree: ast.Module, known: set[str]) -> Iterator[str]:
    """Modules that this one imports, wherever in it that stands."""
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            for name in node.names:
                whole = f"{node.module}.{name.name}"
                yield whole if whole in known else node.module
        elif isinstance(node, ast.Import):
            yield from (name.name for name in node.names)


def circle(trees: Mapping[str, ast.Module]) -> list[str]:
    """The first circle that is found, as a way from a module back to itself; empty where there is none."""
    graph = {name: {one for one in used(tree, set(trees)) if one in trees} - {name} for name, tree in trees.items()}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as found:
        return list(reversed(found.args[1]))
    return []


def test_no_module_is_reached_again_from_what_it_uses() -> None:
    assert circle({name_of(path): parsed(path) for path in modules("traveller", "sites")}) == []


@pytest.mark.parametrize("way", ["from a import b", "import a.b", "from a.b import c", "def late():\n    import a.b"])
def test_a_circle_is_seen_however_its_modules_are_imported(way: str) -> None:
    trees = {"a": ast.parse(""), "a.b": ast.parse("if TYPE_CHECKING:\n    from a.d import e"), "a.d": ast.parse(way)}
    assert circle(trees) in (["a.b", "a.d", "a.b"], ["a.d", "a.b", "a.d"])
    assert circle({**trees, "a.d": ast.parse("from a.c import b")}) == []
