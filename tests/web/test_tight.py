"""`{% tight %}`: a line break of the source is nothing, a blank that is meant stays."""

from __future__ import annotations

import pytest
from django.template import Context, Template


def drawn(source: str, **context: object) -> str:
    return Template(source).render(Context(context))


SOURCE = """{% tight %}
  {{ good }} good
  {% if scrap %}, {{ scrap }} scrap{% endif %}
  {% for name in names %}
    {{ " " }}· {{ name }}
    {% if not forloop.last %};{% endif %}
  {% empty %}
    .
  {% endfor %}
{% endtight %}"""


@pytest.mark.parametrize(
    ("context", "text"),
    [
        ({"good": 48, "scrap": 2, "names": ["a", "b"]}, "48 good, 2 scrap · a; · b"),
        ({"good": 48, "names": []}, "48 good."),
    ],
)
def test_line_breaks_go_and_blanks_within_a_line_stay(context: dict[str, object], text: str) -> None:
    assert drawn(SOURCE, **context) == text


def test_within_an_html_tag_a_line_break_parts_attributes() -> None:
    source = '{% tight %}\n<a class="go"\n   {% if x %}data-x{% endif %}\n   href="/">\n  {{ x }}\n</a>\n{% endtight %}'
    assert drawn(source, x="1 > 0") == '<a class="go" data-x href="/">1 &gt; 0</a>'


def test_a_cell_without_a_figure_is_empty() -> None:
    source = "{% tight %}\n  <td>\n    {% if x %}{{ x }}{% endif %}\n  </td>\n{% endtight %}"
    assert drawn(source) == "<td></td>" and drawn(source, x=5) == "<td>5</td>"


def test_what_a_variable_holds_keeps_its_line_breaks() -> None:
    assert drawn("{% tight %}\n{{ x }}\n{% endtight %}", x="a\n b") == "a\n b"
