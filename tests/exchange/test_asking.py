"""What is legal but odd is asked: nothing is imported before it is confirmed, of this file and for these questions."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from sites.models import Site
from tests.exchange.books import SMALL, asked, changed, read, texts, write
from tests.exchange.test_import import DEMO, event_context
from traveller.exchange.workbook import Doubt, Known, KnownPart, Report, Unconfirmed, consequences, import_workbook
from traveller.exchange.workbook.problems import merged
from traveller.journal.models import Event
from traveller.products.models import Operation

COLUMN = Doubt("lanes", None, "colour", "", "is not a column of this sheet", "confirmed, it is left out", "column")

VARIANT = "part,step,check,kind,scope,blocks,name,source\nCUP,20,glaze,variant,step,step,{},none\n"
GREEN = SMALL["parts"].replace("picture\n", "picture,variant\n").replace("made,piece,,", "made,piece,,,sage green")
ODD = [
    # (sheets, what is asked)
    (
        {"routings": SMALL["routings"].replace("kind\n", "kind,yield_percent\n").replace("make\n", "make,0.96\n")},
        'routings row 2, column yield_percent: "0.96" expects that of 100 pieces 0.96 come out good; '
        "96 is 96 %; confirmed, the plan starts so many more",
    ),
    (
        {"closures": "site,first_day,last_day\nmill,2026-12-01,2099-12-31\n"},
        'closures row 2, column last_day: "2099-12-31" shuts mill for 26,694 days; '
        "check the year; a site where nothing is done any more is closed for good on its own page",
    ),
    (
        changed("orders", "CUP,100", 'CUP,"1,300"'),
        'orders row 2, column quantity: "1,300" can mean two things, 1.3 or 1300; confirmed, it is 1300, as is '
        "usual in such a file; write 1.3 or 1300 to say it outright",
    ),
    (
        {"sites": SMALL["sites"].replace("timezone\n", "timezone,fax\n")},
        "sites, column fax: is not a column of this sheet; confirmed, it is left out",
    ),
    (
        {"checks": SMALL["checks"].replace("unit,", "unit,temperature,").replace("min,", "min,180-200 C,")},
        'checks row 2, column temperature: "180-200 C" means nothing to a window check; it reads least, most, unit; '
        "confirmed, it is left out",
    ),
    (
        {"parts": GREEN, "checks": VARIANT.format("green")},
        'checks row 2, column name: "green" is a word that no part has as its variant, colour or revision; '
        "CUP is sage green, A, CUP A; confirmed, this word alone passes",
    ),
]


@pytest.mark.parametrize(("sheets", "said"), ODD)
def test_what_is_legal_but_odd_is_asked_with_its_place(tmp_path: Path, sheets: dict[str, str], said: str) -> None:
    assert asked(write(tmp_path, **sheets)) == [said]


@pytest.mark.parametrize(
    "sheets",
    [
        {"routings": SMALL["routings"].replace("kind\n", "kind,yield_percent\n").replace("make\n", "make,50\n")},
        {"closures": "site,first_day,last_day\nmill,2026-12-01,2027-01-29\n"},
        changed("orders", "CUP,100", "CUP,1300"),
        changed("orders", "Corner Shop", '"1,300"'),
        changed("bills", "250,kg", "1.500,kg"),
        {"parts": GREEN, "checks": VARIANT.format("Sage  green")},
        {"parts": GREEN, "checks": VARIANT.format("CUP A")},
    ],
)
def test_what_is_not_odd_is_not_asked(tmp_path: Path, sheets: dict[str, str]) -> None:
    assert asked(write(tmp_path, **sheets)) == []


def test_the_demo_asks_nothing() -> None:
    assert read(DEMO).questions == ()


def test_what_many_rows_ask_alike_is_asked_once() -> None:
    one = Doubt("orders", 2, "quantity", "1,300", "has a mark", "write it without", "taken")
    assert merged([one, replace(one, row=5, found="2,400"), replace(one, row=9)]) == (
        replace(one, wrong="has a mark (likewise in 2 rows more)", times=3),
    )


@pytest.mark.parametrize(
    ("questions", "said"),
    [
        ([COLUMN], "leave this column out"),
        ([COLUMN, replace(COLUMN, column="fax")], "leave these 2 columns out"),
        (
            [COLUMN, replace(COLUMN, then="taken", times=3), replace(COLUMN, then="cell")],
            "leave this column out, and leave this cell out, and take these 3 figures as they stand",
        ),
    ],
)
def test_a_button_says_what_confirming_does(questions: list[Doubt], said: str) -> None:
    assert consequences(questions) == said


def tried(source: Any, n: int = 1, **options: Any) -> Report | Unconfirmed:
    found = import_workbook(source, event_context=event_context(n), **options)
    assert isinstance(found, Report | Unconfirmed), found
    return found


@pytest.mark.django_db
def test_nothing_is_imported_until_exactly_these_questions_are_confirmed(tmp_path: Path) -> None:
    folder = write(tmp_path, **ODD[0][0], **ODD[1][0])
    first = tried(folder)
    assert isinstance(first, Unconfirmed) and len(first.questions) == 2 and not Site.objects.exists()
    dry = tried(folder, dry_run=True, confirmed=first.token)
    assert isinstance(dry, Report) and dry.asked == first and not Site.objects.exists()
    # A question more, and a file that asks the same and says something else: neither is confirmed by that.
    more = tried(write(tmp_path / "more", **ODD[0][0], **ODD[1][0], **ODD[2][0]), confirmed=first.token)
    lanes = SMALL["lanes"].replace(",2", ",3")
    other = tried(write(tmp_path / "other", **ODD[0][0], **ODD[1][0], lanes=lanes), confirmed=first.token)
    assert isinstance(more, Unconfirmed) and isinstance(other, Unconfirmed) and not Site.objects.exists()
    assert len({first.token, more.token, other.token}) == 3
    done = tried(folder, confirmed=first.token)
    assert isinstance(done, Report) and done.asked == first
    assert Operation.objects.get(number=10).yield_ppm == 9_600
    event = Event.objects.get(kind="workbook imported")
    assert event.data["told"]["confirmed"] == [question.text() for question in first.questions]


OLD_HEADS = [
    (
        "kind,samples\n",
        "routings, column samples: is called destroyed now; see what destroyed means, and head the column so",
    ),
    (
        "kind,destroyed,samples\n",
        "routings, column samples: is called destroyed now, and destroyed is there too; leave one of the two columns",
    ),
    (
        "kind,destroyed,destroyed\n",
        'routings row 1, column destroyed: "destroyed" is the head of two columns; leave one of them',
    ),
]


@pytest.mark.parametrize(("head", "said"), OLD_HEADS)
def test_a_heading_of_old_or_there_twice_is_answered_by_name(tmp_path: Path, head: str, said: str) -> None:
    assert texts(write(tmp_path, routings=SMALL["routings"].replace("kind\n", head))) == [said]


def test_the_old_heading_of_a_check_is_answered_by_name_too(tmp_path: Path) -> None:
    checks = SMALL["checks"].replace("unit,", "unit,pieces,").replace("min,", "min,,")
    assert texts(write(tmp_path, checks=checks)) == [
        "checks, column pieces: is called inspected now; see what inspected means, and head the column so"
    ]


def test_two_headings_of_one_meaning_are_refused(tmp_path: Path) -> None:
    parts = SMALL["parts"].replace("picture\n", "picture,colour,color\n")
    assert texts(write(tmp_path, parts=parts)) == [
        "parts, column color: means the same as colour, which is there too; leave one of the two columns"
    ]


def test_a_code_in_other_letters_is_said_to_be_the_same(tmp_path: Path) -> None:
    parts = SMALL["parts"] + "cup,Cup,made,piece,,\n"
    assert texts(write(tmp_path / "a", parts=parts)) == [
        'parts row 5, column part: "cup" is the same code as CUP in row 2, in other letters; '
        "write CUP, or give it a code of its own"
    ]
    orders = SMALL["orders"] + "a-1,Corner Shop,2026-01-05,CUP,100,2026-02-05\n"
    assert texts(write(tmp_path / "b", orders=orders))[0].startswith(
        'orders row 3, column order: "a-1" is the same code as A-1 in row 2'
    )


def test_a_code_that_is_known_in_other_letters_is_said_to_be_the_same(tmp_path: Path) -> None:
    known = Known(sites={"mill": "own"}, parts={"CASE": KnownPart("bought", "piece")})
    (tmp_path / "parts.csv").write_text("part,name,kind,supplier\ncase,Case,bought,mill\nCASE,Case,bought,mill\n")
    assert texts(tmp_path, known=known) == [
        'parts row 2, column part: "case" is the same code as CASE, which is known already, in other letters; '
        "write CASE, or give it a code of its own"
    ]


@pytest.mark.parametrize("work", ["machining", "coating", "sanding", "oiling", "inspection"])
def test_a_word_that_is_like_none_of_a_short_list_is_answered_with_all_of_it(tmp_path: Path, work: str) -> None:
    routings = SMALL["routings"].replace("kind\n", "kind,operation\n").replace("make\n", f"make,{work}\n")
    found = texts(write(tmp_path, routings=routings))
    assert len(found) == 1 and "use one of: assembly, baking, cooling" in found[0]


@pytest.mark.parametrize(
    ("sheet", "old", "new", "said"),
    [
        ("parts", "material,g", "material,h", 'parts row 4, column unit: "h" is not a word this column knows'),
        ("bills", "250,kg", "250,ml", 'bills row 2, column unit: "ml" does not measure a part counted in g'),
        ("checks", "30,90,min", "30,90,C", 'checks row 2, column unit: "C" '),
    ],
)
def test_a_unit_that_a_field_cannot_take_is_refused_with_those_that_it_can(
    tmp_path: Path, sheet: str, old: str, new: str, said: str
) -> None:
    (found,) = texts(write(tmp_path, **changed(sheet, old, new)))
    assert found.startswith(said) and ("write" in found or "use one of" in found)
