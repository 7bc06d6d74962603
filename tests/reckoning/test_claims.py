"""The comparison itself: what nobody reckons is named, and so is every difference."""

from __future__ import annotations

from tests.reckoning.claims import Book, Rule
from tests.reckoning.page import Table, Tag

RULE = Rule(r"(?P<n>\S+) of (?P<of>\S+) lanterns.*", lambda _shown: {"n": 20, "of": 132})


def test_a_sentence_is_compared_figure_by_figure() -> None:
    book = Book()
    book.sentence("kits", "20 of 132 lanterns", [RULE])
    assert (book.compared, book.differences) == (2, [])
    book.sentence("kits", "20 of 131 lanterns", [RULE])
    assert len(book.differences) == 1 and "'131', reckoned 132" in book.differences[0]


def test_a_figure_that_no_rule_takes_is_a_difference() -> None:
    book = Book()
    book.sentence("kits", "Nobody counted 5 feet", [RULE])
    book.sentence("kits", "20 of 132 lanterns in 4 boxes", [RULE])
    assert len(book.differences) == 2 and "not reckoned: 'Nobody" in book.differences[0]
    assert "'4' is not reckoned" in book.differences[1]


def test_rows_that_are_missing_too_many_or_wrong_are_named() -> None:
    rows = ({"Part": "Foot", "Free": "2", "Then": ""}, {"Part": "Globe", "Free": "3", "Then": "4"})
    book = Book()
    table = Table("", ("Part", "Free", "Then"), rows, ({}, {}))
    book.table(table, "stock", ["Part"], [{"Part": "Foot", "Free": 1}, {"Part": "Band", "Free": 7}])
    assert len(book.differences) == 3
    book.table(table, "stock", ["Part"], [{"Part": "Foot", "Free": 2}, {"Part": "Globe", "Free": 3}])
    assert "not reckoned: '4'" in book.differences[3]


def test_tags_are_as_many_as_reckoned() -> None:
    book = Book()
    tags = [Tag("Held", "60 bands", ""), Tag("Held", "8 feet", "")]
    form = r"(?P<n>\S+) .*"
    book.tags(tags, "Held", form, [{"n": 8}, {"n": 60}])
    assert (book.compared, book.differences) == (2, [])
    book.tags(tags, "Held", form, [{"n": 8}])
    book.tags(tags, "Held", form, [{"n": 8}, {"n": 60}, {"n": 5}])
    assert ["too many" in one or "missing" in one for one in book.differences] == [True, True]
