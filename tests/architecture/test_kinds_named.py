"""No code outside rules/checks knows a kind of check by its name: whoever wants to know something asks its declaration.

Named is a kind whose module is imported, whose name stands as a text, of which a sentence is picked by its code, or
whose parameters are looked into. Some names are words of other things too: these count where a kind is meant.
"""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Collection, Iterator

import pytest

from tests.architecture.tree import ROOT, modules, parsed
from traveller.rules.checks import KINDS

HOME = "traveller/rules/checks/"
# A kind's name that is also the name of something else, and of what.
OTHER_MEANINGS = {
    "age": "how long a hold or a decision has been waiting",
    "dimension": "which kind of quantity a unit measures",
    "drying": "a verb of an operation",
    "reading": "a row of what was read, and what was read of a file",
    "sample": "pieces that were weighed to count the others",
    "variant": "a part's variant",
}
# A place, and why it may: data that states a check as a founder's workbook does, and code under other hands.
EXCEPTIONS = {
    ("traveller/management/trials/worker/hand.py", "soak"): "a row of the routing that the trial is about",
    ("traveller/batches/proof/gates.py", "approval"): "asks allowed of the kind's module; plan.kind.allowed says it",
}
_SAYS_KIND = re.compile(r"(\.|\b)(kind(\.name)?|kind_name|KIND|KINDS|kinds|names_of)(\[.*)?$")
OWN_CODES = frozenset(
    code for code, kinds in Counter(code for kind in KINDS.values() for code in kind.words).items() if kinds == 1
)


def named(tree: ast.Module, kinds: Collection[str] = KINDS, codes: Collection[str] = OWN_CODES) -> Iterator[str]:
    """The kinds that a module names, each as often as it does; `params.x` where it looks into parameters."""
    meant = {id(node) for found in ast.walk(tree) for node in _meant(found)}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            if node.module.startswith("traveller.rules.checks"):
                last = node.module.rpartition(".")[2]
                yield from {last, *(one.name for one in node.names)} & set(kinds)
        elif isinstance(node, ast.Import):
            yield from {one.name.rpartition(".")[2] for one in node.names if "rules.checks" in one.name} & set(kinds)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            if (node.value in kinds and (id(node) in meant or node.value not in OTHER_MEANINGS)) or node.value in codes:
                yield node.value
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Attribute) and node.value.attr == "params":
            yield f"params.{node.attr}"
        elif _looks_into(node):
            yield "params.*"


def _looks_into(node: ast.AST) -> bool:
    """getattr, hasattr and isinstance of a check's parameters."""
    if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name) or not node.args:
        return False
    return node.func.id in ("getattr", "hasattr", "isinstance") and ast.unparse(node.args[0]).endswith(".params")


def _meant(node: ast.AST) -> Iterator[ast.AST]:
    """Texts that stand where a kind is asked for: compared with one, handed over as one, kept as one."""
    sides: list[ast.expr] = []
    if isinstance(node, ast.Compare):
        sides = [node.left, *node.comparators]
    elif isinstance(node, ast.Subscript):
        sides = [node.value, node.slice]
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
        sides = [node.func.value, *node.args]
        yield from (text for word in node.keywords if word.arg in _KEYWORDS for text in ast.walk(word.value))
    elif isinstance(node, ast.Call):
        yield from (text for word in node.keywords if word.arg in _KEYWORDS for text in ast.walk(word.value))
    elif isinstance(node, ast.Assign | ast.AnnAssign) and node.value:
        targets = node.targets if isinstance(node, ast.Assign) else [node.target]
        if any("KIND" in ast.unparse(target) for target in targets):
            yield from ast.walk(node.value)
    elif isinstance(node, ast.Match):
        if _SAYS_KIND.search(ast.unparse(node.subject)):
            yield from (text for case in node.cases for text in ast.walk(case.pattern))
    elif isinstance(node, ast.Dict):
        pairs = zip(node.keys, node.values, strict=True)
        yield from (value for key, value in pairs if isinstance(key, ast.Constant) and key.value == "kind")
    if any(_SAYS_KIND.search(ast.unparse(side)) for side in sides):
        yield from (text for side in sides for text in ast.walk(side))


