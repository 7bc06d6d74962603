"""Logger files as they come: what is understood, what is asked, what is refused, which faults are named."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rules.logs.files import START, UTC_ANSWER, asked, file_of, lines, log_of, refused
from traveller.rules import logs
from traveller.rules.logs import WORDS, Answers, Log, NotALog, Unclear, misfits, read_log

PLAIN = file_of(lines())


def faults(data: bytes, answers: Answers = UTC_ANSWER) -> list[tuple[str, int]]:
    """Codes and lines."""
    return [(fault.code, fault.line) for fault in log_of(data, answers).faults]


@pytest.mark.parametrize(
    ("form", "dates"),
    [
        ("%Y-%m-%dT%H:%M:%S", "iso"),
        ("%Y-%m-%d %H:%M:%S", "iso"),
        ("%Y/%m/%d %H:%M:%S", "iso"),
        ("%Y-%m-%dT%H:%M:%SZ", "iso"),
        ("%Y-%m-%dT%H:%M:%S.000+00:00", "iso"),
        ("%Y%m%dT%H%M%S", "iso"),
        ("%d/%m/%Y %H:%M:%S", "day"),
        ("%d.%m.%Y %H:%M:%S", "day"),
        ("%d.%m.%y %H:%M:%S", "day"),
        ("%m/%d/%Y %I:%M:%S %p", "month"),
        ("%-m/%-d/%Y %-I:%M:%S %p", "month"),
        ("%d-%b-%Y %H:%M:%S", "words"),
        ("%a %d/%m/%Y %H:%M:%S", "day"),
    ],
)
def test_dates_in_every_form_give_the_same_instants(form: str, dates: str) -> None:
    found = log_of(file_of(lines(form)))
    assert found.said.dates == dates
    assert found.times.tolist() == [START.timestamp() + 10 * place for place in range(4)]
    assert found.celsius.tolist() == [150.0, 150.5, 151.0, 150.5] and not found.faults


@pytest.mark.parametrize("sign", [",", ";", "\t"])
def test_comma_semicolon_and_tab_part_cells(sign: str) -> None:
    found = log_of(file_of(lines(sign=sign, header=f"Time{sign}Temp C")))
    assert found.said.delimiter == sign and found.celsius.size == 4


@pytest.mark.parametrize("sign", [";", "\t"])
def test_a_decimal_comma_is_read(sign: str) -> None:
    found = log_of(file_of(lines(sign=sign, comma=True, header=f"Zeit{sign}Temp °C")))
    assert found.said.decimal_sign == "," and found.celsius.tolist() == [150.0, 150.5, 151.0, 150.5]


def test_a_decimal_comma_between_commas_is_put_together() -> None:
    assert log_of(file_of(lines(comma=True))).celsius.tolist() == [150.0, 150.5, 151.0, 150.5]
    quoted = [lines()[0], *(re.sub(r",(.*)\.(.*)", r',"\1,\2"', row) for row in lines()[1:])]
    assert log_of(file_of(quoted)).celsius.tolist() == [150.0, 150.5, 151.0, 150.5]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252", "utf-16-le"])
def test_every_encoding_is_read_alike(encoding: str) -> None:
    assert log_of(file_of(lines(), encoding)).celsius.tolist() == log_of(PLAIN).celsius.tolist()


def test_fahrenheit_is_turned_into_celsius() -> None:
    found = log_of(file_of(lines(values=(302.0, 311.0), header="Time,Temp (°F)")))
    assert found.celsius.tolist() == [150.0, 155.0] and found.said.unit == "F"
    assert log_of(file_of(["t,x", "2026-03-14 02:00,302 F", "2026-03-14 02:01,311 F"])).celsius.tolist() == [150, 155]


def test_headers_footers_and_blank_lines_are_no_readings() -> None:
    rows = ["Serial 1234", "Started,2026-03-14 02:00:00", "", *lines(), "", "End of file", "Min,150.0,Max,151.0"]
    found = log_of(file_of(rows))
    assert found.celsius.size == 4 and not found.faults


def test_date_and_time_in_two_columns_behind_a_counter() -> None:
    rows = ["No.;Date;Time;Temp[°C]", *(f"{n};14.03.2026;02:00:{n:02d};15{n},5" for n in range(1, 5))]
    found = log_of(file_of(rows))
    assert found.celsius.tolist() == [151.5, 152.5, 153.5, 154.5] and found.said.channels == ("Temp[°C]",)
    assert found.times[0] == START.timestamp() + 1


def test_what_is_no_temperature_is_no_channel() -> None:
    rows = ["Time,Temp °C,Humidity %RH,Battery V", *(f"2026-03-14T02:00:0{n},150.{n},41.2,3.3" for n in range(4))]
    assert log_of(file_of(rows)).said.channels == ("Temp °C",)


def test_several_channels_are_asked_about_and_answered_by_name_or_number() -> None:
    rows = ["Time,Top °C,Bottom °C", *(f"2026-03-14T02:00:0{n},150.{n},140.{n}" for n in range(4))]
    question = asked(file_of(rows))
    assert (question.question, question.choices) == ("channel", ("Top °C", "Bottom °C"))
    for reported in ("Bottom °C", "2"):
        found = log_of(file_of(rows), Answers(zone="UTC", channel=reported))
        assert found.celsius[0] == 140.0 and found.said.channel_number == 2
    assert asked(file_of(rows), Answers(zone="UTC", channel="Middle")).question == "channel"


def test_day_and_month_are_asked_about_when_both_could_be() -> None:
    rows = ["Time,Temp °C", "03/04/2026 10:00,150", "03/04/2026 10:01,151"]
    question = asked(file_of(rows))
    assert question.question == "date_order" and set(question.choices) == {"day", "month"}
    day = log_of(file_of(rows), Answers(zone="UTC", date_order="day"))
    month = log_of(file_of(rows), Answers(zone="UTC", date_order="month"))
    assert (day.started_at.month, month.started_at.month) == (4, 3)


def test_a_number_above_twelve_settles_it_against_what_was_told() -> None:
    reported = Answers(zone="UTC", date_order="month")
    assert log_of(file_of(lines("%d/%m/%Y %H:%M:%S")), reported).said.dates == "day"


def test_a_unit_that_nobody_names_is_asked_about() -> None:
    data = file_of(lines(header="Time,Value"))
    assert asked(data).question == "unit" and asked(data).figures == {"value": "150.0"}
    assert log_of(data, Answers(zone="UTC", unit="C")).celsius[0] == 150.0


def test_a_zone_is_asked_about_unless_the_file_has_it() -> None:
    assert asked(PLAIN, Answers()).question == "zone"
    assert log_of(file_of(lines("%Y-%m-%dT%H:%M:%SZ")), Answers()).said.zone == "UTC"
    chicago = log_of(PLAIN, Answers(zone="America/Chicago"))
    assert chicago.times[0] == START.timestamp() + 5 * 3600


@pytest.mark.parametrize(
    ("header", "step", "factor"), [("Minutes", 1, 60), ("Time (s)", 30, 1), ("Elapsed h", 1, 3600)]
)
def test_time_since_the_start_needs_the_start(header: str, step: int, factor: int) -> None:
    data = file_of([f"{header},Temp °C", *(f"{n * step},15{n}.0" for n in range(4))])
    assert asked(data, Answers()).question == "start"
    found = log_of(data, Answers(start=START))
    assert found.times.tolist() == [START.timestamp() + n * step * factor for n in range(4)]
    assert found.said.dates == "elapsed"


def test_the_unit_of_time_since_the_start_is_asked_about() -> None:
    data = file_of(["x,Temp °C", *(f"{n},15{n}.0" for n in range(4))])
    assert asked(data, Answers(start=START)).question == "elapsed_unit"
    found = log_of(data, Answers(start=START, elapsed_unit="min"))
    assert found.times[1] - found.times[0] == 60


def test_times_without_a_date_go_on_past_midnight() -> None:
    data = file_of(["Time,Temp °C", "23:59:50,150", "00:00:00,151", "00:00:10,152"])
    assert asked(data).question == "start"
    found = log_of(data, Answers(zone="UTC", start=START))
    assert np.diff(found.times).tolist() == [10, 10] and found.started_at.date() == START.date()


def test_an_oven_run_across_a_clock_change_has_its_true_length() -> None:
    """Europe/Berlin 2026 (IANA data): 22:00 to 06:00 is 7 hours on 28 March and 9 on 24 October."""
    spring = ["2026-03-28 22:00", "2026-03-29 01:59", "2026-03-29 03:00", "2026-03-29 06:00"]
    autumn = ["2026-10-24 22:00", "2026-10-25 02:30", "2026-10-25 02:00", "2026-10-25 02:30", "2026-10-25 06:00"]
    for moments, hours in ((spring, 7), (autumn, 9)):
        data = file_of(["Time,Temp °C", *(f"{moment},150" for moment in moments)])
        found = log_of(data, Answers(zone="Europe/Berlin"))
        assert (found.times[-1] - found.times[0]) / 3600 == hours
        assert not [fault for fault in found.faults if fault.code != "log.gap"]


def test_an_hour_that_is_there_once_of_two_is_named_and_shows_as_a_gap() -> None:
    moments = [f"2026-10-25 0{hour}:{minute:02d}" for hour in (1, 2, 3) for minute in range(0, 60, 10)]
    data = file_of(["Time,Temp °C", *(f"{moment},150" for moment in moments)])
    assert faults(data, Answers(zone="Europe/Berlin")) == [("log.hour_twice", 8), ("log.gap", 14)]


def test_a_time_that_the_clocks_skipped_is_asked_about() -> None:
    data = file_of(["Time,Temp °C", "2026-03-29 01:50,150", "2026-03-29 02:10,150", "2026-03-29 03:10,150"])
    question = asked(data, Answers(zone="Europe/Berlin"))
    assert (question.question, question.choices) == ("clock", ("+01:00",))
    found = log_of(data, Answers(zone=question.choices[0]))
    assert np.diff(found.times).tolist() == [1200, 3600]


def test_faults_are_named_by_line() -> None:
    rows = lines(values=[150.0] * 9)
    rows[3] = rows[3].replace("150.0", "9999")
    rows[4] = rows[4].replace("150.0", "n/a")
    rows[6] = "restarted"
    rows.insert(8, rows[7])
    rows.append(rows[2].replace("150.0", "151.0"))
    found = faults(file_of(rows))
    assert ("log.impossible", 4) in found and ("log.not_a_number", 5) in found and ("log.not_a_reading", 7) in found
    assert ("log.repeated", 9) in found and ("log.out_of_order", 12) in found
    assert {code for code, _ in found} >= {"log.gap"}


def test_two_values_at_one_time_both_stay() -> None:
    rows = lines()
    rows.insert(3, rows[2].replace("150.5", "180.5"))
    found = log_of(file_of(rows))
    assert found.celsius.max() == 180.5 and found.celsius.size == 5
    assert [(fault.code, fault.line, fault.figures) for fault in found.faults] == [
        ("log.two_values", 4, {"other_line": 3})
    ]


def test_a_clock_that_shows_minutes_is_said_once() -> None:
    rows = ["Time,Temp °C", *(f"2026-03-14 02:0{n // 6},150.{n % 10}" for n in range(36))]
    found = log_of(file_of(rows))
    assert [fault.code for fault in found.faults] == ["log.coarse_clock"] and found.celsius.size == 36


def test_newest_first_is_turned_round_and_no_fault() -> None:
    rows = lines()
    found = log_of(file_of([rows[0], *reversed(rows[1:])]))
    assert found.said.newest_first and found.celsius.tolist() == [150.0, 150.5, 151.0, 150.5] and not found.faults


@pytest.mark.parametrize("cut", [2, 4, 6, 12])
def test_a_last_line_that_breaks_off_is_left_out_and_named(cut: int) -> None:
    data = PLAIN[: -1 - cut]
    found = log_of(data)
    assert found.celsius.size == 3 and [fault.code for fault in found.faults] == ["log.cut_off"]


def test_a_last_line_without_its_end_is_whole_if_it_looks_whole() -> None:
    assert log_of(PLAIN[:-1]).celsius.size == 4 and not log_of(PLAIN[:-1]).faults


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "log.empty"),
        (b" \r\n\r\n", "log.empty"),
        (b"PK\x03\x04" + b"\0" * 200, "log.packed"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "log.binary"),
        (bytes(range(256)) * 4, "log.binary"),
        (b"just some words\nand more\n", "log.no_columns"),
        (b"a,b\nc,d\ne,f\n", "log.no_times"),
        (b"Time,State\n2026-03-14 02:00,on\n2026-03-14 02:01,off\n", "log.no_temperatures"),
        (b"Time,Temp C\n2026-03-14 02:00,150\n", "log.too_few"),
        (b"x" * (logs.MOST_BYTES + 1), "log.too_large"),
    ],
)
def test_what_is_no_log_is_refused_in_words(data: bytes, code: str) -> None:
    assert refused(data) == code and code in WORDS


@given(st.binary(max_size=300) | st.text(max_size=300).map(str.encode))
def test_any_bytes_give_an_answer(data: bytes) -> None:
    assert isinstance(read_log(data, UTC_ANSWER), Log | NotALog | Unclear)


scraps = st.sampled_from(
    [
        "2026-03-14 02:00",
        "14/03/2026 2:01:00 PM",
        "150.5",
        "150,5",
        "n/a",
        "",
        "Time",
        "Temp °C",
        '"',
        "12",
        "-40 F",
        "9e99",
    ]
)


@given(
    st.lists(st.lists(scraps, min_size=1, max_size=4), max_size=12), st.sampled_from([",", ";", "\t"]), st.booleans()
)
def test_any_table_gives_an_answer_that_stands_in_order(rows: list[list[str]], sign: str, ended: bool) -> None:
    reported = Answers(zone="Europe/Berlin", unit="C", channel="1", start=START, elapsed_unit="s", date_order="day")
    text = "\n".join(sign.join(row) for row in rows) + ("\n" if ended else "")
    found = read_log(text.encode(), reported)
    if isinstance(found, Log):
        assert (np.diff(found.times) >= 0).all() and np.isfinite(found.celsius).all() and found.times.size >= 2
        assert read_log(text.encode(), found.answers).__class__ is Log


def test_every_code_has_its_words_and_every_figure_is_given() -> None:
    source = "".join(
        path.read_text("utf-8") for path in Path(logs.__file__).parent.glob("*.py") if path.stem != "words"
    )
    assert set(re.findall(r'"(log\.[a-z_]+)"', source)) <= set(WORDS)
    said = log_of(PLAIN)
    assert WORDS["log.said"].format(**said.figures()).startswith("Read as: iso, C, channel 1 (Temp (°C))")
    for fault in said.faults:
        assert WORDS[fault.code].format(line=fault.line, **fault.figures)


def test_a_log_that_does_not_fit_its_load_is_said_so() -> None:
    found = log_of(PLAIN)
    late = datetime(2026, 3, 15, tzinfo=UTC)

    def codes(start: datetime | None, end: datetime | None, now: datetime = late) -> list[str]:
        return [fault.code for fault in misfits(found, start, end, now)]

    assert codes(found.started_at, found.ended_at) == []
    assert codes(found.started_at, late) == ["log.shorter"]
    assert codes(late, late) == ["log.another_time"]
    assert codes(None, None, found.started_at) == ["log.from_the_future"]
