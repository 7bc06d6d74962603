"""`{% tight %}`: what stands in it is written over lines and drawn without the line breaks. Loaded in every template.

Some words must follow each other without a blank: "48 good" and ", 2 scrap". In between the source may still be broken:
a line break and the blanks around it mean nothing here. A blank that is meant stands within its line, or as
`{{ " " }}`. Within an HTML tag a line break stays what parts two attributes.
"""

from __future__ import annotations

import re

from django import template
from django.template.base import NodeList, Parser, TextNode, Token
from django.template.context import Context

register = template.Library()

_PIECES = re.compile(r"<(?=[a-zA-Z/!])|>|[ \t]*\n\s*")


class TightNode(template.Node):
    """Nodes whose line breaks were taken out when the template was read."""

    def __init__(self, nodelist: NodeList) -> None:
        self.nodelist = nodelist

    def render(self, context: Context) -> str:
        return self.nodelist.render(context)


@register.tag
def tight(parser: Parser, token: Token) -> TightNode:
    """Take the line breaks out of the texts up to `{% endtight %}`, once, at reading."""
    nodelist = parser.parse(("endtight",))
    parser.delete_first_token()
    in_tag = False
    for text in nodelist.get_nodes_by_type(TextNode):
        if isinstance(text, TextNode):
            text.s, in_tag = without_breaks(text.s, in_tag)
    return TightNode(nodelist)


def without_breaks(text: str, in_tag: bool) -> tuple[str, bool]:
    """The text without its line breaks, and whether an HTML tag is still open at its end."""
    state = [in_tag]

    def one(found: re.Match[str]) -> str:
        if found[0] in "<>":
            state[0] = found[0] == "<"
            return found[0]
        return " " if state[0] else ""

    return _PIECES.sub(one, text), state[0]
