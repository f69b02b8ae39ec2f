"""A place's typical year as its page tells it: the curve or flat mean, and what it stands on."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from inventory.models import TypicalYear
from inventory.wood import measure
from inventory.wood.climate import PlaceClimate

NBSP = "\N{NO-BREAK SPACE}"
# Fewer days of a week, or of a month over all years, are no mean worth showing.
DAYS_OF_A_WEEK, DAYS_OF_A_MONTH = 3, 5


@dataclass(frozen=True)
class YearMonth:
    """A month of the typical year, and its mean over all years on record (None without enough)."""

    name: str
    emc_pct: float
    temperature: str
    recorded_pct: float | None


@dataclass(frozen=True)
class PlaceYear:
    """What the chart shows: EMC on each day of this year, weeks on record as (day of the year,
    EMC), months, and how far off four days in five may be.
    """

    days: tuple[date, ...]
    emc_pct: tuple[float, ...]
    spread_pct: float
    weeks: tuple[tuple[int, float], ...]
    months: tuple[YearMonth, ...]
    today: date
    sentence: str

    @property
    def in_words(self) -> str:
        """The chart as one would tell it to somebody who cannot see it."""
        if max(self.emc_pct) - min(self.emc_pct) < 0.05:
            return f"EMC is taken as {_pct(self.emc_pct[0])} all year. {self.sentence}"
        driest = min(self.months, key=lambda month: month.emc_pct)
        wettest = max(self.months, key=lambda month: month.emc_pct)
        return (
            f"EMC in a typical year, from {_pct(driest.emc_pct)} in {driest.name} to "
            f"{_pct(wettest.emc_pct)} in {wettest.name}. {self.sentence}"
        )


def sentence_of(year: TypicalYear) -> str:
    """Which of the two it is, what it stands on, and how far off it may be."""
    spread = f"{year.spread_pct:.1f}"
    if year.has_curve:
        return (
            f"Fitted to {span_words(year.days_on_record)} of this place's own air: "
            f"four days in five lie within {spread} points of it."
        )
    return (
        f"A flat mean of {span_words(year.days_on_record)} of this place's air, until most of a "
        f"year is known: expect it to be off by ±{spread} points."
    )


def span_words(days: int) -> str:
    """`9 days`, `5 weeks`, `14 months`, `3 years`."""
    if days < 14:
        return f"{days} day" + ("" if days == 1 else "s")
    if days < 70:
        return f"{round(days / 7)} weeks"
    months = round(days / 30.44)
    return f"{months} months" if months < 30 else f"{round(days / 365.25)} years"


def place_year(known: PlaceClimate, year: TypicalYear, today: date, system: str) -> PlaceYear:
    """`known` and `year` are of one place; `system` is the viewer's units."""
    first = date(today.year, 1, 1)
    count = (date(today.year + 1, 1, 1) - first).days
    days = tuple(first + timedelta(days=n) for n in range(count))
    emc, temp = known.typical(np.arange(count) + first.toordinal())
    return PlaceYear(
        days,
        tuple(emc.tolist()),
        year.spread_pct,
        _weeks(known),
        _months(days, emc.tolist(), temp.tolist(), known, system),
        today,
        sentence_of(year),
    )


def _measured(known: PlaceClimate) -> list[tuple[date, float]]:
    return [
        (date.fromordinal(known.first_day + n), float(known.daily[n, 0]))
        for n in np.flatnonzero(known.is_measured).tolist()
    ]


def _weeks(known: PlaceClimate) -> tuple[tuple[int, float], ...]:
    """Means of each week of each year on record, standing on the middle of the week."""
    weeks: dict[tuple[int, int], list[float]] = {}
    for day, emc in _measured(known):
        weeks.setdefault((day.year, (day.timetuple().tm_yday - 1) // 7), []).append(emc)
    return tuple(
        (week * 7 + 3, sum(emcs) / len(emcs))
        for (_, week), emcs in sorted(weeks.items())
        if len(emcs) >= DAYS_OF_A_WEEK
    )


def _months(
    days: Sequence[date],
    emc: Sequence[float],
    temp_c: Sequence[float],
    known: PlaceClimate,
    system: str,
) -> tuple[YearMonth, ...]:
    recorded: dict[int, list[float]] = {}
    for day, value in _measured(known):
        recorded.setdefault(day.month, []).append(value)
    months = []
    for number in range(1, 13):
        of_month = [n for n, day in enumerate(days) if day.month == number]
        some = recorded.get(number, [])
        months.append(
            YearMonth(
                f"{days[of_month[0]]:%B}",
                _mean([emc[n] for n in of_month]),
                measure.format_temperature(_mean([temp_c[n] for n in of_month]), system),
                _mean(some) if len(some) >= DAYS_OF_A_MONTH else None,
            )
        )
    return tuple(months)


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)


def _pct(value: float) -> str:
    return f"{value:.1f}{NBSP}%"
