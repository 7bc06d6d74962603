"""Catalogues are read, written and compiled without tools, and gettext itself reads what was compiled."""

from __future__ import annotations

import gettext
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from traveller.web.language.po import Catalogue, Entry, compiled, read, written

HEADER = "Language: xx\nContent-Type: text/plain; charset=UTF-8\nPlural-Forms: nplurals=2; plural=(n != 1);\n"
TEXT = st.text(st.characters(exclude_categories=("Cs", "Cc")) | st.sampled_from('"\\\n\t'), min_size=1, max_size=30)


@settings(max_examples=60)
@given(st.dictionaries(TEXT, TEXT, max_size=6))
def test_what_is_written_is_read_back_and_what_is_compiled_translates(messages: dict[str, str]) -> None:
    catalogue = Catalogue(HEADER, {key: Entry(key, "", (words,)) for key, words in messages.items()})
    assert read(written(catalogue)) == catalogue
    found = gettext.GNUTranslations(io.BytesIO(compiled(catalogue)))
    assert all(found.gettext(key) == words for key, words in messages.items())


def test_plural_forms_are_chosen_by_the_language_s_own_rule() -> None:
    catalogue = Catalogue(HEADER, {"%d day": Entry("%d day", "%d days", ("%d día", "%d días"))})
    found = gettext.GNUTranslations(io.BytesIO(compiled(read(written(catalogue)))))
    assert [found.ngettext("%d day", "%d days", n) % n for n in (1, 2)] == ["1 día", "2 días"]


def test_what_is_empty_or_fuzzy_is_not_compiled() -> None:
    catalogue = Catalogue(
        HEADER, {"a": Entry("a"), "b": Entry("b", "", ("x",), fuzzy=True), "c": Entry("c", "", ("y",))}
    )
    found = gettext.GNUTranslations(io.BytesIO(compiled(read(written(catalogue)))))
    assert [found.gettext(key) for key in "abc"] == ["a", "b", "y"]


@pytest.mark.parametrize("text", ['msgid "a"\nmsgstr "b"\nnonsense', 'msgid "a"\nmsgstr "b"\n\nmsgid "a"\nmsgstr "c"'])
def test_a_catalogue_that_is_not_understood_is_an_error(text: str) -> None:
    with pytest.raises(ValueError):
        read(text)
