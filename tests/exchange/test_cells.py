"""Single cells."""

from __future__ import annotations

import pytest

from tests.exchange.books import cell_date
from traveller.exchange.workbook.cells import (
    Parser,
    choice,
    read_code,
    read_line,
    read_lines,
    read_lot,
    read_whole,
    read_words,
    slug,
    to_text,
    unit,
    yes_no,
    zone,
)
from traveller.exchange.workbook.numbers import BadCell
from traveller.exchange.workbook.raw import Raw


@pytest.mark.parametrize(
    ("parse", "cell", "expected"),
    [
        (read_line(), "  a \u00a0 b\t c ", "a b c"),
        (read_line(), "'+1 330 555 0110", "+1 330 555 0110"),
        (read_line(), "'''quoted", "''quoted"),
        (read_line(), "e\u0301", "é"),
        (read_lines(), "18 Mill Lane \r\n Elm", "18 Mill Lane\nElm"),
        (read_code(), 12.0, "12"),
        (read_code(), "GLOBE-CL/2", "GLOBE-CL/2"),
        (read_lot, 20260105001.0, "20260105001"),
        (read_lot, "PC 7731", "PC 7731"),
        (choice("own", "supplier"), " OWN", "own"),
        (choice("leak_test"), "Leak test", "leak_test"),
        (choice("leak_test"), "leak-test", "leak_test"),
        (unit(), "pcs", "piece"),
        (unit(), "Kilograms", "kg"),
        (unit(), "grm", "g"),
        (yes_no, "X", True),
        (yes_no, False, False),
        (read_whole(), "1.132,0", 1132),
        (zone, "america/new_york", "America/New_York"),
        (zone, "America/New York", "America/New_York"),
        (read_words, "short | flash; splay\nshort", ("short", "flash", "splay")),
    ],
)
def test_a_cell_becomes_a_value(parse: Parser, cell: Raw, expected: object) -> None:
    assert parse(cell, None) == expected


@pytest.mark.parametrize(
    ("parse", "cell", "wrong", "right"),
    [
        (read_code(), "GLOBE CL", "is not a short code", "use letters, digits and . - / + # without blanks"),
        (
            read_code(),
            "1.2E+14",
            "the spreadsheet shortened a long number",
            "format the cell as text and type it again",
        ),
        (
            read_lot,
            cell_date(2026, 3, 4),
            "the spreadsheet made a date of it",
            "format the cell as text and type it again",
        ),
        (read_lot, 1e16, "has more than 15 digits, and the spreadsheet has lost the last ones", ""),
        (slug(24), "müller", "is not a short code", "use letters a-z, digits, - and _ without blanks"),
        (slug(4), "moulder", "is 7 characters long", "at most 4"),
        (choice("own", "subcontractor", "supplier"), "suplier", "", "did you mean supplier?"),
        (choice("own", "supplier"), "qqq", "", "use one of: own, supplier"),
        (unit("piece", "g"), "kg", "", "use one of: g, piece"),
        (read_whole(1, 9), "10", "is out of range", "write a number from 1 to 9"),
        (read_whole(), "1.5", "is not a whole number", "write a whole number"),
        (yes_no, "maybe", "is neither yes nor no", "write yes or no"),
        (zone, "New York", "is not a time zone name", "did you mean America/New_York?"),
        (zone, "Chihuahua", "is not a time zone name", "did you mean America/Chihuahua?"),
        (read_line(5), "longer", "is 6 characters long", "at most 5"),
        (read_line(), "a\x07b", "holds a character that cannot be printed", "type the text again"),
    ],
)
def test_a_bad_cell_says_what_is_wrong_and_what_is_right(parse: Parser, cell: Raw, wrong: str, right: str) -> None:
    with pytest.raises(BadCell) as bad:
        parse(cell, None)
    if wrong:
        assert bad.value.wrong == wrong
    if right:
        assert bad.value.right == right


def test_a_nul_never_reaches_the_database() -> None:
    with pytest.raises(BadCell):
        to_text("a\0b")
