"""What is wrong with a workbook, and what an import did: data, so that page and command line show the same."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

WHOLE_FILE = "(the file)"


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault, in the words of the person who filled the sheet; `row` counts as their spreadsheet does."""

    sheet: str
    row: int | None
    column: str
    found: str
    wrong: str
    right: str

    def text(self) -> str:
        """The fault as one line."""
        place = self.sheet
        if self.row is not None:
            place += f" row {self.row}"
        if self.column:
            place += f", column {self.column}"
        found = f'"{self.found}" ' if self.found else ""
        return f"{place}: {found}{self.wrong}" + (f"; {self.right}" if self.right else "")

    def __str__(self) -> str:
        return self.text()


@dataclass(frozen=True, slots=True)
class Counts:
    """Rows of one sheet by what the import did with them."""

    added: int = 0
    changed: int = 0
    unchanged: int = 0
    removed: int = 0
    """Bill lines, steps and checks that the workbook no longer has for a part it describes."""


@dataclass(frozen=True, slots=True)
class Report:
    """What an import did, or would do when `dry_run`."""

    sheets: Mapping[str, Counts]
    warnings: tuple[Problem, ...] = ()
    dry_run: bool = False

    @property
    def changes_nothing(self) -> bool:
        """True when every row of the workbook was there already."""
        return not any(counts.added or counts.changed or counts.removed for counts in self.sheets.values())


@dataclass(slots=True)
class Findings:
    """Problems and warnings gathered while reading; nothing stops at the first."""

    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)
    half_read: dict[str, list[Mapping[str, object]]] = field(default_factory=dict)
    """Per sheet the good cells of rows with a bad one: others may point at them without a second complaint."""
    unread: set[str] = field(default_factory=set)
    """Sheets of which nothing could be read, so that nobody can say what is missing in them."""

    def wrong(self, sheet: str, row: int | None, column: str, found: object, wrong: str, right: str) -> None:
        """Note something that stops the import."""
        self.problems.append(Problem(sheet, row, column, _shown(found), wrong, right))

    def warn(self, sheet: str, row: int | None, column: str, found: object, wrong: str, right: str) -> None:
        """Note something that the import lives with."""
        self.warnings.append(Problem(sheet, row, column, _shown(found), wrong, right))


def _shown(value: object, limit: int = 60) -> str:
    """A value as the person typed it, short enough for a line."""
    text = "" if value is None else " ".join(str(value).split())
    return text if len(text) <= limit else text[: limit - 1] + "…"


def nearest_word(word: str, valid: Iterable[str], at_most: int = 3) -> list[str]:
    """The valid words most like `word`, best first; case does not count."""
    by_folded: dict[str, str] = {}
    for each in valid:
        by_folded.setdefault(each.casefold(), each)
    folded = word.casefold()
    close = difflib.get_close_matches(folded, list(by_folded), n=at_most, cutoff=0.62)
    likeness = [difflib.SequenceMatcher(None, each, folded).ratio() for each in close]
    # What is much less like than the best only adds noise.
    return [by_folded[each] for each, like in zip(close, likeness, strict=True) if like > likeness[0] - 0.08]


def offer(word: str, valid: Iterable[str], otherwise: str, list_up_to: int = 16) -> str:
    """The half sentence that says which words would be right."""
    words = sorted(set(valid))
    close = nearest_word(word, words)
    if close:
        return "did you mean " + " or ".join(close) + "?"
    if 0 < len(words) <= list_up_to:
        return "use one of: " + ", ".join(words)
    return otherwise
