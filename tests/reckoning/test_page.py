"""What is read from a page: nothing that a reader sees is lost, nothing that nobody sees is counted."""

from __future__ import annotations

import pytest

from tests.reckoning.page import Tag, read

PAGE = """<body><nav>7</nav><main><h1>Three orders are <b>open</b>.</h1>
<svg><text>12</text></svg>
<ul><li class="tie"><div><h2 class="tie-word">Held</h2><p>60 bands, ESC\u2011P69\u2011N.</p>
<a class="tie-deed" href="/holds/2">Decide</a></div></li></ul>
<section><h2>By part</h2><p>free: may be used<br>at once</p><table><thead><tr><th>Part</th><th>Free</th></tr></thead>
<tbody><tr><th>Foot</th><td><span>1,060&nbsp;</span></td></tr></tbody></table></section>
<p>After 5 <a href="/kits">days</a></p><select><option>9</option></select></main><footer>8</footer></body>"""


def test_sentences_tags_and_tables_are_read_with_their_headings() -> None:
    page = read("/", PAGE)
    assert page.headline == "Three orders are open."
    assert page.tags == (Tag("Held", "60 bands, ESC-P69-N.", "/holds/2"),)
    table = page.table("Part", "Free", section="By part")
    assert table is not None and table.rows == ({"Part": "Foot", "Free": "1,060"},)
    texts = [(one.section, one.text) for one in page.sentences]
    assert ("By part", "free: may be used at once") in texts and ("", "After 5 days") in texts


def test_pictures_fields_and_what_stands_around_the_page_are_not_read() -> None:
    page = read("/", PAGE)
    everything = " ".join([*(one.text for one in page.sentences), *(tag.text for tag in page.tags)])
    assert not {"7", "8", "9", "12"} & set(everything.split())


def test_a_page_that_is_not_closed_in_its_turn_is_a_fault() -> None:
    with pytest.raises(ValueError, match="closes"):
        read("/", "<main><p>5</main></p>")
