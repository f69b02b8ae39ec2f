"""A logger's file: recognised, shown, put right, read in once; taken up where it was cut short."""

import csv
import io
import threading
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any
from unittest import mock

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory import air_imports, air_table
from inventory.air_imports import path_of
from inventory.air_reading import read_columns
from inventory.models import AirDayMean, AirImport, AirRecord, ImportState, Person, Place
from tests.conftest import client_for
from tests.factories import at, make_person, make_place

pytestmark = pytest.mark.django_db
NOW = at(2026, 5, 20)
HALF = timedelta(minutes=30)

MESSY = """Logger;00123
Interval;30 min

Datum Zeit, GMT+02:00;Batterie;Ch1;Ch2
03.03.2026 23:30;3,01;68,0;45,5
04.03.2026 00:30;3,01;;45,5
04.03.2026 01:00;3,01;69,8;145,5
04.03.2026 01:30;3,01;69,8;45,5
04.03.2026 01:30;3,01;69,8;45,5
"""


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as moving:
        yield moving


@pytest.fixture
def place() -> Place:
    return make_place(name="Shed")


def url(name: str, *args: object) -> str:
    return reverse(f"inventory:{name}", args=args)


def upload(browser: Client, place: Place, text: str | bytes, name: str = "air.csv") -> Any:
    content = text.encode() if isinstance(text, str) else text
    return browser.post(url("air_file", place.pk), {"file": SimpleUploadedFile(name, content)})


def kept_of(browser: Client, place: Place, text: str | bytes) -> AirImport:
    assert upload(browser, place, text).status_code == 302
    return AirImport.objects.latest("pk")


def said(page: Any) -> dict[str, Any]:
    """What the preview's form would send, untouched."""
    form = page.context["form"]
    return {name: form[name].value() or "" for name in form.fields}


def read_in(browser: Client, kept: AirImport, **changes: Any) -> Any:
    page = browser.get(url("air_import", kept.pk))
    form = {**said(page), **changes}
    return browser.post(url("air_import_start", kept.pk), form, follow=True)


def hours(count: int, first: datetime = datetime(2026, 3, 1)) -> str:
    moments = (first + timedelta(hours=n) for n in range(count))
    rows = (f"{moment},20.{moment.hour % 10},45" for moment in moments)
    return "\n".join(["time,Temp °C,RH", *rows])


def test_a_messy_file_is_shown_put_right_and_read_in(worker_client: Client, place: Place) -> None:
    kept = kept_of(worker_client, place, MESSY)
    page = worker_client.get(url("air_import", kept.pk))
    assert page.context["preview"].rows[0].rh_pct == 68.0
    assert not AirRecord.objects.exists()
    mended = {**said(page), "column_1": "", "column_2": "temp_f", "column_3": "rh"}
    page = worker_client.post(url("air_import", kept.pk), mended, follow=True)
    shown = page.context["preview"].rows
    assert [row.line for row in shown] == [5, 6, 7, 8, 9]
    assert (shown[0].at, round(shown[0].temp_c, 3)) == (at(2026, 3, 3, 21) + HALF, 20.0)
    assert shown[1].reason == "No temperature is given."
    page = read_in(worker_client, kept)
    kept.refresh_from_db()
    assert (kept.state, kept.added, kept.known, kept.bad_total) == ("done", 2, 1, 2)
    assert [line for line, *_ in kept.bad] == [6, 7]
    assert "between 0 and 100 %, not 145.5." in page.content.decode()
    moments = AirRecord.objects.order_by("at").values_list("at", "temp_c", "source", "by__username")
    assert list(moments) == [
        (at(2026, 3, 3, 21) + HALF, 20.0, "file", "worker"),
        (at(2026, 3, 3, 23) + HALF, pytest.approx(21.0), "file", "worker"),
    ]
    assert not path_of(kept).exists()


def test_the_file_lies_in_a_private_folder_under_a_name_nobody_can_guess(
    worker_client: Client, place: Place, settings: Any
) -> None:
    kept = kept_of(worker_client, place, hours(3))
    path = path_of(kept)
    assert path.exists()
    assert settings.MEDIA_ROOT not in path.parents
    assert "air.csv" not in str(path)
    assert path.parent.stat().st_mode & 0o077 == 0


def test_files_that_overlap_never_double_a_record(worker_client: Client, place: Place) -> None:
    read_in(worker_client, kept_of(worker_client, place, hours(30)))
    text = hours(30, datetime(2026, 3, 2)).replace("2026-03-02 02:00:00,20.2", "2026-03-02 02:00,9")
    second = kept_of(worker_client, place, text)
    read_in(worker_client, second)
    second.refresh_from_db()
    assert (second.added, second.known, second.differing) == (24, 5, 1)
    assert AirRecord.objects.count() == 54
    assert not AirRecord.objects.filter(temp_c=9).exists()
    assert set(AirDayMean.objects.values_list("records", flat=True)) == {24, 6}


