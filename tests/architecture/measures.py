"""What the architecture tests measure in a module: branches, lengths, docstrings. Source in, sentences out."""

from __future__ import annotations

import ast
from collections.abc import Iterator

Function = ast.FunctionDef | ast.AsyncFunctionDef


def functions(tree: ast.Module) -> Iterator[Function]:
    """Every function of a module in the order of its lines, methods and inner ones too."""
    return iter(sorted((node for node in ast.walk(tree) if isinstance(node, Function)), key=lambda one: one.lineno))


def complexity(function: Function) -> int:
    """Cyclomatic complexity: the ways through a function, one more than its branches; inner functions are their own."""
    return 1 + sum(_branches(node) for statement in function.body for node in _within(statement))


def _within(node: ast.AST) -> Iterator[ast.AST]:
    """A node and what is in it, but for inner functions and classes; an assertion is one branch whatever it asks."""
    if isinstance(node, Function | ast.ClassDef):
        return
    yield node
    if not isinstance(node, ast.Assert):
        for child in ast.iter_child_nodes(node):
            yield from _within(child)


def _branches(node: ast.AST) -> int:
    match node:
        case ast.If() | ast.IfExp() | ast.Assert():
            return 1
        case ast.BoolOp():
            return len(node.values) - 1
        case ast.comprehension():
            return 1 + len(node.ifs)
        case ast.For() | ast.AsyncFor() | ast.While():
            return 1 + bool(node.orelse)
        case ast.Try():
            return len(node.handlers) + bool(node.orelse)
        case ast.Match():
            return len(node.cases) - any(_takes_all(case.pattern) for case in node.cases)
    return 0


def _takes_all(pattern: ast.pattern) -> bool:
    return isinstance(pattern, ast.MatchAs) and pattern.pattern is None


def too_branched(source: str, most: int) -> list[str]:
    """Functions with more ways through them than `most`."""
    found = [(function, complexity(function)) for function in functions(ast.parse(source))]
    return [f"{function.lineno} {function.name}: complexity {ways}" for function, ways in found if ways > most]


def too_long(source: str, *, module: int, function: int) -> list[str]:
    """The module, if it has more lines than `module`, and its functions with more than `function`."""
    lines = len(source.splitlines())
    found = [f"1 the whole: {lines} lines"] if lines > module else []
    for one in functions(ast.parse(source)):
        lines = (one.end_lineno or one.lineno) - one.lineno + 1
        if lines > function:
            found.append(f"{one.lineno} {one.name}: {lines} lines")
    return found


def without_docstring(source: str) -> list[str]:
    """Public functions of a module, and public methods of its public classes, of which nobody says what they do."""
    return [f"{one.lineno} {name}" for name, one in _public(ast.parse(source)) if not ast.get_docstring(one)]


def _public(node: ast.Module | ast.ClassDef, of: str = "") -> Iterator[tuple[str, Function]]:
    for one in node.body:
        if isinstance(one, Function | ast.ClassDef) and not one.name.startswith("_"):
            if isinstance(one, ast.ClassDef):
                yield from _public(one, f"{of}{one.name}.")
            else:
                yield f"{of}{one.name}", one
