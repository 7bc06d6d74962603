"""Drawings of scrap reasons: known by the trade's words, never without a word, never by accident."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import get_args
from xml.etree import ElementTree

import pytest

from traveller.web.pictures.reasons import Drawing, drawing_for, reason_svg

ROUTINGS = Path(__file__).parents[2] / "fixtures" / "demo" / "routings.csv"


@pytest.mark.parametrize(
    ("reason", "drawing"),
    [
        ("short", "short"),
        ("Short shot", "short"),
        ("flash", "flash"),
        ("sink mark", "sink"),
        ("leak at gate", "leak"),
        ("cut seal face", "cut"),
        ("cracked", "crack"),
        ("wrong shade", "shade"),
        ("off register", "register"),
        ("pinholes", "bubbles"),
        ("smudged", "smear"),
        ("before the test", "untested"),
        ("other", "other"),
        ("short-lived mystery", "short"),
        ("aborted", "other"),
        ("", "other"),
        ("zerbrochen", "other"),
    ],
)
def test_a_reason_is_drawn_by_the_words_of_the_trade_in_it(reason: str, drawing: Drawing) -> None:
    assert drawing_for(reason) == drawing


def test_every_reason_of_the_demo_has_a_drawing_of_its_own() -> None:
    with ROUTINGS.open(encoding="utf-8") as file:
        reasons = {
            one.strip() for row in csv.DictReader(file) for one in row["scrap_reasons"].split("|") if one.strip()
        }
    assert len(reasons) > 20
    assert {reason for reason in reasons if drawing_for(reason) == "other"} == set()


@pytest.mark.parametrize("drawing", get_args(Drawing))
def test_each_drawing_is_whole_small_and_silent(drawing: Drawing) -> None:
    svg = reason_svg(drawing)
    root = ElementTree.fromstring(svg)
    assert root.get("aria-hidden") == "true" and "style" not in svg and "<text" not in svg
    assert len(svg) < 700


def test_no_two_drawings_are_the_same() -> None:
    assert len({reason_svg(drawing) for drawing in get_args(Drawing)}) == len(get_args(Drawing))
