"""Air pasted or from a logger's file: recognised, taken line by line, never doubled."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, timezone

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory import air
from inventory.air_moments import DayOrder, MomentProblem, Moments
from inventory.air_reading import read_table
from inventory.air_table import DayOrderUnclear, TableProblem
from inventory.models import AirGiven, AirRecord, Person
from inventory.wood import humidity
from tests.factories import at, make_place

NOW = at(2026, 5, 20)


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def first_row(text: str, *, fahrenheit: bool = False) -> tuple[datetime, float, AirGiven, float]:
    row = read_table(text, fahrenheit=fahrenheit).rows[0]
    return row.at, round(row.temp_c, 3), row.given, row.value


MARCH_4 = datetime(2026, 3, 4, 15, 30)
RH = AirGiven.RH

TABLES = {
    "commas": "time,temperature,humidity\n2026-03-04 15:30,20.5,45.2\n",
    "semicolons and decimal commas": "Zeit;Temp;Feuchte\n04.03.2026 15:30;20,5;45,2\n",
    "tabs from a spreadsheet": "Date\tTime\tTemp °C\tRH %\n2026-03-04\t15:30\t20.5\t45.2\n",
    "quoted": '"time","temp","rh"\n"2026-03-04 15:30:00","20,5","45,2"\n',
    "upright strokes": "when | temp_c | rh_pct\n2026-03-04T15:30 | 20.5 | 45.2\n",
    "columns in another order": "RH;Temp;Time\n45.2;20.5;2026-03-04 15:30\n",
    "what a logger writes above": (
        "Serial,00123\nInterval,15 min\n\nTimestamp,Temp(C),RH(%),Battery\n"
        "2026-03-04 15:30,20.5,45.2,3.01\n"
    ),
    "fahrenheit by heading": "time,Temp (°F),RH\n2026-03-04 15:30,68.9,45.2\n",
    "fahrenheit by cell": "time;temp;rh\n2026-03-04 15:30;68.9 °F;45.2 %\n",
    "celsius by cell though Fahrenheit is usual": "time;temp;rh\n2026-03-04 15:30;20.5°C;45.2\n",
    "no headings": "2026-03-04 15:30\t20.5\t45.2\n",
    "no headings, spaces": "2026-03-04 15:15 20 45\n2026-03-04 15:30 20.5 45.2\n",
    "twelve-hour clock": "date,time,temp,rh\n3/14/2026,1:00 PM,20,40\n3/4/2026,3:30 PM,20.5,45.2\n",
    "named month": "time;temp;rh\n4 March 2026 15:30;20.5;45.2\n",
    "month first by name": "time;temp;rh\nMar 4, 2026 15:30;20.5;45.2\n",
    "short year": "time;temp;rh\n04.03.26 15.30;20.5;45.2\n",
    "marked as Unicode": "\ufefftime,temp,rh\r\n2026-03-04 15:30,20.5,45.2\r\n",
}


@pytest.mark.parametrize("name", TABLES)
def test_common_tables_are_recognised(name: str) -> None:
    says_celsius = "celsius" in name
    row = read_table(TABLES[name], fahrenheit=says_celsius).rows[-1]
    assert (row.at, round(row.temp_c, 3), row.given, row.value) == (MARCH_4, 20.5, RH, 45.2)


def test_a_bare_temperature_is_in_the_units_said() -> None:
    assert first_row("time,temp,rh\n2026-03-04 15:30,68,45\n", fahrenheit=True)[1] == 20.0
    assert first_row("time,temp,rh\n2026-03-04 15:30,20,45\n", fahrenheit=False)[1] == 20.0


def test_dew_point_and_wet_bulb_are_read_in_their_own_units() -> None:
    dew = first_row("time,Temp °F,Dew point °F\n2026-03-04 15:30,68,50\n")
    assert dew == (MARCH_4, 20.0, AirGiven.DEW_POINT, 10.0)
    wet = first_row("time,dry bulb,wet bulb\n2026-03-04 15:30,20,15\n")
    assert wet == (MARCH_4, 20.0, AirGiven.WET_BULB, 15.0)


def test_relative_humidity_is_preferred_where_both_are_given() -> None:
    row = first_row("time,temp,dew point,rh\n2026-03-04 15:30,20,9,45\n")
    assert row[2:] == (RH, 45.0)


def test_dates_that_read_two_ways_are_asked_about() -> None:
    table = "time,temp,rh\n03/04/2026 15:30,20.5,45\n05/04/2026 15:30,20.5,45\n"
    with pytest.raises(DayOrderUnclear, match="could be read two ways"):
        read_table(table, fahrenheit=False)
    for order, day in ((DayOrder.DAY_FIRST, 3), (DayOrder.MONTH_FIRST, 4)):
        row = read_table(table, fahrenheit=False, day_order=order).rows[0]
        assert row.at.day == day


def test_one_date_past_the_twelfth_settles_the_order_for_all() -> None:
    table = "time,temp,rh\n03/04/2026,20,45\n25/04/2026,20,45\n"
    assert [row.at.month for row in read_table(table, fahrenheit=False).rows] == [4, 4]
    table = "time,temp,rh\n03/04/2026,20,45\n03/25/2026,20,45\n"
    assert [row.at.month for row in read_table(table, fahrenheit=False).rows] == [3, 3]


def test_an_offset_is_kept_and_a_day_alone_is_noon() -> None:
    moments = Moments(DayOrder.DAY_FIRST)
    eastern = timezone(-timedelta(hours=5))
    assert moments.read("2026-03-04T15:30:00Z") == datetime(2026, 3, 4, 15, 30, tzinfo=UTC)
    assert moments.read("2026-03-04 15:30 -05:00") == datetime(2026, 3, 4, 15, 30, tzinfo=eastern)
    assert moments.read("2026-03-04") == datetime(2026, 3, 4, 12)
    assert moments.read("2026-03-04 12:05 AM") == datetime(2026, 3, 4, 0, 5)


@pytest.mark.parametrize("text", ["", "soon", "2026-13-04", "2026-02-30 10:00", "2026-03-04 25:00",
                                  "2026-03-04 13:00 PM", "2026-03-04 tea"])  # fmt: skip
def test_what_is_no_moment_is_refused_in_a_sentence(text: str) -> None:
    with pytest.raises(MomentProblem, match=r"\.$"):
        Moments(DayOrder.DAY_FIRST).read(text)


@pytest.mark.parametrize("text", ["", "   \n", "hello", "a,b,c\n1,2,3\n", "time,temp,rh\n"])
def test_what_is_no_table_is_refused_in_a_sentence(text: str) -> None:
    with pytest.raises(TableProblem, match=r"\.$"):
        read_table(text, fahrenheit=False)


MESSY = """time;temp;rh
2026-03-04 10:00;20,5;45
2026-03-04 11:00;;46
2026-03-04 12:00;21,0;146
yesterday;21,0;47
2026-03-04 13:00;21,5;48

