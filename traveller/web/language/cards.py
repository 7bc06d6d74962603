"""The words of the pass card in a site's language, where this machine has the letters for it; else English, said so."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

from django.conf import settings
from django.utils import translation
from django.utils.translation import gettext

from traveller.paper.fonts import missing_glyphs
from traveller.paper.pass_card import PassWords

__all__ = ["CardWords", "card_words", "supported"]


@dataclass(frozen=True, slots=True)
class CardWords:
    """What is printed; `lacking` names the language that could not be, else empty."""

    words: PassWords
    language: str
    lacking: str = ""


def supported(site_language: str) -> str:
    """The language of ours that a site's two letters mean: zh is zh-hans; English where we have none."""
    known = dict(settings.LANGUAGES)
    wanted = site_language.lower()
    return next((code for code in known if code == wanted or code.split("-")[0] == wanted), "en")


def card_words(site_language: str) -> CardWords:
    """The words in the site's language. Arabic letters join and run leftwards, which our paper cannot set: English."""
    code = supported(site_language)
    with translation.override(code):
        words = _translated()
    if missing_glyphs([words.kind, words.purpose, *words.steps, words.by_hand, words.call, words.secret]):
        return CardWords(PassWords(), "en", dict(settings.LANGUAGES)[code])
    return CardWords(words, code)


def _translated() -> PassWords:
    english = PassWords()
    english_words: dict[str, Any] = {one.name: getattr(english, one.name) for one in fields(english)}
    own: dict[str, Any] = {
        name: tuple(gettext(step) for step in said) if isinstance(said, tuple) else gettext(said)
        for name, said in english_words.items()
    }
    return PassWords(**own)
