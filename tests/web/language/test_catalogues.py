"""The committed catalogues: what gettext reads is what translators see, and no translation loses a figure."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from babel.messages.mofile import read_mo
from django.conf import settings
from django.utils.translation import to_locale

from traveller.management.commands.messages import catalogues, is_translated, read_catalogue

FILES = catalogues()
FIGURE = re.compile(r"%\(\w+\)[sd]|%%|\{\w*\}")
# Right-to-left and left-to-right marks, isolates and the like: a translation must not smuggle one in.
UNSEEN = re.compile(r"[\u200b\u200e\u200f\u202a-\u202e\u2060-\u206f\ufeff]")


def texts(said: Any) -> tuple[str, ...]:
    """Each form of what stands in a catalogue, in one language or the other."""
    return tuple(said) if isinstance(said, (tuple, list)) else (said,)


def test_every_language_but_english_has_its_catalogue() -> None:
    wanted = {to_locale(code) for code, _ in settings.LANGUAGES} - {"en"}
    assert {path.parent.parent.name for path in FILES} == wanted


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.parent.parent.name)
def test_the_compiled_catalogue_says_what_the_written_one_says(path: Path) -> None:
    with path.with_suffix(".mo").open("rb") as file:
        compiled = {texts(message.id): texts(message.string) for message in read_mo(file) if message.id}
    written = {texts(message.id): texts(message.string) for message in read_catalogue(path) if message.id}
    assert compiled == written, "run: manage.py messages"


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.parent.parent.name)
def test_nothing_is_fuzzy_and_no_figure_is_lost_or_invented(path: Path) -> None:
    wrong = []
    for message in read_catalogue(path):
        if not message.id:
            continue
        asked, said = texts(message.id), texts(message.string)
        known = {figure for text in asked for figure in FIGURE.findall(text)}
        for words in filter(None, said):
            if message.fuzzy or not set(FIGURE.findall(words)) <= known or UNSEEN.search(words):
                wrong.append(words)
        if said[-1] and set(FIGURE.findall(said[-1])) != set(FIGURE.findall(asked[-1])):
            wrong.append(said[-1])
    assert not wrong


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.parent.parent.name)
def test_moments_are_written_with_letters_of_a_date_format_only(path: Path) -> None:
    found = read_catalogue(path)
    for msgid in ("D j M, H:i", "D j M", "j M", "j M Y"):
        message = found.get(msgid)
        if message and is_translated(message, found):
            letters = set(re.findall(r"[A-Za-z]", texts(message.string)[0]))
            assert letters <= set("DljnMFYHi") and {"j"} <= letters
