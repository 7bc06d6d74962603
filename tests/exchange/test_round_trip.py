"""What is written is read back the same: any workbook, as CSV folder, zip and XLSX."""

from __future__ import annotations

import datetime as dt
import tempfile
from decimal import Decimal
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.exchange.books import Upload, png, read
from traveller.exchange.workbook import Workbook, as_zip, write_csv_folder, write_xlsx
from traveller.exchange.workbook import rows as r

DEMO = Path(__file__).parents[2] / "fixtures" / "demo"

_letters = st.characters(codec="utf-8", categories=["L", "N", "P", "S"])
_words = st.lists(st.text(_letters, min_size=1, max_size=6), min_size=1, max_size=3).map(" ".join)


def _tidy(text: str) -> str:
    """As the reader composes letters; the property is about values that a workbook can hold."""
    import unicodedata

    return unicodedata.normalize("NFC", text)


texts = st.one_of(
    _words.map(_tidy),
    st.sampled_from(["=1+1", "+1 330 555 0110", "@here", "-40", "'quoted", "''", "a;b", 'say "when"', "12,5", "007"]),
).filter(lambda text: text == " ".join(text.split()) and bool(text.strip("'\u200b\ufeff")))
blankable = st.one_of(st.just(""), texts)
days = st.dates(dt.date(2000, 1, 1), dt.date(2100, 1, 1))
codes = st.text("ABCdef019-_", min_size=1, max_size=8).filter(lambda text: text[0] not in "-_")
amounts = st.decimals(min_value=Decimal("0.001"), max_value=10**6, places=3)


@st.composite
def workbooks(draw: Any) -> Workbook:
    """A workbook of one made part, its bought component and its material, with drawn words, days and amounts."""
    shop, bench = "s" + draw(codes), "b" + draw(codes)
    cup, lid, clay = "C" + draw(codes), "L" + draw(codes), "M" + draw(codes)
    placed, count = draw(days), st.integers(1, 10**6)

    def site(code: str, kind: str) -> r.SiteRow:
        return r.SiteRow(
            site=code, name=draw(texts), kind=kind, timezone="Europe/London", language="es", country="GB",
            address=draw(blankable), phone=draw(blankable), contact=draw(blankable), paper="Letter",
            turnaround_days=draw(st.integers(0, 99)), shifts="Mo-Fr 08:00-16:30",
        )  # fmt: skip

    def part(number: str, kind: str, unit: str, picture: str = "") -> r.PartRow:
        return r.PartRow(
            part=number, name=draw(texts), variant=draw(blankable), colour=draw(blankable), swatch="#00ff7f",
            revision=draw(codes), kind=kind, unit=unit, piece_mass_mg=draw(st.none() | count),
            shelf_life_days=draw(st.none() | st.integers(1, 999)), supplier=shop, picture=picture,
        )  # fmt: skip

    def step(number: int, kind: str) -> r.RoutingRow:
        return r.RoutingRow(
            part=cup, step=number, site=shop, verb=draw(texts), kind=kind, operation="leak_test",
            yield_percent=draw(st.decimals(min_value=1, max_value=100, places=4)), destroyed=draw(st.integers(0, 9)),
            kept=draw(st.integers(0, 9)),
            cavities=draw(st.integers(0, 8)), load_size=draw(st.integers(0, 99)), startup_shots=0,
            tool=draw(blankable), cycle_seconds=draw(st.integers(0, 999)), setup_minutes=draw(st.integers(0, 99)),
            instruction=draw(blankable),
            scrap_reasons=tuple(draw(st.lists(st.sampled_from(["short", "flash", "a b"]), unique=True))),
        )  # fmt: skip

    limits = (("least", "0.5"), ("most", "90"), ("unit", "min"))
    return Workbook(
        sites=(site(bench, "own"), site(shop, "subcontractor")),
        lanes=(r.LaneRow(from_site=shop, to_site=bench, transit_days=2, carrier=draw(blankable)),),
        closures=(r.ClosureRow(site=shop, first_day=placed, last_day=placed, name=draw(blankable)),),
        people=(r.PersonRow(site=bench, name=draw(texts), initials="AB"),),
        parts=(part(cup, "made", "piece", "cup.png"), part(lid, "bought", "piece"), part(clay, "material", "mg")),
        bills=(
            r.BillRow(part=cup, component=clay, quantity=draw(amounts), unit="g", per=1, step=10),
            r.BillRow(part=cup, component=lid, quantity=Decimal(draw(count)), unit="piece", per=1000, step=None),
        ),
        routings=(step(10, "make"), step(20, "work")),
        checks=(
            r.CheckRow(part=cup, step=20, check="kiln", kind="window", scope="load", blocks="step",
                       parameters=limits, source=draw(blankable)),
        ),
        orders=(
            r.OrderRow(order=draw(codes), customer=draw(texts), ship_to=draw(blankable), placed=placed, line=3,
                       part=cup, quantity=draw(count), due=placed, over_percent=draw(st.sampled_from([Decimal("2.5"),
                       Decimal(0)])), under_percent=Decimal(0)),
        ),
        stock=(
            r.StockRow(part=clay, lot=draw(texts), site=shop, quantity=draw(amounts), unit="kg", received=placed,
                       expires=draw(st.none() | st.just(placed))),
        ),
        batches=(
            r.BatchRow(reference=draw(codes), part=cup, order="", line=None, step=10, site=shop, good=draw(count),
                       started_on=draw(days)),
        ),
        pictures={"cup.png": png()},
    )  # fmt: skip


@pytest.mark.long
@settings(max_examples=15, suppress_health_check=[HealthCheck.too_slow])
@given(workbooks())
def test_any_workbook_written_is_read_back_the_same(workbook: Workbook) -> None:
    with tempfile.TemporaryDirectory() as folder:
        write_csv_folder(workbook, Path(folder) / "csv")
        assert read(Path(folder) / "csv") == workbook
        write_xlsx(workbook, Path(folder) / "xlsx" / "book.xlsx")
        assert read(Path(folder) / "xlsx" / "book.xlsx") == workbook
    assert read(Upload("book.zip", as_zip(workbook))) == workbook


def test_the_demo_workbook_survives_every_form(tmp_path: Path) -> None:
    demo = read(DEMO)
    write_csv_folder(demo, tmp_path / "csv")
    write_xlsx(demo, tmp_path / "xlsx" / "demo.xlsx")
    assert read(tmp_path / "csv") == demo
    assert read(tmp_path / "xlsx" / "demo.xlsx") == demo
    assert as_zip(demo) == as_zip(read(Upload("demo.zip", as_zip(demo))))


def test_no_written_cell_runs_as_a_formula(tmp_path: Path) -> None:
    demo = read(DEMO)
    write_csv_folder(demo, tmp_path)
    write_xlsx(demo, tmp_path / "demo.xlsx")
    assert "'+1 330 555 0110" in (tmp_path / "sites.csv").read_text("utf-8-sig")
    book = openpyxl.load_workbook(tmp_path / "demo.xlsx")
    assert all(cell.data_type != "f" for page in book for row in page.iter_rows() for cell in row)
    book.close()
