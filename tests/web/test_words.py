"""Every code that the source refuses, holds, parks, asks or judges with has its sentence, and no sentence has a gap."""

from __future__ import annotations

import ast
import re
import string
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from django.utils import translation

from tests.architecture.tree import ROOT, modules, parsed
from traveller.rules.checks import KINDS
from traveller.web import words
from traveller.web.asked_words import QUESTIONS
from traveller.web.goods_words import GOODS
from traveller.web.words import ASSUMPTIONS, CONDITIONS, HOLDS, REFUSALS, known, say

TABLES = (REFUSALS, HOLDS, ASSUMPTIONS, GOODS, QUESTIONS)

# The callables whose codes reach a reader: where the code stands, and where its figures stand beside it.
# None for the figures: they are the keywords of the call.
CODED: dict[str, tuple[int, int | None]] = {
    "Refused": (0, None),
    "Refusal": (0, 1),
    "Asked": (0, 1),
    "Problem": (0, 1),
    "Assumption": (0, 1),
    "say": (0, 1),
    "park": (1, None),
    "Look": (1, 2),
    "Warning": (0, 1),
    "Stop": (1, 2),
    "StopReason": (0, 1),
}
# What words.say adds by itself.
ADDED = {"why_sentence": "why_code"}
# What the judge of permission adds to every reason: which lot it is.
ADDED_BY_JUDGE = {"StopReason": frozenset({"lot", "part"})}


@dataclass(frozen=True)
class Coded:
    """A code at its place; `figures` are the names given with it, None when they are not spelled out there."""

    place: str
    code: str
    figures: frozenset[str] | None


def own_refusals(tree: ast.Module) -> bool:
    """The workbook's own Refused speaks in sentences, not in codes."""
    return any(
        isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("traveller.exchange")
        for node in ast.walk(tree)
    )


def used() -> Iterator[Coded]:
    for path in modules("traveller", "sites"):
        if "exchange" in path.parts:
            continue
        tree = parsed(path)
        if own_refusals(tree):
            continue
        names = {
            target.id: node.value.value
            for node in tree.body
            if isinstance(node, ast.Assign) and isinstance(node.value, ast.Constant)
            for target in node.targets
            if isinstance(target, ast.Name) and isinstance(node.value.value, str)
        }
        for node in ast.walk(tree):
            if isinstance(node, ast.Call):
                yield from codes_of(node, names, path)
            elif isinstance(node, ast.Return) and isinstance(node.value, ast.Tuple):
                yield from reason_in(node.value, path)


def codes_of(call: ast.Call, names: dict[str, str], path: Path) -> Iterator[Coded]:
    name = call.func.id if isinstance(call.func, ast.Name) else getattr(call.func, "attr", "")
    place = f"{path.relative_to(ROOT)}:{call.lineno}"
    if name in CODED:
        at, figures_at = CODED[name]
        if len(call.args) > at:
            figures = keywords(call) if figures_at is None else literal_keys(call, figures_at)
            if figures is not None:
                figures |= ADDED_BY_JUDGE.get(name, frozenset())
            for code in texts(call.args[at], names):
                yield Coded(place, code, figures)
    else:
        # Holds, verdicts and stops name their code by keyword; lots and sites have codes too, in capitals or fields.
        for keyword in call.keywords:
            if keyword.arg == "code" and name not in ("filter", "get", "get_or_create", "exclude"):
                for code in texts(keyword.value, names):
                    yield Coded(place, code, None)


def reason_in(pair: ast.Tuple, path: Path) -> Iterator[Coded]:
    """`return "expired", {...}`: a reason whose caller adds figures of its own."""
    if len(pair.elts) == 2 and isinstance(pair.elts[1], ast.Dict):
        for code in texts(pair.elts[0], {}):
            yield Coded(f"{path.relative_to(ROOT)}:{pair.lineno}", code, None)


