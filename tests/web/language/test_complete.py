"""Nothing that a shop or a stranger reads is left in English: what is collected is translated, what is asked for is
collected."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.utils import translation
from django.utils.translation import trans_real

from tests.web.route_table import TABLE
from tests.web.route_world import make_world
from traveller.management.commands.messages import catalogues, english, is_translated, read_catalogue, refreshed
from traveller.rules.cautions import CAUTIONS
from traveller.web.language.collect import messages


@pytest.mark.parametrize("path", catalogues(), ids=lambda path: path.parent.parent.name)
def test_every_message_is_translated_and_none_is_left_over(path: Path) -> None:
    wanted = messages()
    found = refreshed(path, wanted)
    lacking = [english(message) for message in found if message.id and not is_translated(message, found)]
    assert not lacking, "run manage.py messages, translate what is empty, run it again: " + "\n".join(lacking)
    assert {english(message) for message in read_catalogue(path)} == {english(message) for message in wanted}


class Asked:
    """Which messages were asked for, and which of them the language in force could not say."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.all: set[str] = set()
        self.untranslated: set[str] = set()
        # The functions that django.utils.translation took from trans_real when it was first used.
        translation.gettext("")
        inner = translation._trans  # type: ignore[attr-defined]
        one, many = inner.gettext, inner.ngettext

        def gettext(message: str) -> str:
            self.note(message, message)
            return str(one(message))

        def ngettext(singular: str, plural: str, number: int) -> str:
            self.note(singular, plural)
            return str(many(singular, plural, number))

        monkeypatch.setattr(inner, "gettext", gettext)
        monkeypatch.setattr(inner, "ngettext", ngettext)

    def note(self, message: str, plural: str) -> None:
        self.all.add(message)
        known = trans_real.translation(translation.get_language())._catalog  # type: ignore[attr-defined]
        if message and known.get(message) is None and known.get((message, 0)) is None:
            self.untranslated.add(message)


@pytest.mark.django_db
def test_no_page_of_a_shop_the_bench_or_the_door_asks_for_a_message_without_translation(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    world = make_world()
    asked = Asked(monkeypatch)
    figures = world.figures()
    clients = {"shop": world.people.operator, "packer": world.people.packer, "door": world.people.stranger}
    opened = 0
    for route, rule in TABLE.items():
        if rule.reader == "founder":
            continue
        client, path = clients[rule.reader], rule.url(route, figures)
        for answer in (
            client.get(path, HTTP_ACCEPT_LANGUAGE="ar"),
            client.post(path, {"news_id": "not one"}, HTTP_ACCEPT_LANGUAGE="ar"),
        ):
            opened += answer.get("Content-Type", "").startswith("text/html")
    assert opened > 60 and len(asked.all) > 300, "pages were really opened, and really asked"
    assert not asked.untranslated, "\n".join(sorted(asked.untranslated))


@pytest.mark.django_db
@pytest.mark.parametrize("language", ["es", "zh-hans", "vi", "ar"])
def test_cautions_are_said_in_the_language_and_marked_for_a_translators_review(language: str) -> None:
    world = make_world()
    step = world.globe.step(30)
    page = world.people.operator.get(f"/here/step/{step.pk}", HTTP_ACCEPT_LANGUAGE=language).content.decode()
    with translation.override(language):
        marked = translation.gettext("Translated text: needs a translator’s review.")
    assert marked in page
    every = [text for texts in CAUTIONS.values() for text in texts]
    assert not [text for text in every if text in page]
    english = world.people.operator.get(f"/here/step/{step.pk}").content.decode()
    assert "caution-review" not in english and [text for text in every if text in english]
