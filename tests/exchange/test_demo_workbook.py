"""The demo workbook as it ships."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from tests.exchange.books import read
from traveller.decode.book.pictures import drawn
from traveller.exchange.workbook import Workbook

DEMO = Path(__file__).parents[2] / "fixtures" / "demo"


@pytest.fixture(scope="module")
def demo() -> Workbook:
    return read(DEMO)


def test_it_reads_without_a_warning(demo: Workbook) -> None:
    assert [warning.text() for warning in demo.warnings] == []


def test_its_pictures_are_small_and_each_part_has_one(demo: Workbook) -> None:
    assert all(part.picture in demo.pictures for part in demo.parts)
    assert all(len(content) < 6_000 and drawn(content) == content for content in demo.pictures.values())
    shipped = {f"pictures/{path.name}" for path in (DEMO / "pictures").iterdir()}
    assert shipped == set(demo.pictures)


def test_every_check_says_where_its_limit_comes_from(demo: Workbook) -> None:
    assert all("common practice, no source" in check.source for check in demo.checks)


def test_it_has_a_site_in_another_zone_with_holidays_of_its_own(demo: Workbook) -> None:
    bench = next(site for site in demo.sites if site.kind == "own")
    days = {row.site: {other.first_day for other in demo.closures if other.site == row.site} for row in demo.closures}
    assert any(
        site.country != bench.country and site.timezone != bench.timezone and not days[site.site] & days[bench.site]
        for site in demo.sites
        if site.site in days
    )


def test_no_closure_is_called_by_a_public_holiday_since_the_demo_moves_its_day(demo: Workbook) -> None:
    """A holiday's name is a proper noun, and its day stands in the calendar."""
    assert demo.closures and all(row.name == row.name.lower() for row in demo.closures)


def test_no_process_limit_is_without_its_gate(demo: Workbook) -> None:
    gates = {(row.part[:4], row.step, row.kind) for row in demo.checks if row.blocks != "nothing"}
    assert {
        ("GLOB", 10, "drying"),
        ("GLOB", 20, "dimension"),
        ("GLOB", 30, "window"),
        ("GLOB", 50, "every_piece"),
        ("BAND", 30, "window"),
        ("FOOT", 30, "window"),
        ("BAND", 20, "window"),
        ("BAND", 40, "window"),
    } <= gates


def test_shifting_by_whole_weeks_moves_every_date_and_nothing_else(demo: Workbook) -> None:
    later = read(DEMO, shift_days=70)
    by = dt.timedelta(days=70)
    assert demo.orders[0].placed == dt.date(2026, 1, 5)
    assert demo.orders[0].placed.isoweekday() == 1
    assert [row.due for row in later.orders] == [row.due + by for row in demo.orders]
    assert [row.received for row in later.stock] == [row.received + by for row in demo.stock]
    assert [row.first_day for row in later.closures] == [row.first_day + by for row in demo.closures]
    assert [row.expires for row in later.stock] == [row.expires and row.expires + by for row in demo.stock]
    assert [row.started_on for row in later.batches] == [row.started_on + by for row in demo.batches]
    assert later.routings == demo.routings
    assert later.parts == demo.parts
