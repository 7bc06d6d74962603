"""Every question of a page has an answer for each of its meanings, in words that say what happens."""

from __future__ import annotations

import ast

import pytest

from tests.architecture.tree import modules, parsed
from tests.web.test_words import gaps_in, texts
from traveller.web.door import Asked
from traveller.web.operator.arrival_questions import _buttons as buttons_of
from traveller.web.question_words import ANSWERS, answers_to
from traveller.web.words import known


def asked_in_the_source() -> set[str]:
    found: set[str] = set()
    for path in modules("traveller/web"):
        for node in ast.walk(parsed(path)):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Asked":
                found |= set(texts(node.args[0], {}))
    return found


def on_arrival(code: str) -> bool:
    """Questions about goods that arrive have a page of their own."""
    return bool(buttons_of(Asked(code, {"counted": 1, "over": "1"})))


def test_every_question_has_its_answers_and_every_answer_its_question() -> None:
    assert {code for code in asked_in_the_source() if not on_arrival(code)} == set(ANSWERS)
    assert all(known(code) for code in ANSWERS)


def test_no_answer_is_a_bare_yes_or_no() -> None:
    figures = {"counted": 120, "value": "5 mm", "recorded": 80, "good": 7, "bad": 2, "shots": 3}
    for code in ANSWERS:
        said = answers_to(code, figures)
        assert said.yes and said.no and said.yes != said.no, code
        for words in (said.yes, said.no):
            assert words not in ("Yes", "No") and "it is so" not in words, code
            assert not gaps_in(words) and "–" not in words, code


@pytest.mark.parametrize(
    ("n", "more", "same"),
    [(1, "1 more piece", "The same 1 piece"), (1200, "1,200 more pieces", "The same 1,200 pieces")],
)
def test_the_answers_of_a_count_name_their_figure(n: int, more: str, same: str) -> None:
    said = answers_to("same_again", {"good": n})
    assert (said.yes, said.same) == (more, same)
