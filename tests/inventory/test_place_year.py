"""A place knows its air: a curve fitted to most of a year, a flat mean before that, and which."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta

import numpy as np
import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory import air, air_means, charts, place_year
from inventory.models import AirDayMean, AirGiven, AirRecord, Place, TypicalYear
from inventory.wood import humidity
from tests.factories import at, make_place

pytestmark = pytest.mark.django_db
NOW = at(2026, 5, 20)


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def rh_on(day: date) -> float:
    """A yearly wave: driest on 1 January, wettest on 2 July."""
    return 55.0 - 12.0 * float(np.cos(2 * np.pi * (day.timetuple().tm_yday - 1) / 365.25))


def table(first: date, days: int) -> str:
    """Two records a day, two points of RH either side of the day's own."""
    lines = ["time,Temp °C,RH"]
    for n in range(days):
        day = first + timedelta(days=n)
        lines += [f"{day} 06:00,18,{rh_on(day) + 2:.4f}", f"{day} 18:00,18,{rh_on(day) - 2:.4f}"]
    return "\n".join(lines)


def with_air(days: int, first: date = date(2025, 1, 1)) -> Place:
    place = make_place(name="Shed")
    air.paste_air(place, table(first, days), by=None, now=NOW, fahrenheit=False)
    return place


def page_of(browser: Client, place: Place) -> str:
    page = browser.get(reverse("inventory:place", args=[place.pk]))
    return page.content.decode().replace("\N{NO-BREAK SPACE}", " ")


def test_a_day_is_the_mean_of_its_records_and_follows_each_new_one() -> None:
    place = with_air(2)
    first = AirDayMean.objects.get(place=place, on=date(2025, 1, 1))
    assert first.records == 2
    assert first.rh_pct == pytest.approx(43.0)
    emcs = [humidity.emc_pct(18.0, 45.0), humidity.emc_pct(18.0, 41.0)]
    assert first.emc_pct == pytest.approx(sum(emcs) / 2)
    air.record_air(
        place, at=at(2025, 1, 1, 12), temp_c=18.0, given=AirGiven.RH, value=61.0, by=None, now=NOW
    )  # fmt: skip
    first.refresh_from_db()
    assert first.records == 3
    assert first.rh_pct == pytest.approx(49.0)


def test_a_record_put_right_to_another_day_empties_its_first() -> None:
    place = make_place()
    wrong = air.record_air(
        place, at=at(2026, 5, 1), temp_c=18.0, given=AirGiven.RH, value=45.0, by=None, now=NOW
    )  # fmt: skip
    air.record_air(
        place, at=at(2026, 5, 3), temp_c=18.0, given=AirGiven.RH, value=45.0, by=None, now=NOW,
        corrects=wrong,
    )  # fmt: skip
    assert [day.on for day in AirDayMean.objects.all()] == [date(2026, 5, 3)]
    assert TypicalYear.objects.get().first_on == date(2026, 5, 3)


def test_days_are_the_yards_own() -> None:
    place, evening = make_place(), at(2026, 5, 1, 20)
    with timezone.override("Asia/Tokyo"):
        air.record_air(
            place, at=evening, temp_c=18, given=AirGiven.RH, value=45, by=None, now=NOW
        )  # fmt: skip
    assert AirDayMean.objects.get().on == date(2026, 5, 2)


def test_the_curve_of_fourteen_months_is_the_wave_they_were_made_of() -> None:
    """EMC by hand from the known wave, mean of the two records of the day, within 0.15 points."""
    place = with_air(425)
    year = TypicalYear.objects.get(place=place)
    assert (year.has_curve, year.days_on_record) == (True, 425)
    known = air_means.climates_of([place.pk])[place.pk]
    for day in (date(2027, 1, 1), date(2027, 4, 2), date(2027, 7, 2), date(2027, 10, 1)):
        emc, temp = (float(value) for value in known.typical(day.toordinal()))
        by_hand = np.mean([humidity.emc_pct(18.0, rh_on(day) + d) for d in (2, -2)])
        assert emc == pytest.approx(by_hand, abs=0.15)
        assert temp == pytest.approx(18.0, abs=0.01)


