"""A real year of hourly weather through the importer, and EMC of its months against the table.

The files are typical meteorological years (TMY3: S. Wilcox and W. Marion, *Users Manual for TMY3
Data Sets*, NREL/TP-581-43156, 2008) of Greensboro, North Carolina, and Sand Point, Alaska, as the
solar library pvlib ships them for its own tests; pvlib reads them a second time, for comparison.

EMC by hand is read from Table 4-2 of the *Wood Handbook*, FPL-GTR-190 (2010), at a month's mean
temperature and humidity, between its cells linearly. It is lower than the mean of the hourly EMC in
every month: EMC rises ever more steeply with humidity, so the damp hours of a day add more than
the dry ones take away. Half the table's curvature times the spread of the hours accounts for it.
"""

import csv
import importlib.util
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from scipy.interpolate import LinearNDInterpolator

from inventory.models import AirImport, AirRecord, Person
from inventory.wood import humidity
from tests.conftest import client_for
from tests.factories import make_place

pytestmark = pytest.mark.django_db

Floats = npt.NDArray[np.float64]
TABLE = Path(__file__).with_name("emc_table.csv")
GREENSBORO, SAND_POINT = ("723170TYA.CSV", -5), ("703165TY.csv", -9)
BOTH = pytest.mark.parametrize("station", [GREENSBORO, SAND_POINT], ids=lambda s: str(s[0])[:6])
Station = tuple[str, int]


# Seconds, °C, %: 29 February 1996, 00:00 in Greensboro.
NOT_THEIRS = {"723170TYA.CSV": [(825570000, 9.2, 35.0)], "703165TY.csv": []}


def weather_file(name: str) -> Path:
    found = importlib.util.find_spec("pvlib")
    assert found is not None
    assert found.origin is not None
    return Path(found.origin).parent / "data" / name


def read_in(station: Station, by: Person, **changes: str) -> AirImport:
    """As a person would: choose the file, say the station's clock, read it in."""
    name, offset = station
    browser, place = client_for(by), make_place()
    file = SimpleUploadedFile(name, weather_file(name).read_bytes())
    browser.post(reverse("inventory:air_file", args=[place.pk]), {"file": file})
    kept = AirImport.objects.get(place=place)
    page = browser.get(reverse("inventory:air_import", args=[kept.pk]))
    form = page.context["form"]
    said = {field: form[field].value() or "" for field in form.fields}
    said |= {"zone": f"-{-offset:02}:00", **changes}
    browser.post(reverse("inventory:air_import_start", args=[kept.pk]), said)
    kept.refresh_from_db()
    return kept


def by_months(kept: AirImport, offset: int) -> list[Floats]:
    """Temperature (°C), humidity (%) and EMC (%) of each month's hours, columns of three."""
    rows = AirRecord.objects.filter(place=kept.place).order_by("at")
    months: list[list[tuple[float, float, float]]] = [[] for _ in range(12)]
    for at, *air in rows.values_list("at", "temp_c", "rh_pct", "emc_pct"):
        # The hour's record stands at its end: that of 24:00 is the month's own.
        local = at + timedelta(hours=offset, minutes=-30)
        months[local.month - 1].append((air[0], air[1], air[2]))
    return [np.array(month) for month in months]


def tabled_emc() -> Callable[[float, float], float]:
    """EMC (%) from Table 4-2 at °C and % RH, linearly between its cells."""
    with TABLE.open(encoding="utf-8", newline="") as lines:
        cells = {
            (float(row["temp_f"]), float(row["rh_pct"])): float(row["emc_pct"])
            for row in csv.DictReader(lines)
            if row["origin"] == "source"
        }
    read = LinearNDInterpolator(list(cells), list(cells.values()))
    return lambda temp_c, rh: float(read([temp_c * 1.8 + 32.0], [rh])[0])


