"""Logs of core temperature in the forms loggers write them, read cell by cell."""

from datetime import datetime

import pytest

from inventory.air_moments import DayOrder
from inventory.air_table import DayOrderUnclear, TableProblem
from inventory.core_table import CoreReading, read_core_log


def read(text: str, fahrenheit: bool = False, day_order: DayOrder | None = None) -> CoreReading:
    return read_core_log(text, fahrenheit=fahrenheit, day_order=day_order)


def temps(reading: CoreReading) -> list[tuple[str, float]]:
    return [(row.probe, round(row.temp_c, 2)) for row in reading.rows]


def test_a_column_for_each_probe() -> None:
    reading = read("Time,Core 1,Core 2\n2026-05-03 10:00,55.5,56.1\n2026-05-03 10:05,56.0,56.4")
    assert temps(reading) == [
        ("Core 1", 55.5),
        ("Core 2", 56.1),
        ("Core 1", 56.0),
        ("Core 2", 56.4),
    ]
    assert reading.rows[0].at == datetime(2026, 5, 3, 10, 0)
    assert reading.in_words == "Read as 2 probes (Core 1 and Core 2) in °C."


def test_a_line_for_each_reading_with_the_name_of_its_probe() -> None:
    reading = read("Time;Probe;Temp °C\n2026-05-03 10:00;A;55,5\n2026-05-03 10:00;B;56,1")
    assert temps(reading) == [("A", 55.5), ("B", 56.1)]


def test_date_and_time_in_two_columns_and_other_columns_left_out() -> None:
    text = (
        "Kiln recorder 4\nNo,Date,Time,Dry bulb,RH %,Probe 1 (°F),Probe 2 (°F)\n"
        "1,03.05.2026,10:00,150,40,133,131\n2,03.05.2026,10:05,150,40,134,132"
    )
    reading = read(text)
    assert temps(reading)[:2] == [("Probe 1", 56.11), ("Probe 2", 55.0)]
    assert reading.in_words == (
        "Read as 2 probes (Probe 1 and Probe 2) in °F. Left out: No, Dry bulb and RH %."
    )


def test_without_headings_the_probes_are_numbered() -> None:
    reading = read("2026-05-03 10:00\t55.5\t56.1\n2026-05-03 10:05\t56\t57")
    assert temps(reading)[0] == ("Probe 1", 55.5)
    assert [row.probe for row in reading.rows[:2]] == ["Probe 1", "Probe 2"]


def test_parted_by_spaces_with_am_and_pm() -> None:
    reading = read("05/13/2026 10:00 PM 133.5 131\n05/13/2026 10:05 PM 134 132", fahrenheit=True)
    assert reading.rows[0].at == datetime(2026, 5, 13, 22, 0)
    assert temps(reading)[0] == ("Probe 1", 56.39)


def test_one_cell_that_cannot_be_read_leaves_the_others_of_its_line() -> None:
    reading = read("Time,Core 1,Core 2\n2026-05-03 10:00,ERR,56.1\n2026-05-03 10:05,56,57")
    assert temps(reading) == [("Core 2", 56.1), ("Core 1", 56.0), ("Core 2", 57.0)]
    (problem,) = reading.problems
    assert (problem.line, problem.text) == (2, "2026-05-03 10:00,ERR,56.1")
    assert problem.reason == "Core 1: “ERR” is not a temperature."


def test_an_empty_cell_is_a_probe_that_did_not_read() -> None:
    reading = read("Time,Core 1,Core 2\n2026-05-03 10:00,,56.1\n2026-05-03 10:05,56,57")
    assert temps(reading)[0] == ("Core 2", 56.1)
    assert not reading.problems


def test_a_line_without_a_moment_is_told() -> None:
    reading = read("Time,Core\n2026-05-03 10:00,55\nbattery low,56\n2026-05-03 10:05,56")
    assert len(reading.rows) == 2
    assert reading.problems[0].line == 3


def test_days_that_read_two_ways_are_asked_about() -> None:
    text = "Time,Core\n03/05/2026 10:00,55\n03/05/2026 10:05,56"
    with pytest.raises(DayOrderUnclear, match="two ways"):
        read(text)
    assert read(text, day_order=DayOrder.MONTH_FIRST).rows[0].at.month == 3
    assert read(text, day_order=DayOrder.DAY_FIRST).rows[0].at.month == 5


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "nothing to read"),
        ("hello\nworld", "could not be told apart"),
        ("Time,RH %\n2026-05-03 10:00,40\n2026-05-03 10:05,41", "No column of core"),
        ("Time,Probe\n2026-05-03 10:00,1\n2026-05-03 10:05,2", "none of their temperature"),
        (
            "Time," + ",".join(f"Core {i}" for i in range(30)) + "\n2026-05-03 10:00" + ",55" * 30,
            "more than 24 probes",
        ),
    ],
)
def test_what_is_no_core_log_is_refused_in_a_sentence(text: str, sentence: str) -> None:
    with pytest.raises(TableProblem, match=sentence):
        read(text)


def test_two_columns_of_one_name_are_told_apart() -> None:
    reading = read("Time,Core,Core\n2026-05-03 10:00,55,56\n2026-05-03 10:05,55,56")
    assert [row.probe for row in reading.rows[:2]] == ["Core", "Core 2"]
