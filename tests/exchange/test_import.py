"""A workbook into the database: all or nothing, twice the same, changed rows, frozen routings."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from sites.actor import Actor
from sites.models import Closure, Lane, Person, Site
from tests.exchange.books import SMALL, Upload, png, read, small_xlsx, write
from tests.factory import balance, sums_to_zero, uid
from traveller.batches.models import Batch, Verdict
from traveller.exchange.workbook import (
    Problem,
    Report,
    Workbook,
    as_zip,
    from_database,
    import_workbook,
    stopped_by,
    write_xlsx,
)
from traveller.exchange.workbook.compare import row_key
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.ledger.models import Condition, Lot, Posting
from traveller.orders.models import Order, OrderLine
from traveller.products import frozen
from traveller.products.models import BillLine, Check, Operation, Part, Routing

pytestmark = pytest.mark.django_db

DEMO = Path(__file__).parents[2] / "fixtures" / "demo"
MODELS: tuple[Any, ...] = (
    Site, Lane, Closure, Person, Part, BillLine, Routing, Operation, Check, Order, OrderLine, Lot, Batch, Posting,
    Event,
)  # fmt: skip


def event_context(n: int, day: dt.date = dt.date(2026, 1, 10)) -> EventContext:
    at = dt.datetime.combine(day, dt.time(12), tzinfo=dt.UTC)
    return EventContext(uid=uid(f"import {n}"), at=at, recorded_at=at, actor=Actor("founder", "Mara Lind"))


def imported(source: Any, n: int = 1, **options: Any) -> Report:
    found = import_workbook(source, event_context=event_context(n), **options)
    assert isinstance(found, Report), [problem.text() for problem in stopped_by(found)]
    return found


def refused(source: Any, n: int = 1, **options: Any) -> list[str]:
    found = import_workbook(source, event_context=event_context(n), **options)
    assert isinstance(found, list), "the workbook was imported"
    return [problem.text() for problem in found]


def rows() -> dict[str, int]:
    return {model.__name__: model.objects.count() for model in MODELS}


def counts(report: Report, sheet: str) -> tuple[int, int, int, int]:
    found = report.sheets[sheet]
    return found.added, found.changed, found.removed, found.unchanged


def test_the_demo_workbook_arrives_whole() -> None:
    workbook = read(DEMO)
    report = imported(DEMO)
    assert {name: found.added for name, found in report.sheets.items()} == {
        name: len(workbook.sheet(name)) for name in report.sheets
    }
    assert len(report.sheets) == 11
    assert report.warnings == ()
    resin = Lot.objects.get(part__number="RESIN-AM", outside_number="PC-7748")
    assert balance(resin, Site.objects.get(code="bench")) == 60_000
    line = BillLine.objects.get(routing__part__number="GLOBE-AM", component__number="RESIN-AM")
    assert (line.per_thousand, line.step) == (61_500, 20)
    assert BillLine.objects.get(routing__part__number="LANTERN-AM", component__number="CARTON").step == 0
    globe = Routing.objects.get(part__number="GLOBE-AM")
    assert [(op.number, op.kind, op.yield_ppm) for op in globe.operations.all()] == [
        (10, "prepare", 1_000_000),
        (20, "make", 970_000),
        (30, "work", 1_000_000),
        (40, "work", 995_000),
        (50, "work", 960_000),
    ]
    part = Part.objects.get(number="GLOBE-AM")
    assert bytes(part.picture or b"") == (DEMO / "pictures" / "globe-amber.png").read_bytes()
    assert part.picture_type == "image/png"
    assert sums_to_zero()


def test_every_check_of_the_demo_can_be_judged() -> None:
    imported(DEMO)
    frozen.forget()
    assert all(len(frozen.checks_of(pk)) >= 0 for pk in Operation.objects.values_list("pk", flat=True))
    assert Check.objects.count() == len(read(DEMO).checks)


def test_a_batch_under_way_lies_at_its_step_with_its_past_conceded_visibly() -> None:
    imported(DEMO)
    batch = Batch.objects.get(part__number="BAND")
    rubber = Site.objects.get(code="rubber")
    assert batch.lot is not None
    assert batch.lot.outside_number == "RUN-88"
    assert balance(batch.lot, rubber, Condition.IN_PROCESS, 30) == 220
    assert [step.state for step in batch.steps.order_by("number")] == ["done", "done", "waiting"]
    assert not Verdict.objects.filter(step__batch=batch, outcome="passed").exists()
    assert batch.released_event.happened_at.astimezone(rubber.zone).date() == dt.date(2025, 12, 29)


def test_the_same_workbook_twice_changes_nothing() -> None:
    imported(DEMO)
    before = rows()
    report = imported(DEMO, 2)
    assert report.changes_nothing
    assert rows() == before
    assert {name: found.unchanged for name, found in report.sheets.items()} == {
        name: len(read(DEMO).sheet(name)) for name in report.sheets
    }


def test_a_dry_run_reports_the_same_and_changes_nothing() -> None:
    before = rows()
    report = imported(DEMO, dry_run=True)
    assert report.dry_run
    assert rows() == before
    assert report.sheets == imported(DEMO, 2).sheets


def test_a_bad_row_at_the_end_leaves_nothing_behind(tmp_path: Path) -> None:
    before = rows()
    folder = write(tmp_path, batches=SMALL["batches"].replace("2026-01-03", "2026-03-01"))
    assert refused(folder) == [
        'batches row 2, column started_on: "2026-03-01" has not come yet; write the day on which it came to lie there'
    ]
    assert rows() == before


def test_a_refusal_of_an_action_is_told_with_its_row_and_leaves_nothing_behind(tmp_path: Path) -> None:
    imported(write(tmp_path / "first"))
    line = OrderLine.objects.get()
    assert line.released == 40
    before = rows()
    lower = write(
        tmp_path / "second",
        orders=SMALL["orders"].replace("CUP,100", "CUP,10"),
        lanes="from,to,transit_days\nmill,bench,9\n",
    )
    found = refused(lower, 2)
    assert len(found) == 1
    assert found[0].startswith("orders row 2: ")
    assert "40" in found[0]
    assert rows() == before
    assert Lane.objects.get().transit_days == 2


def test_a_changed_row_updates_and_the_rest_stays(tmp_path: Path) -> None:
    imported(write(tmp_path / "first"))
    sites = SMALL["sites"].replace("The mill", "The new mill")
    lanes = SMALL["lanes"] + "bench,mill,1\n"
    orders = SMALL["orders"].replace("2026-02-05", "2026-03-05")
    report = imported(write(tmp_path / "second", sites=sites, lanes=lanes, orders=orders), 2)
    assert counts(report, "sites") == (0, 1, 0, 1)
    assert counts(report, "lanes") == (1, 0, 0, 1)
    assert counts(report, "orders") == (0, 1, 0, 0)
    assert counts(report, "routings") == (0, 0, 0, 2)
    assert Site.objects.get(code="mill").name == "The new mill"
    assert OrderLine.objects.get().due_on == dt.date(2026, 3, 5)
    assert Routing.objects.count() == 1


def test_an_order_changed_to_and_fro_ends_as_it_was_told_last(tmp_path: Path) -> None:
    for n, day in enumerate(("2026-02-05", "2026-03-05", "2026-02-05")):
        imported(write(tmp_path / str(n), orders=SMALL["orders"].replace("2026-02-05", day)), n)
        assert OrderLine.objects.get().due_on == dt.date.fromisoformat(day)
    assert Event.objects.filter(kind="order entered").count() == 3


def test_a_changed_routing_makes_a_new_revision_and_the_batch_keeps_the_old(tmp_path: Path) -> None:
    imported(write(tmp_path / "first"))
    batch = Batch.objects.get()
    routings = SMALL["routings"].replace("CUP,20,mill,fire,work\n", "CUP,20,mill,fire,work\nCUP,30,bench,glaze,work\n")
    report = imported(write(tmp_path / "second", routings=routings), 2)
    assert counts(report, "routings") == (1, 0, 0, 2)
    latest = Routing.objects.get(part__number="CUP", revision=2)
    assert [op.number for op in latest.operations.all()] == [10, 20, 30]
    assert [check.key for op in latest.operations.all() for check in op.checks.all()] == ["kiln"]
    batch.refresh_from_db()
    assert batch.routing.revision == 1
    assert [op.number for op in batch.routing.operations.all()] == [10, 20]


@pytest.mark.parametrize(
    ("sheet", "old", "new", "expected"),
    [
        ("checks", "30,90,min", "40,90,min", (0, 1, 0, 0)),
        ("bills", "250,kg", "260,kg", (0, 1, 0, 1)),
        ("bills", "CUP,LID,1,piece,1,pack\n", "", (0, 0, 1, 1)),
        ("checks", 'CUP,20,kiln,window,load,sending,30,90,min,"common practice, no source"\n', "", (0, 0, 1, 0)),
    ],
)
def test_a_changed_check_or_bill_makes_a_new_revision_too(
    tmp_path: Path, sheet: str, old: str, new: str, expected: tuple[int, int, int, int]
) -> None:
    imported(write(tmp_path / "first"))
    assert old in SMALL[sheet]
    changed = write(tmp_path / "second", **{sheet: SMALL[sheet].replace(old, new)})
    assert counts(imported(changed, 2), sheet) == expected
    assert Routing.objects.count() == 2
    before = rows()
    assert imported(changed, 3).changes_nothing
    assert rows() == before


def test_the_same_bill_in_other_units_and_the_rows_in_another_order_change_nothing(tmp_path: Path) -> None:
    imported(write(tmp_path / "first"))
    bills = "part,component,quantity,unit,per,step\nCUP,LID,1000,pcs,1000,pack\nCUP,CLAY,250,g,1,10\n"
    stock = SMALL["stock"].replace("80,kg", "80000,g")
    assert imported(write(tmp_path / "second", bills=bills, stock=stock), 2).changes_nothing


def test_a_sheet_that_is_not_there_says_nothing(tmp_path: Path) -> None:
    imported(write(tmp_path / "first"))
    routings = SMALL["routings"].replace("throw", "turn")
    only = {name: None for name in SMALL if name != "routings"}
    report = imported(write(tmp_path / "second", **{**only, "routings": routings}), 2)
    assert counts(report, "routings") == (0, 1, 0, 1)
    assert set(report.sheets) == {"routings"}
    assert BillLine.objects.filter(routing__revision=2).count() == 2
    assert Check.objects.filter(operation__routing__revision=2).count() == 1


def test_stock_is_never_posted_twice_and_other_figures_for_it_are_refused(tmp_path: Path) -> None:
    imported(write(tmp_path / "first"))
    more = write(
        tmp_path / "second", stock=SMALL["stock"].replace("80,kg", "90,kg") + "LID,L-1,bench,5,piece,2026-01-02\n"
    )
    before = rows()
    assert refused(more, 2) == [
        'stock row 2, column quantity: "90000" g but it was taken over with 80000 g; '
        "leave the row as it was: what changed since is counted, not imported"
    ]
    assert rows() == before
    assert balance(Lot.objects.get(outside_number="C-9"), Site.objects.get(code="mill")) == 80_000


def test_a_batch_taken_over_cannot_be_told_otherwise(tmp_path: Path) -> None:
    imported(write(tmp_path / "first"))
    changed = write(tmp_path / "second", batches=SMALL["batches"].replace("mill,40", "mill,60"))
    assert refused(changed, 2) == [
        'batches row 2, column good: "60" but it was taken over with 40; '
        "leave the row as it was: what changed since is counted, not imported"
    ]
    spread = SMALL["batches"] + "R-1,CUP,A-1,1,20,mill,9,2026-01-03\n"
    assert refused(write(tmp_path / "third", batches=spread), 3) == [
        'batches row 3, column reference: "R-1" was taken over before without this step; '
        "leave the row out: its counts are reported at the step"
    ]


def test_a_batch_that_lies_at_two_steps_is_one_batch(tmp_path: Path) -> None:
    spread = SMALL["batches"] + "R-1,CUP,A-1,1,20,mill,9,2026-01-03\n"
    imported(write(tmp_path, batches=spread))
    batch = Batch.objects.get()
    mill = Site.objects.get(code="mill")
    assert batch.lot is not None
    assert balance(batch.lot, mill, Condition.IN_PROCESS, 20) == 40
    assert batch.lot.accounts.filter(balance=9).count() == 1
    assert sums_to_zero()


def test_the_unit_of_a_part_with_lots_stays(tmp_path: Path) -> None:
    imported(write(tmp_path / "first"))
    parts = SMALL["parts"].replace("material,g", "material,mg")
    assert refused(write(tmp_path / "second", parts=parts), 2) == [
        'parts row 4, column unit: "mg" but lots of CLAY are counted in g; write g, or give the part a new number'
    ]


def test_a_picture_is_replaced_kept_or_taken_away(tmp_path: Path) -> None:
    with_picture = SMALL["parts"].replace("CUP,Cup,made,piece,,", "CUP,Cup,made,piece,,cup.png")
    folder = write(tmp_path / "first", parts=with_picture)
    (folder / "cup.png").write_bytes(png())
    imported(folder)
    first = Part.objects.get(number="CUP").picture_digest
    assert first
    lines = [line.split(",") for line in with_picture.strip().split("\n")]
    report = imported(Upload("book.xlsx", small_xlsx(parts=lines)), 2)
    assert report.changes_nothing
    assert Part.objects.get(number="CUP").picture_digest == first
    (folder / "cup.png").write_bytes(png(9, 9))
    assert counts(imported(folder, 3), "parts") == (0, 1, 0, 2)
    assert Part.objects.get(number="CUP").picture_digest not in ("", first)
    assert counts(imported(write(tmp_path / "none"), 4), "parts") == (0, 1, 0, 2)
    cup = Part.objects.get(number="CUP")
    assert (cup.picture, cup.picture_type, cup.picture_digest) == (None, "", "")


def test_what_an_import_changed_is_in_the_journal_and_a_retry_is_not(tmp_path: Path) -> None:
    folder = write(tmp_path)
    imported(folder)
    event = Event.objects.get(kind="workbook imported")
    assert event.person == "Mara Lind"
    assert event.data["told"]["added"]["bills"] == ["CUP / CLAY / 10", "CUP / LID"]
    assert imported(folder).changes_nothing
    other = write(tmp_path / "other", sites=SMALL["sites"].replace("The mill", "Mill"))
    assert refused(other) == ["(the file): was sent under the number of another import; open the page anew"]
    assert Site.objects.get(code="mill").name == "The mill"


def test_an_export_imports_as_nothing_new_and_fills_an_empty_database_the_same(tmp_path: Path) -> None:
    imported(DEMO)
    exported = from_database()
    write_xlsx(exported, tmp_path / "demo.xlsx")
    assert imported(tmp_path / "demo.xlsx", 2).changes_nothing
    assert imported(Upload("demo.zip", as_zip(exported)), 3).changes_nothing
    assert read(Upload("demo.zip", as_zip(exported))) == exported


def by_key(workbook: Workbook, sheet: str) -> dict[Any, Any]:
    return {row_key(row, sheet): row for row in workbook.sheet(sheet)}


def test_an_export_keeps_every_value_of_the_demo() -> None:
    workbook = read(DEMO)
    imported(DEMO)
    exported = from_database()
    for name in ("sites", "lanes", "closures", "people", "routings", "checks", "orders", "batches"):
        assert by_key(exported, name) == by_key(workbook, name)
    assert {row.lot: row.quantity for row in exported.stock if row.unit == "g"}["PC-7748"] == Decimal(60_000)
    assert {bytes(content) for content in exported.pictures.values()} == set(workbook.pictures.values())


def test_a_new_workbook_of_orders_alone_is_enough(tmp_path: Path) -> None:
    imported(write(tmp_path / "first"))
    (tmp_path / "orders.csv").write_text(SMALL["orders"].replace("A-1", "A-2"))
    (tmp_path / "first").rename(tmp_path.parent / "elsewhere")
    report = imported(tmp_path, 2)
    assert counts(report, "orders") == (1, 0, 0, 0)
    assert Order.objects.count() == 2


def test_a_person_whose_name_is_typed_otherwise_is_the_same_person(tmp_path: Path) -> None:
    first = "site,name,initials\nmill,Łukasz O'Brien,LO\n"
    imported(write(tmp_path / "first", people=first))
    again = write(tmp_path / "again", people="site,name,initials\nmill,łukasz  o\u2019brien,LB\n")
    assert counts(imported(again, 2), "people") == (0, 1, 0, 0)
    assert list(Person.objects.values_list("name", "initials")) == [("Łukasz O'Brien", "LB")]
    assert imported(again, 3).changes_nothing


def test_two_rows_of_one_person_are_told(tmp_path: Path) -> None:
    twice = "site,name,initials\nmill,Ines,IN\nmill,INES,IN\n"
    assert refused(write(tmp_path, people=twice)) == [
        'people row 3, column name: "INES" is the same person as Ines in row 2; keep one of the two rows'
    ]


def test_two_people_whom_an_earlier_release_took_in_stay_two(tmp_path: Path) -> None:
    imported(write(tmp_path / "first", people="site,name,initials\nmill,Ines,IN\n"))
    Person.objects.create(site=Site.objects.get(code="mill"), name="INES", initials="I2")
    assert imported(Upload("all.zip", as_zip(from_database())), 2).changes_nothing


def test_every_problem_is_data(tmp_path: Path) -> None:
    found = import_workbook(
        write(tmp_path, lanes="from,to,transit_days\nmill,moon,1\n"), event_context=event_context(1)
    )
    assert found == [Problem("lanes", 2, "to", "moon", "is not a site", "add it to the sheet sites")]