def test_the_clock_of_the_times_can_be_put_right(worker_client: Client, place: Place) -> None:
    kept = kept_of(worker_client, place, hours(2))
    read_in(worker_client, kept, zone="-05:00")
    assert AirRecord.objects.earliest("at").at == at(2026, 3, 1, 5)
    kept = kept_of(worker_client, make_place(), hours(2))
    read_in(worker_client, kept, zone="Europe/Helsinki")
    assert AirRecord.objects.earliest("at").at == at(2026, 2, 28, 22)


def test_dates_that_read_two_ways_must_be_settled_first(
    worker_client: Client, place: Place
) -> None:
    kept = kept_of(worker_client, place, "time,Temp °C,RH\n03/04/2026 10:00,20,45\n")
    page = read_in(worker_client, kept)
    assert page.status_code == 422
    assert "“03/04/2026” could be read two ways" in page.content.decode()
    assert not AirRecord.objects.exists()
    read_in(worker_client, kept, day_order="day")
    assert AirRecord.objects.get().at == at(2026, 4, 3, 10)


def test_what_parts_the_columns_can_be_put_right(worker_client: Client, place: Place) -> None:
    text = "a,b;time;Temp °C;RH\n" + "".join(
        f"x,{n},y,z;2026-03-0{n} 10:00;20;45\n" for n in (1, 2)
    )
    kept = kept_of(worker_client, place, text)
    page = worker_client.get(url("air_import", kept.pk))
    form = {**said(page), "parted_by": ";"}
    page = worker_client.post(url("air_import", kept.pk), form, follow=True)
    assert page.context["preview"].is_ready
    read_in(worker_client, kept)
    assert AirRecord.objects.count() == 2


def test_a_table_nobody_can_name_is_shown_with_what_is_lacking(
    worker_client: Client, place: Place
) -> None:
    text = "Ch3;Ch1;Ch2;Ch4\n45;20;2026-03-01 10:00;1\n45;20;2026-03-01 11:00;1\n"
    kept = kept_of(worker_client, place, text)
    page = read_in(worker_client, kept)
    assert page.status_code == 422
    assert "Say which column holds the date and time." in page.content.decode()
    mended = {"column_2": "moment", "column_1": "temp_c", "column_0": "rh", "first": 2}
    read_in(worker_client, kept, **mended)
    assert AirRecord.objects.count() == 2


def test_two_columns_for_one_thing_are_refused_beside_the_second(
    worker_client: Client, place: Place
) -> None:
    kept = kept_of(worker_client, place, hours(3))
    page = read_in(worker_client, kept, column_2="temp_f")
    assert page.status_code == 422
    assert "Two columns are said to hold the temperature" in page.content.decode()
    assert page.context["form"]["column_2"].value() == "temp_f"


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"PK\x03\x04 a workbook", "That is not a text file"),
        (b"\x00\x01\x02", "That is not a text file"),
        (b"", "There is nothing in that file"),
        (b" \n \n", "There is no line of air in that file"),
    ],
)
def test_a_file_that_is_no_table_is_refused_in_a_sentence(
    content: bytes, sentence: str, worker_client: Client, place: Place
) -> None:
    page = upload(worker_client, place, content)
    assert page.status_code == 422
    assert sentence in page.content.decode()
    assert not AirImport.objects.exists()


def test_no_file_and_a_file_too_big_are_refused(worker_client: Client, place: Place) -> None:
    assert worker_client.post(url("air_file", place.pk)).status_code == 422
    with mock.patch.object(air_imports, "BIGGEST_BYTES", 10):
        page = upload(worker_client, place, hours(3))
    assert page.status_code == 422
    assert "send it in parts" in page.content.decode()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_the_usual_encodings_are_read(encoding: str, worker_client: Client, place: Place) -> None:
    kept = kept_of(worker_client, place, hours(2).encode(encoding))
    read_in(worker_client, kept)
    assert [round(record.temp_c, 1) for record in AirRecord.objects.order_by("at")] == [20.0, 20.1]


def test_lines_that_could_not_be_taken_can_be_downloaded(
    worker_client: Client, place: Place
) -> None:
    kept = kept_of(worker_client, place, hours(2) + "\n=cmd(),20,45\n")
    page = read_in(worker_client, kept)
    assert url("air_import_bad", kept.pk) in page.content.decode()
    answer = worker_client.get(url("air_import_bad", kept.pk))
    assert answer["Content-Disposition"].startswith("attachment")
    rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert rows[1] == ["4", "“=cmd()” is not a date and time.", "'=cmd(),20,45"]


