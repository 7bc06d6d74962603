"""A refusal is said below the pages in the words that they hand in."""

from __future__ import annotations

import pytest

from traveller.journal import saying
from traveller.journal.refusal import Refusal
from traveller.web.words import say

FEW = Refusal("upload_gone")


def test_a_room_below_the_pages_says_what_the_pages_say() -> None:
    assert saying.said(FEW) == say(FEW.code, FEW.figures) != FEW.code


def test_the_last_words_handed_in_count_and_without_any_the_code_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(saying, "_say", [])
    assert saying.said(FEW) == "upload_gone"
    saying.say_by(lambda code, figures: f"first {code}")
    saying.say_by(lambda code, figures: f"{code} in words")
    assert saying.said(FEW) == "upload_gone in words"