2026-03-04 14:00;200;40
2027-03-04 14:00;20;40
"""


@pytest.mark.django_db
def test_lines_that_cannot_be_taken_are_told_and_the_rest_go_in(worker: Person) -> None:
    place = make_place()
    pasted = air.paste_air(place, MESSY, by=worker, now=NOW, fahrenheit=False)
    assert pasted.added == AirRecord.objects.filter(place=place).count() == 2
    reasons = {problem.line: problem.reason for problem in pasted.problems}
    assert list(reasons) == [3, 4, 5, 8, 9]
    assert reasons[3] == "No temperature is given."
    assert reasons[4] == "Relative humidity must be between 0 and 100 %, not 146."
    assert "yesterday" in reasons[5]
    assert "between −40 and 120 °C" in reasons[8]
    assert reasons[9] == "That moment has not come yet."
    assert pasted.problems[1].text == "2026-03-04 12:00;21,0;146"


@pytest.mark.django_db
def test_each_record_keeps_who_how_and_its_emc(worker: Person) -> None:
    place = make_place()
    table = "time,Temp °C,Dew point °C\n2026-03-04 10:00,20,10\n"
    air.paste_air(place, table, by=worker, now=NOW, fahrenheit=True)
    record = AirRecord.objects.get()
    assert (record.at, record.temp_c, record.by) == (at(2026, 3, 4, 10), 20.0, worker)
    assert (record.given, record.given_value, record.source) == ("dew_point", 10.0, "pasted")
    rh = humidity.rh_from_dew_point(20.0, 10.0)
    assert record.rh_pct == pytest.approx(rh)
    assert record.emc_pct == pytest.approx(humidity.emc_pct(20.0, rh))


@pytest.mark.django_db
def test_the_same_file_twice_adds_nothing(worker: Person) -> None:
    place, table = make_place(), TABLES["commas"]
    air.paste_air(place, table, by=worker, now=NOW, fahrenheit=False)
    again = air.paste_air(place, table, by=worker, now=NOW, fahrenheit=False)
    assert (again.added, again.known, again.differing) == (0, 1, 0)
    elsewhere = air.paste_air(make_place(), table, by=worker, now=NOW, fahrenheit=False)
    assert elsewhere.added == 1


@pytest.mark.django_db
def test_a_moment_with_other_numbers_is_left_as_it_was(worker: Person) -> None:
    place = make_place()
    air.paste_air(place, TABLES["commas"], by=worker, now=NOW, fahrenheit=False)
    other = "time,temp,rh\n2026-03-04 15:30,25,45.2\n"
    pasted = air.paste_air(place, other, by=worker, now=NOW, fahrenheit=False)
    assert (pasted.added, pasted.differing) == (0, 1)
    assert "left as they were" in pasted.in_words
    assert AirRecord.objects.get().temp_c == 20.5


@pytest.mark.django_db
def test_a_record_put_right_does_not_come_back(worker: Person) -> None:
    place = make_place()
    air.paste_air(place, TABLES["commas"], by=worker, now=NOW, fahrenheit=False)
    air.record_air(
        place, at=at(2026, 3, 4, 16), temp_c=20.0, given=RH, value=44.0, by=worker, now=NOW,
        corrects=AirRecord.objects.get(),
    )  # fmt: skip
    assert air.paste_air(
        place, TABLES["commas"], by=worker, now=NOW, fahrenheit=False
    ).added == 0  # fmt: skip
    assert AirRecord.objects.current().get().temp_c == 20.0


@pytest.mark.django_db
def test_a_long_table_asks_hardly_more_than_a_short_one(worker: Person) -> None:
    """Rows go in by the thousand, so 50 and 900 rows take the same number of statements."""

    def queries(count: int) -> int:
        start = datetime(2026, 3, 4)
        lines = [f"{start + timedelta(minutes=10 * n)};20;45" for n in range(count)]
        table = "\n".join(["time;temp;rh", *lines])
        with CaptureQueriesContext(connection) as asked:
            pasted = air.paste_air(make_place(), table, by=worker, now=NOW, fahrenheit=False)
        assert (pasted.added, pasted.problems) == (count, ())
        return len(asked)

    assert queries(50) == queries(90)
    assert queries(900) <= queries(50) + 10
