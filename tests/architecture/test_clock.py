"""Below the door nobody reads the clock: time is given, so that the past can be told and tests are sure."""

from __future__ import annotations

import ast
from collections.abc import Iterator

import pytest

from tests.architecture.tree import ROOT, modules, parsed

# decode measures its patience; a task begins where nobody waits, and tells what it calls what time it is.
AT_THE_DOOR = {"web", "exchange", "management", "decode", "tasks.py"}
READS = {
    "now": {"timezone", "datetime", "Now"},
    "utcnow": {"datetime"},
    "today": {"date", "datetime"},
    "localdate": {"timezone"},
    "localtime": {"timezone", "time"},
    "time": {"time"},
    "time_ns": {"time"},
    "monotonic": {"time"},
    "perf_counter": {"time"},
    "gmtime": {"time"},
}
SOURCES = {"time", "django.utils.timezone"}


def clock_reads(tree: ast.Module) -> Iterator[str]:
    """Every place that reads the clock, also when the function is only handed on (a field's default)."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and node.attr in READS:
            owner = getattr(node.value, "id", None) or getattr(node.value, "attr", None)
            if owner in READS[node.attr]:
                yield f"line {node.lineno}: {owner}.{node.attr}"
        elif isinstance(node, ast.ImportFrom) and node.module in SOURCES:
            yield from (f"line {node.lineno}: {a.name}" for a in node.names if a.name in READS)
        elif isinstance(node, ast.ImportFrom) and node.module == "django.db.models.functions":
            yield from (f"line {node.lineno}: {a.name}" for a in node.names if a.name == "Now")
        elif isinstance(node, ast.keyword) and node.arg in ("auto_now", "auto_now_add"):
            yield f"line {node.lineno}: {node.arg}"


def test_nothing_below_the_door_reads_the_clock() -> None:
    wrong = [
        f"{path.relative_to(ROOT)} {read}"
        for path in modules("traveller", "sites")
        if not AT_THE_DOOR & set(path.relative_to(ROOT).parts)
        for read in clock_reads(parsed(path))
    ]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize(
    "source",
    [
        "at = timezone.now()",
        "at = django.utils.timezone.now()",
        "at = datetime.datetime.now(tz=UTC)",
        "day = date.today()",
        "seconds = time.time()",
        "from time import monotonic",
        "from django.utils.timezone import now",
        "made_at = DateTimeField(default=timezone.now)",
        "made_at = DateTimeField(auto_now_add=True)",
    ],
)
def test_a_look_at_the_clock_is_seen(source: str) -> None:
    assert list(clock_reads(ast.parse(source)))


def test_a_given_time_is_no_look_at_the_clock() -> None:
    assert not list(clock_reads(ast.parse("def f(now, at):\n    return now - at, step.time, order.today")))