def test_an_import_is_its_uploaders_own(worker_client: Client, place: Place) -> None:
    kept = kept_of(worker_client, place, hours(3))
    other = client_for(make_person("Worker"))
    for name in ("air_import", "air_import_bad"):
        assert other.get(url(name, kept.pk)).status_code == 404
    for name in ("air_import", "air_import_start", "air_import_drop"):
        assert other.post(url(name, kept.pk)).status_code == 404
    assert AirImport.objects.get().state == ImportState.SHOWN


def test_a_file_lost_from_the_disk_is_told_in_a_sentence(
    worker_client: Client, place: Place
) -> None:
    kept = kept_of(worker_client, place, hours(3))
    path_of(kept).unlink()
    page = worker_client.get(url("air_import", kept.pk))
    assert page.status_code == 404
    assert "Choose it again" in page.content.decode()


def test_a_forgotten_file_is_gone(worker_client: Client, place: Place) -> None:
    kept = kept_of(worker_client, place, hours(3))
    worker_client.post(url("air_import_drop", kept.pk))
    assert not path_of(kept).exists()
    assert worker_client.get(url("air_import", kept.pk)).status_code == 404
    assert not AirRecord.objects.exists()


def test_a_file_nobody_comes_back_to_is_forgotten(
    worker_client: Client, place: Place, clock: time_machine.Traveller
) -> None:
    old = kept_of(worker_client, place, hours(3))
    clock.shift(timedelta(days=15))
    kept_of(client_for(make_person("Worker")), place, hours(3))
    old.refresh_from_db()
    assert old.state == ImportState.DROPPED
    assert not path_of(old).exists()


class ServerStopped(BaseException):
    """As abrupt as the power going."""


def cut_short_after(batches: int) -> Any:
    """Reading in that dies after so many batches, leaving its state as it was."""
    write = air_imports._write_batch
    count = iter(range(batches + 1))

    def dying(*args: Any) -> None:
        if next(count) == batches:
            raise ServerStopped
        write(*args)

    return mock.patch.object(air_imports, "_write_batch", dying)


@pytest.fixture
def cut(worker_client: Client, place: Place) -> AirImport:
    """100 rows, a bad one among them, cut short after 60."""
    kept = kept_of(worker_client, place, hours(99) + "\nlater,20,45")
    with (
        mock.patch.object(air_imports, "BATCH_ROWS", 20),
        cut_short_after(3),
        pytest.raises(ServerStopped),
    ):
        read_in(worker_client, kept)
    kept.refresh_from_db()
    return kept


def test_an_import_cut_short_says_so_and_goes_on_without_doubling(
    worker_client: Client, cut: AirImport, clock: time_machine.Traveller
) -> None:
    assert (cut.state, cut.rows_done, cut.added) == (ImportState.RUNNING, 61, 60)
    page = worker_client.get(url("air_import", cut.pk)).content.decode()
    assert "61 of 100 lines" in page
    assert "cut short" not in page
    assert 'hx-trigger="every 1s"' in page
    clock.shift(61)
    page = worker_client.get(url("air_import", cut.pk)).content.decode()
    assert "It was cut short" in page
    assert "every 1s" not in page
    worker_client.post(url("air_import_start", cut.pk))
    cut.refresh_from_db()
    assert (cut.state, cut.rows_done, cut.added) == (ImportState.DONE, 100, 99)
    assert (cut.known, cut.bad_total, AirRecord.objects.count()) == (0, 1, 99)


def test_while_one_attempt_lives_no_other_begins(worker_client: Client, cut: AirImport) -> None:
    page = worker_client.post(url("air_import_start", cut.pk), follow=True)
    assert "is being read in already" in page.content.decode()
    assert AirRecord.objects.count() == 60
    worker_client.post(url("air_import_drop", cut.pk))
    assert AirImport.objects.get().state == ImportState.RUNNING


def test_an_attempt_that_was_overtaken_writes_no_more(cut: AirImport) -> None:
    AirImport.objects.update(run=cut.run + 1)
    air_imports.run(cut.pk, cut.run)
    assert AirRecord.objects.count() == 60
    with pytest.raises(air_imports.Overtaken):
        air_imports._read_in(cut, cut.run)
    assert AirRecord.objects.count() == 60


def test_what_goes_wrong_on_our_side_stops_it_and_it_can_be_taken_up(
    worker_client: Client, place: Place, caplog: pytest.LogCaptureFixture
) -> None:
    kept = kept_of(worker_client, place, hours(30))
    with mock.patch.object(air_imports, "write_columns", side_effect=RuntimeError("disk")):
        page = read_in(worker_client, kept)
    assert "It was cut short" in page.content.decode()
    assert "disk" not in page.content.decode()
    assert "Reading in the air file" in caplog.text
    worker_client.post(url("air_import_start", kept.pk))
    assert AirRecord.objects.count() == 30


