"""The air of the invented places: a yearly cycle, a daily swing, and weather that lasts for days.

The daily means drive the drying of the slabs too (drying.py), so what the records say of the air
and what the meter says of the wood belong together.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from catalogue.demo.clock import Clock, chance
from inventory.demo.yard import Climate
from inventory.demo.yard import Place as Source
from inventory.models import AirGiven, AirRecord, AirSource, Person, Place
from inventory.wood import humidity

Floats = NDArray[np.float64]

DAYS = 1160
"""How far back the weather reaches: before the first log was sawn."""
LOGGED_DAYS = 60
"""For so long a logger has hung in every place; before, people read a dial."""
_MIDSUMMER_DAY_OF_YEAR = 200  # the warmest of the year lags the longest day by a month
_WARMEST_HOUR = 15
_LASTING = 0.72  # how much of today's weather is still there tomorrow
_OUTDOORS = ("yard", "shed")


@dataclass(frozen=True, eq=False)
class DailyAir:
    """Daily means of one place, oldest first; the last is today's. °C, % RH, % MC."""

    temp_c: Floats
    rh_pct: Floats
    emc_pct: Floats
    is_fanned: bool

    def on(self, days_ago: int) -> tuple[float, float]:
        """That day's temperature and EMC."""
        return float(self.temp_c[-1 - days_ago]), float(self.emc_pct[-1 - days_ago])


def daily_air(source: Source, clock: Clock, seed: int) -> DailyAir:
    """The place's daily means over the last DAYS days."""
    climate = source.climate
    warm, damp = _weather(source, seed)
    season = _season(clock)
    temp = climate.temp_mean_c + climate.temp_season_c * season + climate.temp_noise_c * warm
    rh = climate.rh_mean_pct + climate.rh_season_pct * season + climate.rh_noise_pct * damp
    rh = np.clip(rh, 8.0, 97.0)
    emc = np.asarray(humidity.emc_pct(temp, rh))
    return DailyAir(temp, rh, emc, is_fanned=source.kind == "kiln")


def _season(clock: Clock) -> Floats:
    """1 at midsummer, −1 at midwinter, a day apart, oldest first."""
    today = clock.today.timetuple().tm_yday
    days = np.arange(1 - DAYS, 1) + today - _MIDSUMMER_DAY_OF_YEAR
    return np.asarray(np.cos(2 * np.pi * days / 365.25))


def _weather(source: Source, seed: int) -> tuple[Floats, Floats]:
    """Warmth and damp of unit deviation; places under the open sky share most of theirs."""
    sky = "sky" if source.kind in _OUTDOORS else source.name
    warm = 0.85 * _lasting(seed, sky, "warm") + 0.53 * _lasting(seed, source.name, "own warm")
    damp = 0.85 * _lasting(seed, sky, "damp") + 0.53 * _lasting(seed, source.name, "own damp")
    return warm, damp


def _lasting(seed: int, *about: str) -> Floats:
    """A day-by-day walk that comes back to nothing, of unit deviation."""
    steps = chance(seed, "weather", *about).normal(0, np.sqrt(1 - _LASTING**2), DAYS)
    walk = np.empty(DAYS)
    level = 0.0
    for day, step in enumerate(steps):
        level = _LASTING * level + step
        walk[day] = level
    return walk


# --- records -------------------------------------------------------------------------


def records(
    place: Place, source: Source, air: DailyAir, by: Person, clock: Clock, seed: int
) -> list[AirRecord]:
    """What was written down of the place's air, oldest first, unsaved."""
    rng = chance(seed, "records", source.name)
    moments = [moment for moment in _moments(rng) if _is_past(moment, clock)]
    day, hour = np.array(moments).T
    swing = np.cos(2 * np.pi * (hour - _WARMEST_HOUR) / 24)
    temp, rh = _at_the_hour(source.climate, air, day, swing, rng)
    emc = np.asarray(humidity.emc_pct(temp, rh))
    return [
        _record(place, clock, moment, values, by)
        for moment, values in zip(
            moments, zip(temp.tolist(), rh.tolist(), emc.tolist(), strict=True), strict=True
        )
    ]


def _moments(rng: np.random.Generator) -> Iterator[tuple[int, int]]:
    """(days ago, hour) of every record: a logger's every four hours, a person's once or twice."""
    holes = _holes(rng)
    twice = rng.random(DAYS) < 0.45
    for days_ago in range(DAYS - 1, -1, -1):
        if days_ago in holes:
            continue
        if days_ago < LOGGED_DAYS:
            yield from ((days_ago, hour) for hour in range(2, 24, 4))
        else:
            yield days_ago, 8
            if twice[days_ago]:
                yield days_ago, 16


def _holes(rng: np.random.Generator) -> set[int]:
    """Days nobody wrote: two or three times longer than a week, and a dead battery lately."""
    starts = rng.integers(LOGGED_DAYS + 20, DAYS - 60, int(rng.integers(2, 4)))
    spans = [(int(start), int(rng.integers(9, 21))) for start in starts]
    spans.append((int(rng.integers(38, 52)), int(rng.integers(1, 4))))
    return {start + day for start, length in spans for day in range(length)}


def _is_past(moment: tuple[int, int], clock: Clock) -> bool:
    return moment[0] > 0 or clock.at(*moment) < clock.now


def _at_the_hour(
    climate: Climate, air: DailyAir, day: NDArray[np.int64], swing: Floats, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Temperature to a tenth of a degree, humidity to half a per cent."""
    temp = air.temp_c[-1 - day] + climate.temp_day_c * swing
    rh = air.rh_pct[-1 - day] + climate.rh_day_pct * swing
    temp += rng.normal(0, 0.12 * climate.temp_noise_c + 0.05, day.size)
    rh += rng.normal(0, 0.15 * climate.rh_noise_pct + 0.1, day.size)
    return np.round(temp, 1), np.round(2 * np.clip(rh, 5.0, 99.0)) / 2


def _record(
    place: Place, clock: Clock, moment: tuple[int, int], air: tuple[float, float, float], by: Person
) -> AirRecord:
    temp_c, rh_pct, emc_pct = air
    is_logged = moment[0] < LOGGED_DAYS
    return AirRecord(
        place=place,
        at=clock.at(*moment),
        temp_c=temp_c,
        rh_pct=rh_pct,
        emc_pct=emc_pct,
        given=AirGiven.RH,
        given_value=rh_pct,
        source=AirSource.FILE if is_logged else AirSource.TYPED,
        by=by,
    )
