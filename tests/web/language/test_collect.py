"""Which messages are there? Found in modules, templates and the tables of the rules, without xgettext."""

from __future__ import annotations

from traveller.rules.cautions import CAUTIONS, LICENCE_NOTE
from traveller.rules.checks import WORDS as CHECKS
from traveller.rules.logs import WORDS as LOGS
from traveller.web.language.collect import messages, of_python, of_template


def test_a_module_s_messages_are_found_with_their_plurals() -> None:
    source = '_("one") ; gettext("a " "b") ; ngettext("%d day", "%d days", n) ; gettext(WORDS[code]) ; other("no")'
    assert list(of_python(source.replace(" ; ", "\n"))) == ["one", "a b", ("%d day", "%d days")]


def test_a_template_s_messages_are_found_in_tags_blocks_and_arguments() -> None:
    source = (
        '{% load i18n look %}{% translate "Yes, it\'s so" %}{% mark "free" _("Agreed") %}'
        "{% blocktranslate with n=load.number %}Load {{ n }} is 5 % out{% endblocktranslate %}"
        "{% blocktranslate count n=n %}One carton{% plural %}{{ n }} cartons{% endblocktranslate %}"
        "{% blocktranslate asvar line %}step {{ n }}{% endblocktranslate %}"
        "{% include 'x' with verb=_(\"so far\") %}"
    )
    assert list(of_template(source)) == [
        "Yes, it's so",
        "Agreed",
        "Load %(n)s is 5 %% out",
        ("One carton", "%(n)s cartons"),
        "step %(n)s",
        "so far",
    ]


def test_sentences_of_rules_and_cautions_are_among_them() -> None:
    found = messages()
    cautions = [text for texts in CAUTIONS.values() for text in texts]
    wanted = {*CHECKS.values(), *LOGS.values(), *cautions, LICENCE_NOTE, "Take care", "Who are you?", "STOP"}
    assert not [text for text in wanted if text not in found]


def test_the_founders_pages_are_not_among_them() -> None:
    found = messages()
    assert "The key" not in found and "What is there" not in found
