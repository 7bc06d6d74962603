"""The measures measure: known examples give known figures, and bad source is reported by line and name."""

from __future__ import annotations

import ast

import pytest

from tests.architecture.measures import complexity, functions, too_branched, too_long, without_docstring

# A function's body, and the ways through it.
WAYS = [
    ("pass", 1),
    ("if a: pass", 2),
    ("if a: pass\nelif b: pass\nelse: pass", 3),
    ("return 1 if a else 2", 2),
    ("return a and b and c", 3),
    ("return a and (b or c)", 3),
    ("for a in b: pass", 2),
    ("for a in b: pass\nelse: pass", 3),
    ("while a: pass", 2),
    ("try: pass\nexcept A: pass\nexcept B: pass", 3),
    ("try: pass\nexcept A: pass\nelse: pass\nfinally: pass", 3),
    ("with a: pass", 1),
    ("assert a", 2),
    ("assert a and b", 2),
    ("return [x for x in a]", 2),
    ("return {x for y in a if y for x in y if x}", 5),
    ("return sorted(a, key=lambda x: x or 1)", 2),
    ("match a:\n    case 1: pass\n    case 2 if b: pass", 3),
    ("match a:\n    case 1: pass\n    case _: pass", 2),
    ("def inner():\n    if a: pass", 1),
    ("class Inner:\n    def method(self):\n        if a: pass", 1),
]


@pytest.mark.parametrize(("body", "ways"), WAYS)
def test_branches_are_counted(body: str, ways: int) -> None:
    lines = "\n".join(f"    {line}" for line in body.splitlines())
    outer = next(functions(ast.parse(f"def outer():\n{lines}")))
    assert complexity(outer) == ways


BAD = '''
class Lot:
    """A lot."""

    def judge(self, a, b):
        if a and b:
            return 1
        return [x for x in a if x]

    def _hidden(self):
        pass

class _Own:
    def seen(self):
        pass

async def fetch(a):
    def inner():
        return a or 1 or 2 or 3 or 4
    return inner
'''


def test_a_function_that_branches_too_often_is_named_be_it_a_method_or_an_inner_one() -> None:
    assert too_branched(BAD, 4) == ["5 judge: complexity 5", "18 inner: complexity 5"]
    assert too_branched(BAD, 5) == []


def test_a_module_and_a_function_that_are_too_long_are_named() -> None:
    assert too_long(BAD, module=19, function=3) == ["1 the whole: 20 lines", "5 judge: 4 lines", "17 fetch: 4 lines"]
    assert too_long(BAD, module=20, function=4) == []


def test_what_is_public_and_says_nothing_is_named() -> None:
    assert without_docstring(BAD) == ["5 Lot.judge", "17 fetch"]
    assert without_docstring('def ask():\n    """Said."""') == []