def test_the_polled_part_asks_for_the_whole_page_when_it_is_done(
    worker_client: Client, place: Place, cut: AirImport
) -> None:
    as_htmx = {"HX-Request": "true"}
    part = worker_client.get(url("air_import", cut.pk), headers=as_htmx)
    assert b"<html" not in part.content
    AirImport.objects.update(state=ImportState.DONE)
    part = worker_client.get(url("air_import", cut.pk), headers=as_htmx)
    assert part["HX-Refresh"] == "true"


def test_a_long_file_asks_the_database_little_more_than_a_short_one(
    worker: Person, place: Place
) -> None:
    def queries(rows: int) -> int:
        file = SimpleUploadedFile("air.csv", hours(rows).encode())
        kept = air_imports.receive(make_place(), file, by=worker, now=NOW, fahrenheit=False)
        with CaptureQueriesContext(connection) as asked:
            air_imports.start(kept, NOW)
        kept.refresh_from_db()
        assert kept.added == rows
        return len(asked)

    assert queries(1500) <= queries(30) + 3


@pytest.mark.django_db(transaction=True)
def test_a_thread_of_its_own_reads_it_in_and_leaves_no_connection(settings: Any) -> None:
    settings.AIR_IMPORTS_INLINE = False
    file = SimpleUploadedFile("air.csv", hours(50).encode())
    kept = air_imports.receive(make_place(), file, by=make_person(), now=NOW, fahrenheit=False)
    with mock.patch.object(air_imports, "connection", wraps=connection) as own:
        assert air_imports.start(kept, NOW)
        for thread in threading.enumerate():
            if thread.name == f"air-file-{kept.pk}":
                thread.join(timeout=30)
    kept.refresh_from_db()
    assert (kept.state, kept.added) == (ImportState.DONE, 50)
    own.close.assert_called_once()


# Reading


def columns(text: str, zone: str = "", now: datetime = NOW) -> list[str]:
    lines = air_table.lines_of(text)
    layout = air_table.guess(lines, fahrenheit=False).layout
    read, problems = read_columns(lines, replace(layout, zone=zone or layout.zone), now=now)
    told = [datetime.fromtimestamp(s, UTC).strftime("%d %H:%M") for s in read.at_s.tolist()]
    return told + [problem.reason for problem in problems]


def local(*clocks: str) -> str:
    return "\n".join(["time,Temp °C,RH", *(f"{clock},20,45" for clock in clocks)])


TWICE = ("2025-10-26 02:30", "2025-10-26 03:30", "2025-10-26 03:00", "2025-10-26 04:30")


def test_an_hour_that_came_twice_is_told_by_its_going_back() -> None:
    """Helsinki went from UTC+3 to UTC+2 at 04:00 on 26 October 2025."""
    right = ["25 23:30", "26 00:30", "26 01:00", "26 02:30"]
    assert columns(local(*TWICE), "Europe/Helsinki") == right
    assert columns(local(*reversed(TWICE)), "Europe/Helsinki") == right


def test_an_hour_that_never_came_is_told() -> None:
    """Helsinki went from 03:00 to 04:00 on 29 March 2026."""
    read = columns(local("2026-03-29 02:59", "2026-03-29 03:30", "2026-03-29 04:00"),
                   "Europe/Helsinki")  # fmt: skip
    assert read == ["29 00:59", "29 01:00", "That time was left out when clocks went forward."]


def test_a_heading_tells_the_offset_and_a_time_keeps_its_own() -> None:
    text = "Date Time, GMT-05:00;Temp °C;RH\n2026-03-01 10:00;20;45\n2026-03-01T10:00Z;20;45\n"
    assert columns(text) == ["01 10:00", "01 15:00"]


def test_midnight_may_end_its_day() -> None:
    assert columns(local("2026-03-01 24:00", "2026-03-01 24:01")) == [
        "02 00:00",
        "“2026-03-01 24:01” is not a time of the day.",
    ]


def test_a_line_of_units_stands_beneath_the_headings() -> None:
    text = "time;temp;rh\n;°F;%\n2026-03-01 10:00;68;45\n"
    layout = air_table.understand(text, fahrenheit=False)
    assert (layout.first, layout.fahrenheit) == (3, {"temp": True})


def test_decimal_commas_between_commas_are_refused_not_misread() -> None:
    (reason,) = columns("time,temp,rh\n2026-03-01 10:00,20,5,45,2\n")
    assert "5 cells under 3 headings" in reason


def test_a_heading_tells_the_order_of_the_dates() -> None:
    text = "Date (MM/DD/YYYY),Time (HH:MM),Dry-bulb (C),RHum (%)\n03/04/2026,10:00,20,45\n"
    assert columns(text) == ["04 10:00"]
