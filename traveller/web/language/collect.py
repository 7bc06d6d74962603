"""What has to be translated? Every message of the shops' pages and of the door, found in the sources.

The founder's pages stay English (see `reader.py`). Sentences of `rules` know no Django, so they come from their
tables. Babel reads Python, and templates once Django has turned their tags into calls: no gettext tools are needed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from io import BytesIO
from pathlib import Path

from babel.messages import Catalog
from babel.messages.extract import extract
from django.utils.translation.template import templatize

from traveller.paper.pass_card import PassWords
from traveller.rules.cautions import CAUTIONS, LICENCE_NOTE
from traveller.rules.checks import WORDS as CHECKS
from traveller.rules.logs import WORDS as LOGS
from traveller.rules.statuses import FREE_WORDS, NEXT_WORDS, STATUS_WORDS

__all__ = ["messages", "of_python", "of_template"]

WEB = Path(__file__).resolve().parent.parent
# An English text, or one and its plural.
Message = str | tuple[str, ...]
_ONE = ("_", "gettext", "gettext_lazy", "gettext_noop")
_MANY = ("ngettext", "ngettext_lazy")
_CALLS = {**dict.fromkeys(_ONE), **dict.fromkeys(_MANY, (1, 2))}


def messages() -> Catalog:
    """Every message in the order found; one that is said of a number too has its plural."""
    found = Catalog()
    for message in _all():
        found.add(message)
    return found


def _all() -> Iterator[Message]:
    for path in sorted(WEB.rglob("*.py")):
        if not _is_founders(path):
            yield from of_python(path.read_text(encoding="utf-8"))
    for path in sorted((WEB / "templates").rglob("*.html")):
        if not _is_founders(path):
            yield from of_template(path.read_text(encoding="utf-8"))
    yield from (*CHECKS.values(), *LOGS.values(), LICENCE_NOTE, *_of_card())
    yield from (*STATUS_WORDS.values(), *FREE_WORDS.values(), *NEXT_WORDS.values())
    for cautions in CAUTIONS.values():
        yield from cautions


def _of_card() -> Iterator[str]:
    """The words of the pass card, which is printed in the site's language."""
    card = PassWords()
    for one in fields(card):
        said = getattr(card, one.name)
        yield from (said if isinstance(said, tuple) else (said,))


def _is_founders(path: Path) -> bool:
    return "founder" in path.relative_to(WEB).parts


def of_python(source: str) -> Iterator[Message]:
    """The messages of a module. The linter names those that are put together at run time: nobody can translate them."""
    for _line, message, _comments, _context in extract("python", BytesIO(source.encode()), keywords=_CALLS):
        yield message


def of_template(source: str) -> Iterator[Message]:
    """The messages of a template: its tags, blocks and `_("...")`."""
    # What Django leaves of the page are letters, whose indents mean nothing in Python.
    return of_python("\n".join(line.strip() for line in templatize(source).splitlines()))