def texts(node: ast.expr, names: dict[str, str]) -> Iterator[str]:
    """The strings that an expression can be, as far as they are spelled out."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value:
        yield node.value
    elif isinstance(node, ast.Name) and node.id in names:
        yield names[node.id]
    elif isinstance(node, ast.IfExp):
        yield from texts(node.body, names)
        yield from texts(node.orelse, names)


def keywords(call: ast.Call) -> frozenset[str] | None:
    named = [keyword.arg for keyword in call.keywords]
    return None if None in named else frozenset(name for name in named if name)


def literal_keys(call: ast.Call, at: int) -> frozenset[str] | None:
    node = call.args[at] if len(call.args) > at else None
    if node is None:
        node = next((keyword.value for keyword in call.keywords if keyword.arg == "figures"), None)
    if node is None:
        return frozenset()
    if not isinstance(node, ast.Dict):
        return None
    keys = [key.value if isinstance(key, ast.Constant) else None for key in node.keys]
    return None if None in keys else frozenset(str(key) for key in keys)


def gaps_in(sentence: str) -> set[str]:
    return {field for _text, field, _format, _conversion in string.Formatter().parse(sentence) if field}


USED = sorted(set(used()), key=lambda coded: coded.place)


def test_the_walk_finds_the_codes_of_every_room_that_refuses() -> None:
    rooms = {coded.place.split("/")[1] for coded in USED}
    assert {"journal", "ledger", "dispatches", "batches", "orders", "shipping", "web"} <= rooms
    assert {"told_otherwise", "held", "not_proved", "dispatch_unknown", "wrong_variant", "kit_short"} <= {
        coded.code for coded in USED
    }


def test_every_code_in_the_source_has_its_sentence() -> None:
    missing = [f"{coded.place}: {coded.code}" for coded in USED if not known(coded.code)]
    assert not missing, "\n".join(missing)


def test_no_sentence_has_a_gap_that_its_code_does_not_fill() -> None:
    wrong = []
    for coded in USED:
        sentence = str(next((table[coded.code] for table in TABLES if coded.code in table), ""))
        if coded.figures is None or not sentence:
            continue
        filled = coded.figures | {added for added, by in ADDED.items() if by in coded.figures}
        if gaps_in(sentence) - filled:
            wrong.append(f"{coded.place}: {coded.code} is not given {sorted(gaps_in(sentence) - filled)}")
    assert not wrong, "\n".join(wrong)


def test_every_code_of_every_kind_of_check_has_its_words() -> None:
    missing = []
    for path in modules("traveller/rules/checks"):
        for node in ast.walk(parsed(path)):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                code = node.value
                if re.fullmatch(r"[a-z_]+\.[a-z_]*[a-z]", code) and not known(code):
                    missing.append(f"{path.name}:{node.lineno}: {code}")
    assert not missing, "\n".join(missing)


@pytest.mark.parametrize(
    ("code", "sentence"),
    [(code, str(text)) for table in TABLES for code, text in table.items()]
    + [(code, text) for kind in KINDS.values() for code, text in kind.words.items()],
)
def test_every_sentence_takes_its_figures(code: str, sentence: str) -> None:
    figures = dict.fromkeys(gaps_in(sentence), 1234)
    said = say(code, figures)
    assert "{" not in said and "}" not in said
    assert all("1,234" in said for name in figures if not name.endswith("_ppm"))
    assert said == say(code, {**figures, "unused": "x"})


def test_every_sentence_is_a_sentence() -> None:
    for code, text in {**REFUSALS, **HOLDS, **ASSUMPTIONS, **GOODS, **QUESTIONS}.items():
        said = str(text).format_map(words._Figures())
        assert said[0].isupper() or said[0] in "“–", code
        assert said[-1] in ".?!–", code
        assert re.fullmatch(r"[a-z_]+", code), code


def test_no_code_has_two_sentences() -> None:
    tables = [set(table) for table in TABLES]
    assert sum(map(len, tables)) == len(set.union(*tables))


def test_every_condition_of_the_ledger_has_a_word() -> None:
    from traveller.ledger.models import Condition

    assert set(CONDITIONS) == set(Condition.values)


def test_figures_are_written_as_people_read_them() -> None:
    short = {"there": 1132, "wanted": 1400, "part": "Globe, amber", "lot": "74W700R", "condition": "stock"}
    assert say("short", short) == (
        "Only 1,132 of Globe, amber (lot 74W-700-R) are in stock there, 1,400 were asked for."
    )


def test_a_share_is_written_in_per_cent() -> None:
    figures = {"part": "GLOBE", "step": 20, "verb": "mould", "yield_ppm": 970_000}
    assert say("step_yield", figures) == "GLOBE, step 20, mould: 97 % of the pieces come out good."


def test_what_is_missing_is_written_part_by_part() -> None:
    said = say("kit_short", {"missing": {"Leaflet": "3", "Carton": "1"}})
    assert said == "The kit is not complete. Still missing: Leaflet: 3; Carton: 1."


def test_a_list_of_figures_is_written_as_a_list() -> None:
    assert "LAMP, GLOBE, LAMP" in say("bill_loop", {"parts": ["LAMP", "GLOBE", "LAMP"]})


def test_a_refusal_tells_the_sentence_of_what_stands_behind_it() -> None:
    figures = {"lot": "74W700R", "part": "Globe", "why_code": "held", "why": {"reason": "cracked rims"}}
    assert say("problem_reported", {"reason": "cracked rims"}) == "A problem was reported: cracked rims"
    said = say("held", {**figures, "why_code": "problem_reported"})
    assert "A problem was reported: cracked rims. Set it apart" in said


def test_a_figure_that_is_missing_is_a_dash_and_no_fault() -> None:
    assert "–" in say("wrong_destination", {"batch": "74W700R"})


def test_a_code_without_words_can_still_be_quoted() -> None:
    assert say("never_heard_of") == "never heard of" and not known("never_heard_of")


def test_figures_typed_by_people_cannot_reach_into_the_program() -> None:
    assert say("time_unreadable", {"found": "{0.__class__} {x}"}).startswith("“{0.__class__} {x}”")


def test_the_sentences_are_looked_up_in_the_readers_language() -> None:
    with translation.override("es"):
        assert say("reason_needed")
