"""The trade's words only, and nothing unfinished."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.architecture.tree import ROOT

TEXT = {".py", ".md", ".html", ".txt", ".csv", ".js", ".css", ".svg", ".json", ".po", ".toml"}
# Coinages and marketing words; the trade says batch, order, tote, hold, send, receive, step.
AVOIDED = (
    "handling unit",
    "movement type",
    "control tower",
    "cockpit",
    "digital thread",
    "e traveller",
    "smart traveller",
    "paperless",
    "single pane",
    "digital job card",
    "job card",
    "workbench",
    "work order",
)
AVOIDED_WORDS = re.compile(
    "|".join(rf"\b{word.replace(' ', '[ -]+')}s?\b" for word in AVOIDED).replace("e[ -]+trav", "e-trav"),
    re.IGNORECASE,
)
# Put together from halves, so that this file passes its own test.
UNFINISHED = re.compile(r"\b(TO" + r"DO|FIX" + r"ME|X" + r"XX|NotImplemented" + r"Error)\b")
PASSED_OVER = re.compile(r"\b(pytest\.(mark\.)?(skip|skipif|xfail|importorskip)|unittest\.skip)" + r"\b")


def texts(*places: str) -> list[Path]:
    """Every text file at or below these places."""
    found: list[Path] = []
    for place in places:
        root = ROOT / place
        paths = [root] if root.is_file() else sorted(root.rglob("*"))
        found += [path for path in paths if path.is_file() and path.suffix in TEXT]
    return found


def hits(pattern: re.Pattern[str], paths: list[Path]) -> list[str]:
    """Where the pattern stands, by file and line."""
    return [
        f"{path.relative_to(ROOT)}:{number} {found[0]!r}"
        for path in paths
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if (found := pattern.search(line))
    ]


def test_the_words_to_avoid_are_avoided() -> None:
    found = hits(AVOIDED_WORDS, texts("traveller", "sites", "fixtures", "README.md", "DEVELOPERS.md"))
    assert not found, "\n".join(found)


def test_nothing_is_marked_unfinished() -> None:
    everywhere = texts("traveller", "sites", "tests", "fixtures", "README.md", "DEVELOPERS.md", "manage.py")
    found = hits(UNFINISHED, everywhere)
    assert not found, "\n".join(found)


def test_no_test_is_passed_over_except_in_the_one_place_that_says_why() -> None:
    paths = [path for path in texts("tests") if path not in (ROOT / "tests/conftest.py", Path(__file__))]
    found = hits(PASSED_OVER, paths)
    assert not found, "\n".join(found)


@pytest.mark.parametrize("line", ["a Work Order", "the cockpits", "an e-traveller", "a job-card"])
def test_a_word_to_avoid_is_seen(line: str) -> None:
    assert AVOIDED_WORDS.search(line)


@pytest.mark.parametrize("line", ["the traveller", "work on this order", "the bench", "one traveller"])
def test_the_words_of_the_trade_are_not_taken_for_one(line: str) -> None:
    assert not AVOIDED_WORDS.search(line)
