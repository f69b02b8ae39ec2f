"""What the demo yard makes up is like the world: its air, how its wood dries, what meters show."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from catalogue.demo import drying, weather
from catalogue.demo.clock import Clock, chance
from catalogue.demo.drying import Wet, dried
from catalogue.demo.notes import KINDS, load_notes, rounded
from catalogue.demo.readings import Taking, entries
from catalogue.demo.visits import visits
from catalogue.demo.weather import DAYS, DailyAir, daily_air
from inventory.demo.look import SourceError
from inventory.demo.source import load_source
from inventory.demo.yard import DemoSource
from inventory.models import Meter, Slab, Species
from inventory.wood import humidity, moisture

FIXTURES = Path(__file__).parents[2] / "fixtures"
CLOCK = Clock(datetime(2026, 3, 1, 12, tzinfo=UTC))
DAY_S = 86_400


@pytest.fixture(scope="module")
def source() -> DemoSource:
    return load_source(FIXTURES)


def still_air(emc_pct: float, temp_c: float = 20.0, is_fanned: bool = False) -> DailyAir:
    flat = np.full(DAYS, 1.0)
    return DailyAir(temp_c * flat, 50 * flat, emc_pct * flat, is_fanned)


def board(thickness_mm: float = 50.0, green_pct: float = 25.0, **changes: Any) -> Wet:
    facts = {
        "thickness_mm": thickness_mm,
        "specific_gravity": 0.5,
        "green_pct": green_pct,
        "emc_share": 1.0,
        "sawn_days_ago": 400,
        "lay": ((400, "here"),),
    }
    return Wet(**{**facts, **changes})


def plane_sheet_share_left(fourier: float) -> float:
    """Crank, The Mathematics of Diffusion (2nd ed., 1975), eq. 4.18 for a sheet between two faces
    held at one level: what is left of the mean above it; `fourier` = D t / thickness².
    """
    odd = np.arange(1, 400, 2)
    return float((8 / np.pi**2 / odd**2 * np.exp(-(odd**2) * np.pi**2 * fourier)).sum())


@pytest.mark.parametrize("days", [20, 60, 150])
def test_with_constant_diffusion_it_is_the_textbook_sheet(
    days: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(drying, "WETTER_IS_FASTER", 0.0)
    monkeypatch.setattr(drying, "FACE_M_S", 1.0)
    truth = dried([board()], {"here": still_air(10.0)})
    cells = truth.moisture_pct[-1 - (400 - days), 0].astype(float)
    widths = drying.WIDENING ** np.arange(drying.CELLS)
    mean = float((cells * widths).sum() / widths.sum())
    expected = plane_sheet_share_left(drying.DIFFUSION * days * DAY_S / 0.050**2)
    assert (mean - 10) / 15 == pytest.approx(expected, abs=0.02)


def days_to(truth: drying.Histories, piece: int, pct: float) -> int:
    return int(np.argmax(truth.moisture_pct[-400:, piece].mean(axis=1) < pct))


def test_time_grows_with_thickness_to_a_power_between_one_and_a_half_and_two() -> None:
    """1.5 to 1.9 is common practice; a face that resists brings it below the pure 2."""
    truth = dried([board(27.0), board(54.0)], {"here": still_air(10.0)})
    power = np.log2(days_to(truth, 1, 14.0) / days_to(truth, 0, 14.0))
    assert 1.5 <= power <= 1.9


def test_a_kiln_dries_in_weeks_what_the_shed_takes_months_for() -> None:
    air = {"here": still_air(13.0, 11.0), "kiln": still_air(6.5, 44.0, is_fanned=True)}
    shed, kiln = board(), board(lay=((400, "kiln"),))
    truth = dried([shed, kiln], air)
    assert truth.mean(1, 360) < 9.0 < 16.0 < truth.mean(0, 360)


def test_the_core_is_the_wetter_while_it_dries_and_nothing_ends_below_the_air() -> None:
    truth = dried([board(70.0, 80.0)], {"here": still_air(9.0)})
    assert truth.at(0, 300, 0.5) > truth.at(0, 300, 0.1) + 2
    assert truth.moisture_pct.min() >= 9.0 - 1e-4
    assert truth.at(0, 0, 0.5) >= truth.at(0, 0, 0.1)


def test_northern_oak_air_dries_to_about_a_fifth_in_the_time_a_yard_takes(
    source: DemoSource,
) -> None:
    """1-inch northern red oak: 70 to 200 days from green to 20 % (FPL Technical Note 233, rev.
    1960; from memory).
    """
    shed = next(place for place in source.places if place.kind == "shed")
    oak = board(25.4, 80.0, specific_gravity=0.56)
    truth = dried([oak], {"here": daily_air(shed, CLOCK, 1)})
    assert 40 <= days_to(truth, 0, 20.0) <= 200


# --- air -------------------------------------------------------------------------------


def test_outdoor_air_is_warm_and_drier_in_summer(source: DemoSource) -> None:
    yard = next(place for place in source.places if place.kind == "yard")
    air = daily_air(yard, CLOCK, 1)
    july, january = air.on(225), air.on(45)
    month = slice(-240, -210), slice(-60, -30)
    assert air.temp_c[month[0]].mean() > air.temp_c[month[1]].mean() + 10
    assert air.emc_pct[month[0]].mean() < air.emc_pct[month[1]].mean() - 2
    assert july[0] > january[0]


def test_records_are_many_lately_fewer_before_and_have_gaps(source: DemoSource) -> None:
    place = next(place for place in source.places if place.kind == "shop")
    air = daily_air(place, CLOCK, 1)
    moments = list(weather._moments(chance(1, "records", place.name)))
    lately = [day for day, _ in moments if day < weather.LOGGED_DAYS]
    before = sorted({day for day, _ in moments if day >= weather.LOGGED_DAYS})
    assert len(lately) > 5 * (weather.LOGGED_DAYS - 5)
    assert len(moments) - len(lately) < 2 * DAYS
    assert max(np.diff(before)) > 7
    assert air.emc_pct == pytest.approx(humidity.emc_pct(air.temp_c, air.rh_pct))


# --- meters ----------------------------------------------------------------------------


def walnut_slab() -> Slab:
    species = Species(common_name="Walnut, black", botanical_name="Juglans nigra")
    return Slab(species=species, length_mm=2400.0, thickness_mm=54.0)


def test_what_a_plain_pin_meter_shows_in_cold_walnut_is_corrected_back_to_the_truth() -> None:
    slab, rng = walnut_slab(), chance(1, "meter")
    how = Taking(Meter(method="pin"), 5.0)
    typed = [e for _ in range(40) for e in entries(how, slab, lambda share: 14.0, 0.0, 5.0, rng)]
    shown = float(np.mean([entry.raw_pct for entry in typed]))
    made = moisture.correct_reading(
        shown,
        method="pin",
        wood_temp_c=5.0,
        species_botanical="Juglans nigra",
        meter_corrects_temperature=False,
        meter_corrects_species=False,
    )
    assert shown < 13.0
    assert made.corrected_pct == pytest.approx(14.0, abs=0.15)


def test_a_pin_meter_shows_no_more_than_its_scale() -> None:
    how = Taking(Meter(method="pin", corrects_temperature=True, corrects_species=True), 10.0)
    typed = entries(how, walnut_slab(), lambda share: 80.0, 0.0, 10.0, chance(1, "wet"))
    assert {entry.raw_pct for entry in typed} == {40.0}


def test_readings_are_taken_at_three_places_with_shell_and_core_between() -> None:
    how = Taking(Meter(method="pin"), 20.0)
    typed = entries(how, walnut_slab(), lambda share: 8.0, 0.0, 20.0, chance(1, "places"))
    assert len({entry.along for entry in typed}) == 3
    assert {round(entry.depth_mm or 0) for entry in typed} == {5, 11, 27}


# --- visits ----------------------------------------------------------------------------


def test_every_stack_was_visited_from_sawing_to_lately_once_a_day_at_most(
    source: DemoSource,
) -> None:
    for log in source.logs:
        days = [visit.days_ago for visit in visits(log, 7)]
        assert days == sorted(set(days), reverse=True)
        assert days[0] == log.sawn_days_ago - 1
        assert 1 <= days[-1] < 60


def test_in_the_kiln_somebody_looks_every_week(source: DemoSource) -> None:
    log = next(log for log in source.logs if log.stages[-1].kind == "shop")
    ends = {s.kind: s.from_days_ago for s in log.stages}
    days = [
        v.days_ago for v in visits(log, 7) if ends["kiln"] >= v.days_ago >= ends["conditioning"]
    ]
    assert max(-np.diff(days)) <= 7


# --- notes and prices --------------------------------------------------------------------


def test_notes_belong_to_what_a_slab_can_have(tmp_path: Path) -> None:
    assert set(load_notes(FIXTURES)["client"]) <= KINDS | {"any"}
    wrong = '[house]\nany = ["x"]\nglitter = ["y"]\n[client]\nany = ["z"]\n'
    (tmp_path / "slab_notes.toml").write_text(wrong, encoding="utf-8")
    with pytest.raises(SourceError, match="glitter is not on a slab"):
        load_notes(tmp_path)


def test_prices_are_round_as_on_a_tag() -> None:
    assert [int(rounded(price)) for price in (1.2, 312.4, 1234.0, 2876.0)] == [5, 310, 1230, 2900]


def test_a_clock_never_runs_ahead_of_now() -> None:
    assert CLOCK.at(0, 15) == CLOCK.now
    assert CLOCK.at(1, 15) < CLOCK.now
    assert CLOCK.day(-2) > CLOCK.today
