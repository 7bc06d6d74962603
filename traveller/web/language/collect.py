"""What has to be translated? Every message of the shops' pages and of the door, found in the sources.

The founder's pages stay English (see `reader.py`). Sentences of `rules` know no Django, so they come from their
tables. Needs no xgettext: Python is read as a tree, templates by Django's own reader of them.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path

from django.utils.translation.template import templatize

from traveller.paper.pass_card import PassWords
from traveller.rules.cautions import CAUTIONS, LICENCE_NOTE
from traveller.rules.checks import WORDS as CHECKS
from traveller.rules.logs import WORDS as LOGS

__all__ = ["messages", "of_python", "of_template"]

WEB = Path(__file__).resolve().parent.parent
_ONE = {"gettext", "gettext_lazy", "gettext_noop", "_"}
_MANY = {"ngettext", "ngettext_lazy"}
_OTHER = {"pgettext", "npgettext", "pgettext_lazy", "npgettext_lazy"}
_CALL = re.compile(
    r"""\b(?:gettext|_)\(\s*u?(?P<one>'(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*")\s*\)"""
    r"""|\bngettext\(\s*u?(?P<few>'(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*")\s*,\s*"""
    r"""u?(?P<many>'(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*")"""
)


def messages() -> dict[str, str]:
    """Every message in the order found, with its plural or an empty text."""
    found: dict[str, str] = {}
    for msgid, plural in _all():
        found[msgid] = plural or found.get(msgid, "")
    return found


def _all() -> Iterator[tuple[str, str]]:
    for path in sorted(WEB.rglob("*.py")):
        if not _is_founders(path):
            yield from of_python(path.read_text(encoding="utf-8"))
    for path in sorted((WEB / "templates").rglob("*.html")):
        if not _is_founders(path):
            yield from of_template(path.read_text(encoding="utf-8"))
    for text in (*CHECKS.values(), *LOGS.values(), LICENCE_NOTE, *_of_card()):
        yield text, ""
    for cautions in CAUTIONS.values():
        for text in cautions:
            yield text, ""


def _of_card() -> Iterator[str]:
    """The words of the pass card, which is printed in the site's language."""
    card = PassWords()
    for one in fields(card):
        said = getattr(card, one.name)
        yield from (said if isinstance(said, tuple) else (said,))


def _is_founders(path: Path) -> bool:
    return "founder" in path.relative_to(WEB).parts


def of_python(source: str) -> Iterator[tuple[str, str]]:
    """The messages of a module; one that is put together at run time cannot be translated and is an error."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
        if name in _OTHER:
            raise ValueError(f"line {node.lineno}: messages with a context are not collected")
        if name in _MANY:
            yield _text(node, 0), _text(node, 1)
        elif name in _ONE and not _looks_up(node):
            yield _text(node, 0), ""


def _looks_up(node: ast.Call) -> bool:
    """`gettext(table[code])`: the table's texts are collected where the table stands."""
    return bool(node.args) and not isinstance(node.args[0], ast.Constant | ast.JoinedStr | ast.BinOp)


def _text(node: ast.Call, place: int) -> str:
    given = node.args[place]
    if isinstance(given, ast.Constant) and isinstance(given.value, str):
        return given.value
    raise ValueError(f"line {node.lineno}: a message must be one plain text")


def of_template(source: str) -> Iterator[tuple[str, str]]:
    """The messages of a template: its tags, blocks and `_("...")`."""
    for found in _CALL.finditer(templatize(source)):
        if found["one"]:
            yield ast.literal_eval(found["one"]), ""
        else:
            yield ast.literal_eval(found["few"]), ast.literal_eval(found["many"])
