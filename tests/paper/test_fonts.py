"""Names print as themselves, and what can't be printed is known before printing."""

from __future__ import annotations

from collections.abc import Iterator

import numpy
import pytest

from tests.paper.machine import forget_fonts
from tests.paper.reading import in_threads, pages, texts
from traveller.paper import fonts
from traveller.paper.canvas import PaperSheet
from traveller.paper.fonts import Face

GREEK = "Φανάρι Αθηνών, ώρα"
CYRILLIC = "Ліхтар їжак Щёлково"
LATIN = "Łódź Åsa Şükrü Đặng, 15 °C ± 2 µm"
CHINESE = "灯笼工厂"
FACES: tuple[Face, ...] = ("plain", "bold", "code", "code_bold")


@pytest.fixture
def bare_machine(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A machine without any installed font."""
    monkeypatch.setattr(fonts, "SYSTEM_FOLDERS", ())
    forget_fonts()
    yield
    monkeypatch.undo()
    forget_fonts()


def printed(*lines: str, face: Face = "plain") -> bytes:
    sheet = PaperSheet("A6", title="names", author="test")
    for number, line in enumerate(lines):
        sheet.text(10, 12 + 8 * number, line, face=face, pt=12)
    return sheet.finish()


@pytest.mark.usefixtures("bare_machine")
@pytest.mark.parametrize("face", FACES)
def test_latin_greek_and_cyrillic_print_without_any_installed_font(face: Face) -> None:
    assert fonts.missing_glyphs((LATIN, GREEK, CYRILLIC)) == []
    (page,) = texts(printed(LATIN, GREEK, CYRILLIC, face=face))
    for name in (LATIN, GREEK, CYRILLIC):
        assert name in page


@pytest.mark.usefixtures("bare_machine")
def test_chinese_without_a_font_is_a_warning_and_prints_no_box() -> None:
    assert fonts.missing_glyphs((CHINESE, "Globe", CHINESE)) == list(CHINESE)
    (page,) = texts(printed(CHINESE))
    assert page.strip() == "????"


@pytest.mark.parametrize("face", FACES)
def test_mixed_scripts_print_as_themselves_on_this_machine(face: Face) -> None:
    name = f"{LATIN} {GREEK} {CYRILLIC} {CHINESE}"
    missing = fonts.missing_glyphs((name,))
    assert missing in ([], list(CHINESE)), "Chinese where a font is at hand, everything else always"
    (page,) = texts(printed(*name.split(), face=face))
    for word in name.split():
        if not missing or word != CHINESE:
            assert word in page


def test_each_letter_has_its_own_shape_on_the_page() -> None:
    letters = [char for char in "ЖЩЯΩΨЂ灯笼工" if not fonts.missing_glyphs((char,))]
    shapes = {numpy.asarray(pages(printed(letter), 100)[0]).tobytes() for letter in letters}
    assert len(shapes) == len(letters), "boxes would all look alike"


@pytest.mark.parametrize("text", ["مصباح", "פנס", "दीपक", "โคม"])
def test_scripts_that_need_joining_or_run_right_to_left_are_warned_of(text: str) -> None:
    assert fonts.missing_glyphs((text,)) != []


def test_decomposed_letters_and_invisible_characters_are_put_right() -> None:
    assert fonts.drawable("Mu\u0308ller\u200b\tA\u00adB\n\ufe0f") == "Müller AB "


def test_a_run_goes_on_while_one_font_prints_it() -> None:
    assert len(fonts.runs("Globe, amber", "plain")) == 1
    assert "".join(run.text for run in fonts.runs(f"Globe {CYRILLIC}", "bold")) == f"Globe {CYRILLIC}"


@pytest.mark.usefixtures("bare_machine")
def test_a_word_with_one_rare_letter_is_printed_whole_by_one_font() -> None:
    assert [run.text for run in fonts.runs("made in Łódź by", "bold")] == ["made in ", "Łódź ", "by"]


def test_threads_that_print_at_once_get_the_same_bytes() -> None:
    once = printed(LATIN, GREEK, CYRILLIC, face="bold")
    assert set(in_threads(lambda: printed(LATIN, GREEK, CYRILLIC, face="bold"), 6)) == {once}
