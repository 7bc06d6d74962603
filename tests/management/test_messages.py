"""`manage.py messages` keeps what was translated, asks for what is new, and says what it lacks."""

from __future__ import annotations

import gettext
import sys
from pathlib import Path

import pytest
from babel.messages import Catalog
from django.core.management import CommandError, call_command

from traveller.management.commands.messages import english, is_translated, refreshed, write_catalogue

HEADER = 'msgid ""\nmsgstr "Language: es\\nContent-Type: text/plain; charset=UTF-8\\n"\n'
FORMS = '"Plural-Forms: nplurals=2; plural=(n != 1);\\n"\n'


@pytest.fixture
def path(tmp_path: Path) -> Path:
    folder = tmp_path / "es" / "LC_MESSAGES"
    folder.mkdir(parents=True)
    return folder / "django.po"


def wanted(*texts: str | tuple[str, str]) -> Catalog:
    found = Catalog()
    for text in texts:
        found.add(text)
    return found


def lacking(found: Catalog) -> list[str]:
    return [english(message) for message in found if message.id and not is_translated(message, found)]


def test_translations_stay_new_messages_are_empty_and_those_gone_are_left_out(path: Path) -> None:
    path.write_text(f'{HEADER}{FORMS}\nmsgid "gone"\nmsgstr "ido"\n\nmsgid "one"\nmsgstr "uno"\n', encoding="utf-8")
    found = refreshed(path, wanted("two", "one", ("%d day", "%d days")))
    assert lacking(found) == ["two", "%d day"]
    write_catalogue(path, found)
    before = path.read_text(encoding="utf-8")
    assert "gone" not in before and before.index('msgid "two"') < before.index('msgid "one"')
    write_catalogue(path, refreshed(path, wanted("two", "one", ("%d day", "%d days"))))
    assert path.read_text(encoding="utf-8") == before


def test_gettext_reads_what_was_compiled_without_what_is_empty_or_fuzzy(path: Path) -> None:
    entries = (
        '\nmsgid "a \\"b\\"\\n"\nmsgstr "á\\n"\n\n#, fuzzy\nmsgid "c"\nmsgstr "x"\n\nmsgid "d"\nmsgstr ""\n'
        '\nmsgid "%d day"\nmsgid_plural "%d days"\nmsgstr[0] "%d día"\nmsgstr[1] "%d días"\n'
    )
    path.write_text(HEADER + FORMS + entries, encoding="utf-8")
    found = refreshed(path, wanted('a "b"\n', "c", "d", ("%d day", "%d days")))
    assert lacking(found) == ["c", "d"]
    write_catalogue(path, found)
    with path.with_suffix(".mo").open("rb") as file:
        says = gettext.GNUTranslations(file)
    assert [says.gettext(text) for text in ('a "b"\n', "c", "d")] == ["á\n", "c", "d"]
    assert [says.ngettext("%d day", "%d days", n) % n for n in (1, 2)] == ["1 día", "2 días"]


def test_a_message_that_is_now_counted_is_asked_for_again(path: Path) -> None:
    path.write_text(f'{HEADER}{FORMS}\nmsgid "%d day"\nmsgstr "%d día"\n', encoding="utf-8")
    assert lacking(refreshed(path, wanted(("%d day", "%d days")))) == ["%d day"]


def test_without_babel_it_says_what_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "babel.messages", None)
    monkeypatch.delitem(sys.modules, "traveller.web.language.collect", raising=False)
    with pytest.raises(CommandError, match="needs the package Babel"):
        call_command("messages", "--check")