def bend(hours: Floats) -> float:
    """What the spread of a month's hours adds to EMC: half the curvature times the variance, for
    temperature, humidity and both together, curvatures taken from the equation over ±2.
    """
    temp, rh = hours[:, 0], hours[:, 1]
    t, h, d = float(temp.mean()), float(rh.mean()), 2.0
    emc = humidity.emc_pct
    by_rh = (emc(t, h + d) - 2 * emc(t, h) + emc(t, h - d)) / d**2
    by_temp = (emc(t + d, h) - 2 * emc(t, h) + emc(t - d, h)) / d**2
    corners = emc(t + d, h + d) - emc(t + d, h - d) - emc(t - d, h + d) + emc(t - d, h - d)
    together = corners / (4 * d**2) * float(np.cov(temp, rh, bias=True)[0, 1])
    return 0.5 * (by_rh * float(rh.var()) + by_temp * float(temp.var())) + together


@BOTH
def test_the_importer_reads_what_the_library_reads(station: Station, worker: Person) -> None:
    """Every hour's moment, temperature and humidity, as pvlib's own reader has them, but for one:
    24:00 on 28 February of a leap year is told there as 1 March, for its years have no 29th.
    """
    from pvlib.iotools import read_tmy3

    kept = read_in(station, worker)
    assert (kept.state, kept.added, kept.bad_total) == ("done", 8760, 0)
    frame, _ = read_tmy3(weather_file(station[0]), coerce_year=None, map_variables=False)
    theirs = sorted(
        zip(
            (int(moment.timestamp()) for moment in frame.index),
            frame["Dry-bulb (C)"].tolist(),
            frame["RHum (%)"].tolist(),
            strict=True,
        )
    )
    rows = AirRecord.objects.filter(place=kept.place).values_list("at", "temp_c", "rh_pct")
    ours = sorted((int(at.timestamp()), temp_c, rh_pct) for at, temp_c, rh_pct in rows)
    assert [row for row in ours if row not in theirs] == NOT_THEIRS[station[0]]
    assert len(ours) == len(theirs)


def test_a_clock_said_wrong_moves_every_record(worker: Person) -> None:
    kept = read_in(GREENSBORO, worker, zone="+00:00")
    first = AirRecord.objects.filter(place=kept.place, at__year=1988).earliest("at")
    assert first.at == datetime(1988, 1, 1, 1, tzinfo=UTC)


def test_dew_point_gives_the_humidity_the_file_has_beside_it(worker: Person) -> None:
    """The file's humidity is to whole per cents and its dew point to tenths of a degree; in a
    seventh of its hours the two disagree (line 2163: 7.9 °C and 6.0 °C are 88 %, it says 68 %).
    """
    rh = read_in(GREENSBORO, worker)
    dew = read_in(GREENSBORO, worker, column_37="", column_34="dew_point_c")
    assert (dew.state, dew.added + dew.bad_total) == ("done", 8760)
    given = dict(AirRecord.objects.filter(place=rh.place).values_list("at", "rh_pct"))
    found = dict(AirRecord.objects.filter(place=dew.place).values_list("at", "rh_pct"))
    apart = np.array([found[at] - given[at] for at in found])
    assert np.median(np.abs(apart)) < 0.4
    assert np.mean(np.abs(apart) > 1.0) == pytest.approx(1 / 7, abs=0.01)


@BOTH
def test_emc_of_the_months_against_the_table_read_by_hand(station: Station, worker: Person) -> None:
    table, unexplained = tabled_emc(), []
    for hours in by_months(read_in(station, worker), station[1]):
        temp_c, rh_pct, hourly_emc = hours.mean(axis=0)
        by_hand = table(max(float(temp_c), -1.1), float(rh_pct))
        assert 0.1 < hourly_emc - by_hand < 2.7
        unexplained.append(hourly_emc - by_hand - bend(hours))
    assert max(abs(part) for part in unexplained) < 0.55
    assert abs(np.mean(unexplained)) < 0.3


def test_where_the_air_is_steadier_the_means_of_a_month_do(worker: Person) -> None:
    """By the sea the hours spread half as far as inland, and the difference is half as great."""
    apart = {}
    for station in (GREENSBORO, SAND_POINT):
        months = by_months(read_in(station, worker), station[1])
        apart[station] = np.mean(
            [m[:, 2].mean() - humidity.emc_pct(*map(float, m[:, :2].mean(axis=0))) for m in months]
        )
    assert apart[SAND_POINT] == pytest.approx(0.71, abs=0.15)
    assert apart[GREENSBORO] == pytest.approx(1.74, abs=0.15)
