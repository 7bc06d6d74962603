"""What is compared: each figure of a page is claimed by a rule that reckons it, or named as one that nobody reckons."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from tests.reckoning.figures import Expected, Free, Moment, says, tokens
from tests.reckoning.goods import Known
from tests.reckoning.page import Page, Table, Tag

# So many tags of a kind are shown; of more, one less and their number.
FEW_MOST = 4


@dataclass(frozen=True)
class Rule:
    """Sentences of this form; `reckon` gives what each named part of it ought to say."""

    form: str
    reckon: Callable[[Mapping[str, str]], Mapping[str, Expected]]

    def match(self, text: str) -> re.Match[str] | None:
        return re.fullmatch(self.form, text)


@dataclass
class Book:
    """The comparison of one page after another: how many figures, and every difference in words."""

    compared: int = 0
    differences: list[str] = field(default_factory=list)
    of_what: Counter[str] = field(default_factory=Counter)
    excused: Counter[str] = field(default_factory=Counter)
    where: str = ""

    def differ(self, text: str) -> None:
        self.differences.append(f"{self.where}: {text}")

    def figure(self, what: str, shown: str, expected: Expected) -> None:
        """One thing that is shown, beside what was reckoned."""
        if isinstance(expected, Free):
            self.excused[expected.why] += len(tokens(shown))
            return
        if not says(shown, expected):
            self.differ(f"{what}: shows {shown!r}, reckoned {expected!r}")
        if tokens(shown) or (shown and isinstance(expected, int)):
            self.compared += 1
            self.of_what[what.partition(":")[0]] += 1

    def sentence(self, what: str, text: str, rules: Sequence[Rule]) -> None:
        """By the first rule that knows its form; a figure that no rule takes is a difference."""
        for rule in rules:
            if found := rule.match(text):
                self._claimed(what, found, rule)
                return
        if tokens(text):
            self.differ(f"{what}: not reckoned: {text!r}")

    def _claimed(self, what: str, found: re.Match[str], rule: Rule) -> None:
        shown = {name: value for name, value in found.groupdict().items() if value is not None}
        try:
            expected = rule.reckon(shown)
        except LookupError as unknown:
            self.differ(f"{what}: speaks of what is not there ({unknown}): {found[0]!r}")
            return
        spans = []
        for name, value in shown.items():
            if name in expected:
                spans.append(found.span(name))
                self.figure(f"{what}: {name} in {found[0]!r}", value, expected[name])
        for missing in set(expected) - set(shown):
            if not says("", expected[missing]):
                self.differ(f"{what}: does not say {missing} ({expected[missing]!r}): {found[0]!r}")
        for token in tokens(found[0]):
            if not any(start <= token.start() and token.end() <= end for start, end in spans):
                self.differ(f"{what}: {token[0]!r} is not reckoned in {found[0]!r}")

    def table(
        self, table: Table | None, what: str, keys: Sequence[str], reckoned: Sequence[Mapping[str, Expected]]
    ) -> None:
        """Row by row, found by the columns that name it; rows that are too many or missing are named."""
        if table is None:
            if reckoned:
                self.differ(f"{what}: no such table, reckoned {len(reckoned)} rows")
            return
        left = list(table.rows)
        for expected in reckoned:
            key = {one: expected[one] for one in keys}
            rows = [row for row in left if all(says(row[one], value) for one, value in key.items())]
            if not rows:
                self.differ(f"{what}: no row for {key}")
                continue
            # Of rows with the same name the one that says it best.
            row = max(rows, key=lambda one: sum(says(one[name], value) for name, value in expected.items()))
            left = [one for one in left if one is not row]
            name = " ".join(row[one] for one in keys)
            for column, value in expected.items():
                self.figure(f"{what}, {column}: {name}", row[column], value)
            for column in set(row) - set(expected):
                if tokens(row[column]):
                    self.differ(f"{what}, {column}: not reckoned: {row[column]!r} of {name}")
        for row in left:
            self.differ(f"{what}: a row too many, {row}")

    def tags(self, shown: Sequence[Tag], word: str, form: str, reckoned: Sequence[dict[str, Any]]) -> None:
        """All tags with this word: as many as reckoned, in any order, each with its figures."""
        mine = [tag for tag in shown if tag.word == word]
        if len(reckoned) > FEW_MOST:
            # The rest stands as one: counted, not told.
            more = f"{len(reckoned) - FEW_MOST + 1} more of this kind."
            if not any(tag.text == more for tag in mine):
                self.differ(f"tag {word}: reckoned {len(reckoned)}, and none says {more!r}")
            mine = [tag for tag in mine if tag.text != more]
            reckoned = reckoned[: FEW_MOST - 1]
        found = [(tag, re.fullmatch(form, tag.text)) for tag in mine]
        rest = [(tag, match.groupdict()) for tag, match in found if match]
        for tag, match in found:
            if not match:
                self.differ(f"tag {word}: not reckoned: {tag.text!r}")
        for expected in reckoned:
            if not rest:
                self.differ(f"tag {word}: missing: {expected}")
                continue
            best = max(rest, key=lambda one: sum(says(one[1].get(k) or "", v) for k, v in expected.items()))
            rest.remove(best)
            for name, value in expected.items():
                self.figure(f"tag {word}: {name} in {best[0].text!r}", best[1].get(name) or "", value)
            claimed = " ".join(best[1].get(name) or "" for name in expected)
            if len(tokens(best[0].text)) != len(tokens(claimed)):
                self.differ(f"tag {word}: not all reckoned: {best[0].text!r}")
        for tag, _match in rest:
            self.differ(f"tag {word}: one too many: {tag.text!r}")

    def sentences(self, page: Page, what: str, rules: Sequence[Rule]) -> None:
        """Every sentence of a page; a headline and a caption may be of several."""
        for one in page.sentences:
            for text in re.split(r"(?<=\.) (?=[A-Z\d])", one.text) if one.tag in ("h1", "figcaption") else [one.text]:
                self.sentence(what, text, rules)


def as_of(known: Known) -> Rule:
    """The moment of the page, in the founder's own zone."""
    return Rule(r"As of (?P<now>.+)", lambda _shown: {"now": Moment(known.now, known.zone)})
