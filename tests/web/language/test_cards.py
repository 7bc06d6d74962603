"""The pass card speaks the site's language, or English where this machine cannot print that: never a box or a mark."""

from __future__ import annotations

import pytest

from sites.models import Site
from tests import cast
from tests.paper.machine import forget_fonts
from tests.paper.reading import texts
from traveller.paper import fonts
from traveller.paper.pass_card import PassCard, PassWords, draw_pass_card
from traveller.web.language.cards import card_words, supported


def drawn(site_language: str) -> str:
    words = card_words(site_language).words
    link = "https://trace.example/pass/ABCDEFGHJKMNPQRS"
    (page,) = texts(
        draw_pass_card(PassCard(site="Quay", maker="Lanterns", link=link, call="1", words=words), size="A4")
    )
    return " ".join(page.split())


@pytest.mark.parametrize(
    ("reported", "code"), [("es", "es"), ("zh", "zh-hans"), ("vi", "vi"), ("ar", "ar"), ("fr", "en"), ("", "en")]
)
def test_a_sites_two_letters_name_a_language_of_ours_or_english(reported: str, code: str) -> None:
    assert supported(reported) == code


def test_spanish_prints_on_any_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fonts, "SYSTEM_FOLDERS", ())
    forget_fonts()
    try:
        assert "Apunte la cámara del teléfono" in drawn("es")
    finally:
        monkeypatch.undo()
        forget_fonts()


def test_without_a_chinese_font_the_card_is_english_and_says_which_language_it_lacks(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(fonts, "SYSTEM_FOLDERS", ())
    forget_fonts()
    try:
        found = card_words("zh")
        assert (found.words, found.language, found.lacking) == (PassWords(), "en", "简体中文")
        assert "Point the phone's camera" in drawn("zh")
    finally:
        monkeypatch.undo()
        forget_fonts()


@pytest.mark.parametrize("language", ["zh", "vi"])
def test_a_language_is_printed_whole_or_not_at_all(language: str) -> None:
    found = card_words(language)
    english = found.words == PassWords()
    assert english == bool(found.lacking)
    page = drawn(language)
    assert ("Point the phone's camera" in page) == english and "??" not in page


def test_arabic_letters_join_which_our_paper_cannot_set_so_the_card_is_english() -> None:
    assert card_words("ar").lacking == "العربية"


@pytest.mark.django_db
@pytest.mark.parametrize(("language", "words"), [("es", "Apunte la cámara"), ("ar", "Point the phone's camera")])
def test_the_founder_prints_the_card_of_a_site_in_its_language_and_is_told_when_it_cannot_be(
    language: str, words: str
) -> None:
    world = cast.make_cast()
    Site.objects.filter(pk=world.moulder.pk).update(language=language)
    reported = {"news_id": "8d6b9d2e-64ac-4c62-8f4c-0c1c4a7f7c11", "kind": "operator", "label": "by the press"}
    page = world.founder.post(f"/sites/{world.moulder.code}/passes", reported).content.decode()
    assert ("this machine cannot print it" in page) == (language == "ar")
    token = page.split('name="token" value="')[1].split('"')[0]
    answer = world.founder.post(f"/sites/{world.moulder.code}/card", {"token": token})
    (card,) = texts(answer.content)
    assert words in " ".join(card.split())