def test_the_page_says_which_it_is_and_how_far_off(worker_client: Client) -> None:
    place = with_air(35, date(2026, 4, 10))
    page = page_of(worker_client, place)
    assert "A flat mean of 5 weeks of this place's air" in page.replace("&#x27;", "'")
    assert "expect it to be off by ±" in page
    air.paste_air(place, table(date(2025, 3, 1), 425), by=None, now=NOW, fahrenheit=False)
    page = page_of(worker_client, place).replace("&#x27;", "'")
    assert "Fitted to 14 months of this place's own air" in page
    assert "in a typical year, from" in page


def test_a_short_record_is_owned_to_be_further_off_than_a_long_one() -> None:
    """Flat: a level off by 0.8 and a swing of 1.5 seen in one season alone: 2.2 in four of five."""
    short, long = with_air(35), make_place()
    air.paste_air(long, table(date(2025, 1, 1), 425), by=None, now=NOW, fahrenheit=False)
    spreads = [TypicalYear.objects.get(place=place).spread_pct for place in (short, long)]
    assert spreads[0] == pytest.approx(1.2816 * (0.8**2 + 1.5**2) ** 0.5, rel=0.1)
    assert spreads[1] < 0.7


def test_a_place_without_air_tells_of_no_year(worker_client: Client) -> None:
    assert "A typical year" not in page_of(worker_client, make_place())


@pytest.mark.parametrize(
    ("days", "words"),
    [(1, "1 day"), (13, "13 days"), (35, "5 weeks"), (425, "14 months"), (1100, "3 years")],
)
def test_spans_are_told_as_people_tell_them(days: int, words: str) -> None:
    assert place_year.span_words(days) == words


def test_the_chart_has_its_months_as_a_table_and_nothing_styled_inline() -> None:
    place = with_air(200)
    year = TypicalYear.objects.get()
    for system, words in (("metric", "18 °C"), ("imperial", "64 °F")):
        drawn = charts.year_chart(place, year, NOW.date(), system)
        html = drawn.replace("\N{NO-BREAK SPACE}", " ")
        assert words in html
        assert html.count("<tr>") == 1 + 12
        assert "style" not in html
        assert "chart-year-weeks" in html


def test_an_unchanged_year_is_not_drawn_again() -> None:
    place = with_air(100)
    year = TypicalYear.objects.get()
    charts.year_chart(place, year, NOW.date(), "metric")
    with CaptureQueriesContext(connection) as asked:
        charts.year_chart(place, year, NOW.date(), "metric")
    assert len(asked) == 0


def test_the_page_of_a_place_asks_as_often_for_much_air_as_for_little(
    worker_client: Client,
) -> None:
    def queries(place: Place) -> int:
        with CaptureQueriesContext(connection) as asked:
            page_of(worker_client, place)
        return len(asked)

    few = with_air(10, date(2026, 5, 1))
    queries(few)
    many = make_place(name="Barn")
    air.paste_air(many, table(date(2025, 1, 1), 400), by=None, now=NOW, fahrenheit=False)
    assert queries(many) <= queries(with_air_named("Loft")) + 1


def with_air_named(name: str) -> Place:
    place = make_place(name=name)
    air.paste_air(place, table(date(2026, 5, 1), 10), by=None, now=NOW, fahrenheit=False)
    return place


def test_records_of_a_place_are_its_own() -> None:
    one, other = with_air(3), make_place()
    air.record_air(
        other, at=datetime(2026, 5, 1, tzinfo=NOW.tzinfo), temp_c=5, given=AirGiven.RH, value=90,
        by=None, now=NOW,
    )  # fmt: skip
    known = air_means.climates_of([one.pk, other.pk])
    assert (known[one.pk].days_on_record, known[other.pk].days_on_record) == (3, 1)
    assert AirRecord.objects.filter(place=other).count() == 1
