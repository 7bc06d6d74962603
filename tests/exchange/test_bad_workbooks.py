"""Bad workbooks and exactly what is said of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.exchange.books import SMALL, asked, changed, problems, read, texts, write
from traveller.exchange.workbook import Known, KnownPart

KNOWN = Known(
    sites={"bench": "own", "mill": "subcontractor"},
    parts={
        "CUP": KnownPart("made", "piece", {10: "mill", 20: "mill"}, ("CLAY", "LID")),
        "LID": KnownPart("bought", "piece"),
        "CLAY": KnownPart("material", "g"),
    },
    order_lines={("A-1", 1): "CUP"},
)


ONE_FAULT = [
    # (sheet, replaced, by, what is said)
    (
        "sites",
        "mill,The mill,subcontractor",
        "mill,The mill,subcontracter",
        'sites row 3, column kind: "subcontracter" is not a word this column knows; did you mean subcontractor?',
    ),
    ("sites", "bench,Own bench,own", "bench,Own bench,supplier", "sites, column kind: names no bench of your own; "
     "give the site where you assemble and pack the kind own"),
    (
        "lanes",
        "mill,bench,2",
        "mill,bensh,2",
        'lanes row 2, column to: "bensh" is not a site; did you mean bench?',
    ),
    ("lanes", "mill,bench,2", "mill,mill,2", 'lanes row 2, column to: "mill" is where the lane begins; '
     "name another site"),
    (
        "lanes",
        "mill,bench,2",
        "mill,bench,2\nmill,bench,3",
        'lanes row 3, column from, to: "mill / bench" is there already in row 2; leave one of the two rows',
    ),
    (
        "lanes",
        "mill,bench,2",
        "mill,bench,",
        "lanes row 2, column transit_days: is empty; this column is needed in every row",
    ),
    (
        "lanes",
        "mill,bench,2",
        "mill,bench,1.5",
        'lanes row 2, column transit_days: "1.5" is not a whole number; write a whole number',
    ),
    ("batches", "R-1,CUP", "R 1,CUP", 'batches row 2, column reference: "R 1" is not a short code; '
     "use letters, digits and . - / + # without blanks"),
    ("parts", "LID,Lid,bought,piece", "LID,Lid,bought,box", 'parts row 3, column unit: "box" is not a word this column '
     "knows; use one of: g, mg, ml, mm, piece"),
    (
        "parts",
        "bought,piece,mill",
        "bought,piece,mil",
        'parts row 3, column supplier: "mil" is not a site; did you mean mill?',
    ),
    (
        "parts",
        "LID,Lid,bought,piece,mill,",
        "LID,Lid,made,piece,,",
        'parts row 3, column kind: "made" but LID has no steps; give it steps in the sheet routings, or call it bought',
    ),
    (
        "bills",
        "CUP,CLAY,250,kg",
        "CUP,CLAYS,250,kg",
        'bills row 2, column component: "CLAYS" is not a part; did you mean CLAY?',
    ),
    (
        "bills",
        "CUP,LID,1,piece",
        "CUP,LID,30,g",
        'bills row 3, column unit: "g" does not measure a part counted in piece; write piece',
    ),
    (
        "bills",
        "CUP,CLAY,250,kg",
        "CUP,CLAY,250,piece",
        'bills row 2, column unit: "piece" does not measure a part counted in g; write g or mg or kg',
    ),
    (
        "bills",
        "CUP,LID,1,piece,1,",
        'CUP,LID,"0.0005",piece,1,',
        'bills row 3, column quantity: "0.0005" is no whole number of piece per 1000; '
        "the part is counted in whole piece",
    ),
    (
        "bills",
        "CUP,CLAY,250,kg,1000,10",
        "CUP,CLAY,250,kg,1000,15",
        'bills row 2, column step: "15" is not a step of CUP; its steps are 10, 20',
    ),
    (
        "bills",
        "CUP,CLAY,250,kg,1000,10",
        "CUP,CLAY,250,kg,1000,later",
        'bills row 2, column step: "later" is neither a step nor pack; write the step\'s number, such as 20, or pack',
    ),
    ("bills", "250,kg,1000", "250,kg,100", 'bills row 2, column per: "100" is neither 1 nor 1000; '
     "write 1, or 1000 for a quantity per thousand pieces"),
    (
        "bills",
        "CUP,CLAY,250,kg,1000,10",
        "CUP,CUP,1,piece,1,10",
        'bills row 2, column component: "CUP" makes the bill contain itself: CUP -> CUP; take one of these rows out',
    ),
    (
        "bills",
        "CUP,LID,1,piece,1,pack",
        "LID,CLAY,1,g,1,pack",
        'bills row 3, column part: "LID" is bought; only made parts have a bill',
    ),
    ("routings", "CUP,10,mill,throw,make", "CUP,10,mill,throw,work", 'routings row 2, column kind: "work" but no step '
     "makes CUP; call the step at which the pieces come to be make"),
    ("routings", "fire,work", "fire,make", 'routings row 3, column kind: "make" but step 10 makes CUP already; '
     "call it work"),
    ("routings", "fire,work", "fire,prepare", 'routings row 3, column kind: "prepare" but the pieces are there since '
     "step 10; call it work"),
    ("routings", "fire,work\n", "fire,work\nLID,10,mill,press,make\n", 'routings row 4, column part: "LID" is bought, '
     "and has steps; call LID made in the sheet parts, or take the row out"),
    (
        "checks",
        "CUP,20,kiln",
        "CUP,25,kiln",
        'checks row 2, column step: "25" is not a step of CUP; its steps are 10, 20',
    ),
    (
        "checks",
        "kiln,window",
        "kiln,windows",
        'checks row 2, column kind: "windows" is not a kind of check; did you mean window '
        "(reads least, most, unit)?",
    ),
    (
        "checks",
        "window,load",
        "window,piece",
        'checks row 2, column scope: "piece" is not how a window check is judged; use one of: load, step',
    ),
    (
        "checks",
        "30,90,min",
        ",,min",
        "checks row 2, column least: is empty; write a number here or in the column most",
    ),
    (
        "checks",
        "30,90,min",
        "30,90,kg",
        'checks row 2, column unit: "kg" is no unit of time; write s or min or h',
    ),
    (
        "checks",
        "30,90,min",
        "90,30,min",
        'checks row 2, column most: "30" cannot be used; write 90 or more, since the least is 90',
    ),
    (
        "orders",
        "2026-01-05",
        "03/04/2026",
        'orders row 2, column placed: "03/04/2026" can be read as 4 Mar 2026 or as 3 Apr 2026; '
        "write 2026-03-04 or 2026-04-03",
    ),
    (
        "orders",
        "2026-02-05",
        "2025-02-05",
        'orders row 2, column due: "2025-02-05" is before the order was placed; write a day from 2026-01-05 on',
    ),
    ("orders", "CUP,100", "CUP,-3", 'orders row 2, column quantity: "-3" is out of range; '
     "write a number from 1 to 10,000,000"),
    (
        "stock",
        "80,kg",
        "80,piece",
        'stock row 2, column unit: "piece" does not measure a part counted in g; write g or mg or kg',
    ),
    ("stock", "80,kg", "0,kg", 'stock row 2, column quantity: "0" is too small; write more than 0'),
    (
        "batches",
        "10,mill,40",
        "10,bench,40",
        'batches row 2, column site: "bench" is not where step 10 of CUP is done; '
        "write mill, or the step that is done there",
    ),
    (
        "batches",
        "CUP,A-1,1",
        "CUP,A-2,1",
        'batches row 2, column order: "A-2" is not an order; known orders: A-1',
    ),
    ("batches", "CUP,A-1,1", "CUP,A-1,2", 'batches row 2, column line: "2" is not a line of order A-1; '
     "its lines are 1"),
    ("batches", "CUP,A-1,1", "CUP,,1", "batches row 2, column order: is empty, but a line is given; "
     "name the order too"),
    ("batches", "R-1,CUP,A-1,1,10,mill,40,2026-01-03\n", "R-1,CUP,A-1,1,10,mill,40,2026-01-03\n"
     "R-1,CUP,A-1,1,20,mill,9,2026-01-04\n", 'batches row 3, column started_on: "2026-01-04" but row 2 of the same '
     'batch says "2026-01-03"; make the two rows agree'),
]  # fmt: skip


@pytest.mark.parametrize(("sheet", "old", "new", "said"), ONE_FAULT)
def test_one_fault_is_named_once_with_its_place_and_the_right_words(
    tmp_path: Path, sheet: str, old: str, new: str, said: str
) -> None:
    assert texts(write(tmp_path, **changed(sheet, old, new))) == [said]


def test_a_step_before_the_pieces_are_made_and_the_bill_that_names_a_lost_step_are_both_told(tmp_path: Path) -> None:
    found = texts(write(tmp_path, **changed("routings", "CUP,10,mill", "CUP,30,mill")))
    assert found == [
        'bills row 2, column step: "10" is not a step of CUP; its steps are 20, 30',
        'routings row 3, column kind: "work" but no piece is there before step 30; call it prepare',
        'batches row 2, column step: "10" is not a step of CUP; its steps are 20, 30',
    ]


def test_an_order_for_material_and_the_batch_that_is_no_longer_for_it_are_both_told(tmp_path: Path) -> None:
    assert texts(write(tmp_path, **changed("orders", "CUP,100", "CLAY,100"))) == [
        'orders row 2, column part: "CLAY" is counted in g; order pieces only',
        'batches row 2, column part: "CUP" but line 1 of order A-1 is for CLAY; '
        "leave order and line empty for a batch of a component",
    ]


def test_all_faults_come_at_once_in_the_order_of_the_sheets(tmp_path: Path) -> None:
    spoiled = write(
        tmp_path,
        **changed("sites", "Europe/London", "Europe/Nowhere"),
        **changed("orders", "CUP,100", "CUB,many"),
        **changed("stock", "C-9,mill", "C-9,mil"),
        **changed("parts", "bought,piece", "bougt,pieces"),
    )
    assert [(each.sheet, each.row, each.column) for each in problems(spoiled)] == [
        ("sites", 3, "timezone"),
        ("parts", 3, "kind"),
        ("orders", 2, "quantity"),
        ("stock", 2, "site"),
    ]


def test_a_row_with_a_bad_cell_is_not_also_called_unknown(tmp_path: Path) -> None:
    found = texts(write(tmp_path, **changed("parts", "CUP,Cup,made", "CUP,Cup,mdae")))
    assert found == [
        'parts row 2, column kind: "mdae" is not a word this column knows; '
        "did you mean made? if not, use one of: bought, made, material"
    ]


def test_a_long_loop_is_spelled_out_once(tmp_path: Path) -> None:
    parts = "part,name,kind\nA,A,made\nB,B,made\nC,C,made\n"
    bills = "part,component,quantity,step\nA,B,1,10\nB,C,1,10\nC,A,1,10\n"
    routings = "part,step,site,verb,kind\nA,10,mill,do,make\nB,10,mill,do,make\nC,10,mill,do,make\n"
    only = {"checks": None, "orders": None, "stock": None, "batches": None}
    found = texts(write(tmp_path, parts=parts, bills=bills, routings=routings, **only))
    assert found == [
        'bills row 4, column component: "A" makes the bill contain itself: A -> B -> C -> A; take one of these rows out'
    ]


def test_a_loop_through_what_the_database_knows_is_found(tmp_path: Path) -> None:
    known = Known(
        sites={"mill": "own"},
        parts={
            "A": KnownPart("made", "piece", {10: "mill"}, ("B",)),
            "B": KnownPart("made", "piece", {10: "mill"}, ()),
        },
    )
    (tmp_path / "bills.csv").write_text("part,component,quantity,step\nB,A,1,10\n")
    assert ["A -> B -> A" in each.wrong for each in problems(tmp_path, known=known)] == [True]


def test_an_unknown_column_is_asked_and_an_unknown_sheet_is_left_aside(tmp_path: Path) -> None:
    parts = SMALL["parts"].replace("supplier,picture", "suplier,picture").replace("bought,piece,mill", "bought,piece,")
    folder = write(tmp_path, parts=parts, notes="anything,at all\n1,2\n", people=None, peple="site,name\n")
    found = read(folder)
    assert [each.text() for each in found.questions] == [
        "parts, column suplier: is not a column of this sheet; "
        "if supplier is meant, call it so; confirmed, it is left out"
    ]
    warnings = {(each.sheet, each.column): each.text() for each in found.warnings}
    assert warnings["notes", ""] == "notes: is not a sheet of the workbook; it is left aside"
    assert warnings["peple", ""] == "peple: is not a sheet of the workbook; if it is meant, call it people"


def test_a_needed_sheet_that_is_not_there_is_named_without_a_flood(tmp_path: Path) -> None:
    assert texts(write(tmp_path, parts=None)) == [
        "parts: is a sheet that is needed and not there; sites, parts and routings are needed"
    ]


def test_a_needed_sheet_under_another_name_is_found_by_its_likeness(tmp_path: Path) -> None:
    assert texts(write(tmp_path, routings=None, routing=SMALL["routings"])) == [
        "routings: is a sheet that is needed and not there; call the sheet routing routings"
    ]


def test_a_needed_column_under_another_name_is_named(tmp_path: Path) -> None:
    found = texts(write(tmp_path, **changed("sites", "timezone", "timezon")))
    assert found == [
        "sites, column timezone: is a column that is needed and not there; "
        "head the column timezon with the word timezone"
    ]


def test_an_empty_needed_sheet_says_which_columns_it_wants(tmp_path: Path) -> None:
    found = texts(write(tmp_path, parts="\n\n"))
    assert [each[:60] for each in found] == ["parts: is empty; its first row names the columns: part, name"]


def test_a_workbook_of_new_orders_need_not_repeat_the_parts(tmp_path: Path) -> None:
    (tmp_path / "orders.csv").write_text(SMALL["orders"])
    (tmp_path / "batches.csv").write_text(SMALL["batches"])
    assert len(read(tmp_path, known=KNOWN).orders) == 1
    assert {each.sheet for each in problems(tmp_path)} == {"sites", "parts", "routings"}


def test_a_known_part_is_held_to_its_known_steps(tmp_path: Path) -> None:
    (tmp_path / "batches.csv").write_text(SMALL["batches"].replace(",10,mill", ",30,mill"))
    assert texts(tmp_path, known=KNOWN) == [
        'batches row 2, column step: "30" is not a step of CUP; its steps are 10, 20'
    ]


def test_two_lines_of_an_order_tell_the_same_of_it(tmp_path: Path) -> None:
    orders = "order,customer,placed,line,part,quantity,due\nA-1,Shop,2026-01-05,1,CUP,9,2026-02-05\n"
    orders += "A-1,Shoppe,2026-01-05,2,CUP,9,2026-02-05\n"
    assert texts(write(tmp_path, orders=orders)) == [
        'orders row 3, column customer: "Shoppe" but row 2 of the same order says "Shop"; make the two rows agree'
    ]


def test_a_missing_lane_and_a_missing_supplier_are_warnings(tmp_path: Path) -> None:
    folder = write(
        tmp_path,
        **changed("routings", "CUP,20,mill", "CUP,20,bench"),
        **changed("parts", "g,mill", "g,"),
        lanes=None,
    )
    assert [each.text() for each in read(folder).warnings] == [
        "parts row 4, column supplier: is empty: nobody to buy it from; name the site that sells it",
        'routings row 3, column site: "bench" has no lane from mill, where step 10 is done; add it to the sheet lanes',
    ]


def test_a_column_that_means_nothing_to_the_kind_is_asked(tmp_path: Path) -> None:
    checks = SMALL["checks"].replace("unit,source", "unit,nominal,source").replace("30,90,min,", '30,90,min,"3,5",')
    assert asked(write(tmp_path, checks=checks)) == [
        'checks row 2, column nominal: "3.5" means nothing to a window check; it reads least, most, unit; '
        "confirmed, it is left out"
    ]


def test_a_limit_that_counts_defects_is_refused_for_pieces(tmp_path: Path) -> None:
    checks = SMALL["checks"].replace("most,unit", "most,unit,limit").replace("window,load", "sample,lot")
    row = checks.replace("30,90,min,", ",,,{limit},").format
    assert len(read(write(tmp_path, checks=row(limit="10"))).checks) == 1
    assert texts(write(tmp_path, checks=row(limit="65"))) == [
        'checks row 2, column limit: "65" is no share of bad pieces: above 10 the table counts defects per hundred '
        "units, several to a piece; write 10 or less"
    ]


def test_a_hopeless_file_is_cut_off_and_says_so(tmp_path: Path) -> None:
    lanes = "from,to,transit_days\n" + "".join(f"x{n},y{n},1\n" for n in range(600))
    found = problems(write(tmp_path, lanes=lanes))
    assert len(found) == 501
    assert found[-1].wrong == "has 700 more faults"
