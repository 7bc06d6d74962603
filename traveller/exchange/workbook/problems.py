"""What is wrong with a workbook, and what an import did: data, so that page and command line show the same.

Three grades: a fault stops the import; a question stops it until somebody has confirmed it; a note stops nothing.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

WHOLE_FILE = "(the file)"

# What becomes of it once a question is confirmed: a column or a cell is left out, or a figure is taken as it stands.
Then = Literal["column", "cell", "taken"]


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
class Doubt(Problem):
    """Something legal and odd: asked, and done as `then` says once it is confirmed."""

    then: Then
    times: int = 1
    """In how many places; `row` is the first of them."""


@dataclass(frozen=True, slots=True)
class Unconfirmed:
    """An import that waits for an answer: its questions, and the `token` that confirms exactly these, of this file."""

    questions: tuple[Doubt, ...]
    token: str


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
    asked: Unconfirmed | None = None
    """What has to be confirmed before it is imported, where it was only tried."""

    @property
    def changes_nothing(self) -> bool:
        """True when every row of the workbook was there already."""
        return not any(counts.added or counts.changed or counts.removed for counts in self.sheets.values())


def merged(questions: Iterable[Doubt]) -> tuple[Doubt, ...]:
    """What is asked of several rows alike is asked once."""
    alike: dict[tuple[str, str, str, str], list[Doubt]] = {}
    for question in questions:
        alike.setdefault((question.sheet, question.column, question.wrong, question.right), []).append(question)
    return tuple(_in_one(same) for same in alike.values())


def _in_one(same: Sequence[Doubt]) -> Doubt:
    more = len(same) - 1
    if not more:
        return same[0]
    rows = "1 row" if more == 1 else f"{more:,} rows"
    return replace(same[0], wrong=f"{same[0].wrong} (likewise in {rows} more)", times=len(same))


def stopped_by(found: Report | Unconfirmed | Sequence[Problem]) -> Sequence[Problem]:
    """Why nothing was imported: its faults, or what it asks; nothing where there is a report."""
    if isinstance(found, Report):
        return ()
    return found.questions if isinstance(found, Unconfirmed) else found


@dataclass(slots=True)
class Findings:
    """Problems and warnings gathered while reading; nothing stops at the first."""

    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)
    questions: list[Doubt] = field(default_factory=list)
    half_read: dict[str, list[Mapping[str, object]]] = field(default_factory=dict)
    """Per sheet the good cells of rows with a bad one: others may point at them without a second complaint."""
    unread: set[str] = field(default_factory=set)
    """Sheets of which nothing could be read, so that nobody can say what is missing in them."""

    def wrong(self, sheet: str, row: int | None, column: str, found: object, wrong: str, right: str) -> None:
        """Note something that stops the import."""
        self.problems.append(Problem(sheet, row, column, _shown(found), wrong, right))

    def ask(self, sheet: str, row: int | None, column: str, found: object, wrong: str, right: str, then: Then) -> None:
        """Note something that the import waits for until it is confirmed."""
        self.questions.append(Doubt(sheet, row, column, _shown(found), wrong, right, then))

    def warn(self, sheet: str, row: int | None, column: str, found: object, wrong: str, right: str) -> None:
        """Note something that the import lives with."""
        self.warnings.append(Problem(sheet, row, column, _shown(found), wrong, right))


def _shown(value: object, limit: int = 60) -> str:
    """A value as the person typed it, short enough for a line."""
    text = "" if value is None else " ".join(str(value).split())
    return text if len(text) <= limit else text[: limit - 1] + "…"


def nearest_word(word: str, valid: Iterable[str], at_most: int = 3, like: float = 0.62) -> list[str]:
    """The valid words most like `word`, best first; case does not count."""
    by_folded: dict[str, str] = {}
    for each in valid:
        by_folded.setdefault(each.casefold(), each)
    folded = word.casefold()
    close = difflib.get_close_matches(folded, list(by_folded), n=at_most, cutoff=like)
    likeness = [difflib.SequenceMatcher(None, each, folded).ratio() for each in close]
    # What is much less like than the best only adds noise.
    return [by_folded[each] for each, near in zip(close, likeness, strict=True) if near > likeness[0] - 0.08]


def offer(word: str, valid: Iterable[str], otherwise: str, list_up_to: int = 16) -> str:
    """The half sentence that says which words would be right."""
    words = sorted(set(valid))
    short = 0 < len(words) <= list_up_to
    every = "use one of: " + ", ".join(words)
    # Where all words can be given, a guess must be a good one to stand before them, and a sure one to stand alone.
    close = nearest_word(word, words, like=0.75 if short else 0.62)
    if close:
        guess = "did you mean " + " or ".join(close) + "?"
        return f"{guess} if not, {every}" if short and not nearest_word(word, words, like=0.85) else guess
    if short:
        return every
    return otherwise
