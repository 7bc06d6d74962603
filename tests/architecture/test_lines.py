"""Templates and style sheets are written for readers: no long lines, one declaration a line."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

import pytest

from tests.architecture.tree import ROOT

LINE_MAX = 120
FOLDERS = ("traveller", "sites", "tests")
TEMPLATES = (".html", ".txt", ".svg")
# What may hold a semicolon or a brace without ending a declaration.
_ASIDE = re.compile(r"""/\*.*?\*/|"[^"]*"|'[^']*'|url\([^)]*\)""", re.DOTALL)


def files(*suffixes: str) -> list[Path]:
    """Every template, or style sheet, of the project."""
    found = [path for folder in FOLDERS for path in sorted((ROOT / folder).rglob("*")) if path.suffix in suffixes]
    return [path for path in found if "templates" in path.parts or "static" in path.parts]


def long_lines(paths: Iterable[Path]) -> list[str]:
    """Each line over LINE_MAX characters, by file and number."""
    return [
        f"{path}:{number}: {len(line)} characters"
        for path in paths
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if len(line) > LINE_MAX
    ]


def crowded(sheet: str) -> list[int]:
    """The lines of a style sheet on which more than one declaration, or a rule and its declarations, stand."""
    bare = _ASIDE.sub(lambda found: re.sub(r"[^\n]", "_", found[0]), sheet)
    return [
        number
        for number, line in enumerate(bare.splitlines(), start=1)
        if re.search(r"[;{}]\s*[^\s_]", line) or re.search(r"[^\s}]\s*}", line)
    ]


def test_no_line_of_a_template_or_style_sheet_is_over_120_characters() -> None:
    paths = files(*TEMPLATES, ".css")
    assert len(paths) > 100, "the templates are no longer found where this test looks"
    assert not (wrong := long_lines(paths)), "\n".join(wrong)


def test_a_style_sheet_has_one_declaration_a_line() -> None:
    sheets = files(".css")
    assert sheets, "the style sheets are no longer found where this test looks"
    wrong = [f"{path}:{number}" for path in sheets for number in crowded(path.read_text(encoding="utf-8"))]
    assert not wrong, "\n".join(wrong)


def test_a_line_of_121_characters_is_found_and_one_of_120_is_not(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    page.write_text("é" * 120 + "\n" + "<" * 121 + "\n", encoding="utf-8")
    assert long_lines([page]) == [f"{page}:2: 121 characters"]


@pytest.mark.parametrize(
    ("sheet", "lines"),
    [
        ('a {\n  content: "; }"; /* why; */\n  src: url(data:a;b);\n}\n', []),
        ("a { color: red; }\n", [1]),
        ("a {\n  color: red; margin: 0;\n}\n", [2]),
        ("a {\n  color: red;\n} b {\n}\n", [3]),
        ("a {\n  color: red }\n", [2]),
    ],
)
def test_what_stands_crowded_on_a_line_is_found(sheet: str, lines: list[int]) -> None:
    assert crowded(sheet) == lines