_KEYWORDS = ("kind", "kind__in", "kind_name", "checks__kind", "checks__kind__in", "check_kind")


def of_template(text: str, kinds: Collection[str] = KINDS) -> list[str]:
    """The kinds that a template's tags compare something with."""
    words = "|".join(map(re.escape, kinds))
    return re.findall(rf"kind(?:\.name)?\s*(?:==|!=|in)\s*[\"'](?:[\w ]*\b)?({words})\b", text)


def everywhere() -> Iterator[tuple[str, str]]:
    """(file, what it names) outside the room of the kinds."""
    for path in modules("traveller", "sites"):
        file = str(path.relative_to(ROOT))
        if not file.startswith(HOME):
            yield from ((file, name) for name in named(parsed(path)))
    for path in (ROOT / "traveller").rglob("*.html"):
        yield from ((str(path.relative_to(ROOT)), name) for name in of_template(path.read_text(encoding="utf-8")))


def test_no_code_outside_the_room_of_the_kinds_names_one() -> None:
    found = set(everywhere())
    wrong = sorted(found - EXCEPTIONS.keys())
    assert not wrong, "ask what the kind declares (rules/checks/kind.py):\n" + "\n".join(map(str, wrong))
    assert not EXCEPTIONS.keys() - found, "no exception any more"


def test_a_kind_is_called_as_its_module_is() -> None:
    assert {name: (ROOT / HOME / f"{name}.py").is_file() for name in KINDS} == dict.fromkeys(KINDS, True)
    assert set(OTHER_MEANINGS) < set(KINDS)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("if plan.kind.name == 'age': pass", "age"),
        ("if row.kind in ('dimension', 'reading'): pass", "dimension"),
        ("if 'sample' != plan.kind.name: pass", "sample"),
        ("Check.objects.filter(kind='variant')", "variant"),
        ("Check.objects.filter(kind__in=('window', 'reading'))", "reading"),
        ("KIND = 'approval'", "approval"),
        ("KINDS_ASKED: tuple[str, ...] = ('drying',)", "drying"),
        ("KINDS['reading'].parse(raw)", "reading"),
        ("KINDS.get('sample')", "sample"),
        ("row = {'key': 'x', 'kind': 'drying'}", "drying"),
        ("match plan.kind.name:\n    case 'age':\n        pass", "age"),
        ("anything = 'torque'", "torque"),
        ("from traveller.rules.checks import soak", "soak"),
        ("from traveller.rules.checks.cure import CureParams", "cure"),
        ("import traveller.rules.checks.window", "window"),
        ("say('approval.refused', {})", "approval.refused"),
        ("plan.params.after", "params.after"),
        ("getattr(plan.params, 'hours', None)", "params.*"),
        ("isinstance(item.params, Something)", "params.*"),
    ],
)
def test_a_kind_that_is_named_is_seen(text: str, name: str) -> None:
    assert name in set(named(ast.parse(text)))


@pytest.mark.parametrize(
    "text",
    [
        "figures = {'sample': 5}",
        "rows.order_by('name', 'variant')",
        "UnitError('dimension', value)",
        "VERBS = ('drying', 'moulding')",
        "from traveller.rules.checks.limits import Limits",
        "say('limit.at_least', {})",
        "plan.kind.judge(plan.params, known)",
    ],
)
def test_a_word_of_something_else_is_none(text: str) -> None:
    assert list(named(ast.parse(text))) == []


def test_a_template_that_compares_with_a_kind_is_seen() -> None:
    assert of_template('{% if plan.kind.name == "age" %}') == ["age"] and of_template('{% if kind == "log" %}') == []
