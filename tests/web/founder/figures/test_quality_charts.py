"""Which chart a measurement gets, and what its table and words say."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from traveller.batches.reads.quality import Measured, OperationQuality, Run, Value
from traveller.web.founder.figures.quality_charts import ChartRow, Shown, measured_of, scrap_of

AT = datetime(2026, 11, 2, 8, tzinfo=UTC)


def bore(batches: list[list[float]]) -> Measured:
    values = [
        Value(f"B{n}", value, AT + timedelta(hours=n, minutes=k))
        for n, batch in enumerate(batches)
        for k, value in enumerate(batch)
    ]
    return Measured("bore", "bore", "mm", 9.0, 11.0, 10.0, tuple(values))


def rows(shown: Shown) -> list[ChartRow]:
    return [row.record for row in shown.table.rows]


def test_batches_of_one_size_are_means_and_ranges() -> None:
    shown = measured_of(bore([[10.0, 10.2], [9.9, 10.1], [10.1, 10.3]]))
    assert "Mean of 2 values a batch" in shown.words and len(shown.drawn) == 2
    assert [(row.value, row.spread) for row in rows(shown)] == [("10.1", "0.2"), ("10", "0.2"), ("10.2", "0.2")]


def test_batches_of_several_sizes_are_single_values_with_the_moving_range_at_the_later_one() -> None:
    shown = measured_of(bore([[10.0 + (k % 3) / 10 for k in range(n)] for n in (6, 7, 9)]))
    found = rows(shown)
    assert "Single values" in shown.words and len(found) == 22
    assert [row.spread for row in found[:4]] == ["", "0.1", "0.1", "0.2"]


def test_nineteen_single_values_are_only_a_table() -> None:
    shown = measured_of(bore([[10.0, 10.1] * 3, [10.0, 10.2] * 3, [10.1] * 7]))
    assert shown.drawn == () and "Only counts" in shown.words and len(rows(shown)) == 19


def test_a_jump_is_named_and_capability_promises_nothing() -> None:
    shown = measured_of(bore([[10.0, 10.02, 9.98]] * 7 + [[10.9, 10.91, 10.9]]))
    assert "beyond the limits" in rows(shown)[-1].stands_out
    assert "Cpk" in shown.words and "not steady" in shown.words and shown.broken >= 1


@pytest.mark.parametrize(("n", "said"), [(6, "Capability from 20 values on; there are 18."), (7, "Cpk")])
def test_capability_waits_for_twenty_pieces(n: int, said: str) -> None:
    assert said in measured_of(bore([[10.0, 10.1, 9.95 + k / 100] for k in range(n)])).words


def test_a_percentage_stands_only_beside_twenty_pieces() -> None:
    shown = scrap_of(
        OperationQuality(10, "mould", [Run("A", 19, 18, 1, 0), Run("B", 20, 18, 2, 0), Run("C", 9, 9, 0, 0)])
    )
    assert [row.value for row in rows(shown)] == ["1 of 19", "2 of 20, 10.0 %", "0 of 9"]
    assert "3 of 48 scrapped, 6.2 %." in shown.words


def test_without_any_scrap_there_is_no_chart_of_nothing() -> None:
    shown = scrap_of(OperationQuality(10, "mould", [Run(name, 40, 40, 0, 0) for name in "ABC"]))
    assert shown.drawn == () and shown.words == "None of 120 pieces was scrapped."
    assert [row.value for row in rows(shown)] == ["0 of 40"] * 3
    assert [head["words"] for head in shown.table.heads()] == ["Point", "Batch", "Value"]


def test_a_long_table_is_folded_below_its_drawing_and_a_short_one_is_not() -> None:
    runs = [Run(f"B{n}", 40, 39, 1, 0) for n in range(13)]
    assert scrap_of(OperationQuality(10, "mould", runs)).is_long
    assert not scrap_of(OperationQuality(10, "mould", runs[:12])).is_long
