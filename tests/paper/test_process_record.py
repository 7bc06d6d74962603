"""The process record: every row on paper, codes on each page, equal input equal bytes."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.paper.papers import ADDRESS, NOTE
from tests.paper.reading import LASER_DPI, THERMAL_DPI, bars_on, pages, squares_on, texts
from traveller.paper.canvas import PaperSize
from traveller.paper.codes import address
from traveller.paper.flow import Block, Flow, FlowRow
from traveller.paper.log_picture import LogPicture, _ticks
from traveller.paper.process_record import (
    CLOSING,
    CheckedLine,
    FileRow,
    LoadRow,
    ProcessRecord,
    ReadingRow,
    Remark,
    StepRecord,
    UsedRow,
    draw_process_record,
)

BOTH: tuple[PaperSize, ...] = ("A4", "Letter")
AT = datetime(2026, 11, 17, 8, 5, tzinfo=timezone(timedelta(hours=-5)))
LOG = LogPicture(
    AT,
    7200,
    (((0, 21.0), (1800, 96.0), (3000, 101.5)), ((4200, 99.0), (7200, 40.0))),
    (("least 95 °C", 95.0), ("most 105 °C", 105.0)),
    (600, 6900),
)
READINGS = tuple(
    ReadingRow(f"bore piece {n}", f"{50.8 + n / 1000:.3f} mm", "50.673 to 50.927 mm", "Ines", AT + timedelta(minutes=n))
    for n in range(60)
)
STRUCK = ReadingRow("hardness", "48 Shore A", "50 to 60 Shore A", "Ines", AT, "struck: gauge was not zeroed")
STEP = StepRecord(
    30, "bake", "Halden Mouldings", "America/New_York", ("Ines", "Dale, by phone"), AT, AT + timedelta(hours=3),
    (("in", "1,060"), ("good", "1,031"), ("scrap", "29 (short 24, dirty 5)")),
    (LoadRow(1, 480, "oven 2", AT, AT + timedelta(hours=2), "told late: no signal in the oven room"),),
    (*READINGS, STRUCK),
    (
        CheckedLine("oven", "load 1", "FAILED", "Only 18 min at 95 °C, 20 needed.", "20 min or more",
                 "conceded by mara: trial pieces only"),
        CheckedLine("shade", "whole step", "passed", "3 read.", "1 to 2"),
        CheckedLine("bore", "whole step", "not judged", "Nothing was recorded.", "2 ± 0.005 in"),
    ),
    (FileRow("temperature log", "oven2.csv", "load 1", "9f86d08188", "Ines", AT, "Read as: day first.", "", LOG),),
)  # fmt: skip
RECORD = ProcessRecord(
    code=NOTE.code,
    public_address=ADDRESS,
    maker="Lantern Field Co.",
    part="Globe, amber",
    facts=(("Part", ("Globe, amber", "GLOBE-AM")), ("Orders", ("1042 and 1043",))),
    steps=(STEP, replace(STEP, number=40, readings=(), checks=(), files=())),
    used=(
        UsedRow("Resin", "2KJ-ZXH-7", "R-5521", "98.75 kg", inferred=False),
        UsedRow("Insert", "7A1-KQV-2", "–", "1,060", inferred=True),
    ),
    holds=(Remark(AT, "oven not shown", "Ines", "concession: trial pieces only"),),
    corrections=(Remark(AT, "30, bake: good 98 became good 89", "Ines", "transposed"),),
    late=(Remark(AT, "30, bake: load ended", "Ines", "told 17 Nov 2026, 19:00"),),
    news=48,
    last_news_at=AT,
)


def flat(pdf: bytes) -> str:
    return re.sub(r"\s+", " ", " ".join(texts(pdf)))


@pytest.mark.parametrize("size", BOTH)
def test_every_row_stands_on_paper(size: PaperSize) -> None:
    found = flat(draw_process_record(RECORD, size=size))
    for row in READINGS:
        assert f"{row.name} {row.value}" in found
    for check in STEP.checks:
        assert check.verdict in found and check.figures in found
    for words in (
        "48 Shore A", "gauge was not zeroed", "conceded by mara: trial pieces only", "told late: no signal in the",
        "oven2.csv", "9f86d08188", "Read as: day first.", "least 95 °C", "most 105 °C", "R-5521", "98.75 kg",
        "follows from the bill", "concession: trial pieces only", "good 98 became good 89", "transposed",
        "told 17 Nov 2026, 19:00", "scrap 29 (short 24, dirty 5)", "Dale, by phone", "1042 and 1043",
        "17 Nov 2026, 08:05", "America/New_York", "released by: name, date", "48 pieces of news",
    ):  # fmt: skip
        assert words in found, words
    assert CLOSING in found
    assert "not a certificate" in CLOSING and "claims compliance with no" in CLOSING


@pytest.mark.parametrize("size", BOTH)
@pytest.mark.parametrize(("dpi", "black_and_white"), [(THERMAL_DPI, True), (LASER_DPI, False)])
def test_both_codes_are_read_back_from_every_page(size: PaperSize, dpi: int, black_and_white: bool) -> None:
    found = pages(draw_process_record(RECORD, size=size), dpi, black_and_white=black_and_white)
    assert len(found) >= 2
    for image in found:
        assert bars_on(image) == Counter([RECORD.code])
        assert squares_on(image) == Counter([address(ADDRESS, RECORD.code)])


def test_each_page_says_which_of_how_many_it_is() -> None:
    found = texts(draw_process_record(RECORD, size="A4"))
    for number, page in enumerate(found, 1):
        assert page.count(f"page {number} of {len(found)}") == 2


def test_equal_records_are_equal_bytes_and_other_ones_are_not() -> None:
    once = draw_process_record(RECORD, size="A4")
    assert once == draw_process_record(replace(RECORD), size="A4")
    assert once != draw_process_record(replace(RECORD, news=49), size="A4")


def test_an_empty_record_says_what_it_has_not() -> None:
    bare = replace(RECORD, steps=(), used=(), holds=(), corrections=(), late=())
    found = flat(draw_process_record(bare, size="A4"))
    for words in ("It was never held.", "No count was corrected.", "None was told.", "Nothing was told more than half"):
        assert words in found


def test_a_struck_row_is_crossed_out_and_its_reason_is_not() -> None:
    other = replace(RECORD, steps=(replace(STEP, readings=(replace(STRUCK, struck=""),)),))
    crossed = replace(RECORD, steps=(replace(STEP, readings=(STRUCK,)),))
    assert len(draw_process_record(crossed, size="A4")) > len(draw_process_record(other, size="A4"))


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(st.floats(1, 60), st.booleans()), max_size=60))
def test_no_block_is_lost_nor_below_the_page_and_headings_keep_what_follows(rows: list[tuple[float, bool]]) -> None:
    flow = Flow(180)
    flow.blocks = [Block(height, lambda sheet, top: None, keeps) for height, keeps in rows]
    made = flow.pages((120, 200))
    assert [block for page in made for block in page] == flow.blocks
    for page, room in zip(made, [120, *[200] * len(made)], strict=False):
        joined = [block.keeps for block in page[:-1]]
        assert sum(block.height for block in page) <= room or all(joined), "only what must stay together may be taller"
        if page and page is not made[-1]:
            assert not page[-1].keeps


def test_a_table_without_rows_has_no_heads() -> None:
    flow = Flow(180)
    flow.table(("a", "b"), (1, 1), [])
    assert flow.blocks == []
    flow.table(("a", "b"), (1, 1), [FlowRow(("1", "2"))])
    assert flow.blocks[0].keeps


@given(st.floats(-50, 300), st.floats(2, 400))
def test_degrees_on_the_axis_lie_between_the_ends(low: float, width: float) -> None:
    ticks = _ticks(low, low + width)
    assert 1 <= len(ticks) <= 6 and all(low <= tick <= low + width for tick in ticks)


def test_a_log_of_one_reading_is_drawn() -> None:
    one = replace(LOG, seconds=0.0, lines=(((0.0, 80.0),),), limits=(), start=AT.astimezone(UTC))
    step = replace(STEP, files=(replace(STEP.files[0], picture=one),))
    assert b"%PDF" in draw_process_record(replace(RECORD, steps=(step,)), size="A4")


def test_a_table_that_goes_on_says_its_heads_again_on_the_next_page() -> None:
    found = texts(draw_process_record(RECORD, size="A4"))
    first, second = found[0], found[1]
    for page in (first, second):
        assert re.search(r"reading\s+value\s+limit\s+when\s+by\s+note", page)
