"""The committed catalogues: what gettext reads is what translators see, and no translation loses a figure."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.utils.translation import to_locale

from traveller.management.commands.messages import catalogues
from traveller.web.language import po

FILES = catalogues()
FIGURE = re.compile(r"%\(\w+\)[sd]|%%|\{\w*\}")
# Right-to-left and left-to-right marks, isolates and the like: a translation must not smuggle one in.
UNSEEN = re.compile(r"[\u200b\u200e\u200f\u202a-\u202e\u2060-\u206f\ufeff]")


def catalogue(path: Path) -> po.Catalogue:
    return po.read(path.read_text(encoding="utf-8"))


def test_every_language_but_english_has_its_catalogue() -> None:
    wanted = {to_locale(code) for code, _ in settings.LANGUAGES} - {"en"}
    assert {path.parent.parent.name for path in FILES} == wanted


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.parent.parent.name)
def test_the_compiled_catalogue_says_what_the_written_one_says(path: Path) -> None:
    assert path.with_suffix(".mo").read_bytes() == po.compiled(catalogue(path)), "run: manage.py messages"


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.parent.parent.name)
def test_nothing_is_fuzzy_and_no_figure_is_lost_or_invented(path: Path) -> None:
    wrong = []
    for entry in catalogue(path).entries.values():
        known = set(FIGURE.findall(entry.msgid)) | set(FIGURE.findall(entry.plural))
        last = set(FIGURE.findall(entry.plural or entry.msgid))
        for words in filter(None, entry.words):
            if entry.fuzzy or not set(FIGURE.findall(words)) <= known or UNSEEN.search(words):
                wrong.append(words)
        if entry.words[-1] and set(FIGURE.findall(entry.words[-1])) != last:
            wrong.append(entry.words[-1])
    assert not wrong


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.parent.parent.name)
def test_moments_are_written_with_letters_of_a_date_format_only(path: Path) -> None:
    entries = catalogue(path).entries
    for msgid in ("D j M, H:i", "D j M", "j M", "j M Y"):
        if msgid in entries and entries[msgid].is_translated:
            letters = set(re.findall(r"[A-Za-z]", entries[msgid].words[0]))
            assert letters <= set("DljnMFYHi") and {"j"} <= letters
