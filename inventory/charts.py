"""The charts of the record: a slab's moisture over time, a place's last year and typical year.

Each is a figure with its key, the picture in two shapes (wide and for a phone), and its numbers as
a table. What it was drawn from is hashed, so that an unchanged chart is not drawn again.
"""

import hashlib
from collections.abc import Callable, Hashable, Sequence
from dataclasses import astuple, dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.core.cache import cache
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.safestring import SafeString

from inventory import air
from inventory.air import AirDay
from inventory.chart_svg import Shape
from inventory.models import (
    AirRecord,
    DryingStage,
    MoistureCheck,
    Place,
    Slab,
    SlabForecast,
    StageKind,
    TypicalYear,
)
from inventory.readiness import INTERIOR, Target
from inventory.wood import measure
from inventory.words import day_words, join_words

SHAPES = (Shape("wide", 9.0, 4.4, 11.0), Shape("narrow", 4.9, 4.6, 11.5))
AIR_SHAPES = (Shape("wide", 9.0, 5.2, 11.0), Shape("narrow", 4.9, 5.6, 11.5))
CACHED_S = 24 * 3600
# A longer history is drawn by weeks.
LONG_DAYS = 240
YEAR_DAYS = 365
NBSP = "\N{NO-BREAK SPACE}"
STAGE_WORDS = {
    StageKind.AIR: "Air",
    StageKind.KILN: "Kiln",
    StageKind.CONDITIONING: "Conditioning",
    StageKind.SHOP: "Shop",
}


@dataclass(frozen=True)
class CheckPoint:
    """The figures of one check, % MC; shell and core None where not measured."""

    on: date
    mean_pct: float
    shell_pct: float | None
    core_pct: float | None


@dataclass(frozen=True)
class StageSpan:
    """A stage from its first day to its last, or to today while it is open."""

    kind: str
    place: str
    place_id: int | None
    since: date
    until: date
    is_open: bool

    @property
    def words(self) -> str:
        kind = STAGE_WORDS[StageKind(self.kind)]
        return f"{kind}, {self.place}" if self.place and self.place != kind else kind

    @property
    def short_words(self) -> str:
        return STAGE_WORDS[StageKind(self.kind)]


@dataclass(frozen=True)
class AirMean:
    """The mean EMC (%) of a day or a week that begins `on`, where the slab lay."""

    on: date
    emc_pct: float


@dataclass(frozen=True)
class Ahead:
    """Where the mean is expected on a day to come: 10, 50 and 90 % points, % MC."""

    on: date
    low_pct: float
    pct: float
    high_pct: float


@dataclass(frozen=True)
class MoistureHistory:
    """All a moisture chart shows; checks, air and what is expected oldest first."""

    checks: tuple[CheckPoint, ...]
    stages: tuple[StageSpan, ...]
    air: tuple[AirMean, ...]
    air_step_days: int
    target: Target
    today: date
    ahead: tuple[Ahead, ...] = ()

    @property
    def first_day(self) -> date:
        return min([self.checks[0].on, *(stage.since for stage in self.stages)])

    @property
    def last_day(self) -> date:
        return max(self.today, self.ahead[-1].on) if self.ahead else self.today

    @property
    def in_words(self) -> str:
        """The chart as one would tell it to somebody who cannot see it."""
        last = self.checks[-1]
        said = [_fall_words(self.checks, self.today)]
        inside = [
            f"the {name} {_pct(value)}"
            for name, value in (("core", last.core_pct), ("shell", last.shell_pct))
            if value is not None
        ]
        if inside:
            said.append(f"At the last check {join_words(inside)}.")
        said.append(f"The target is {self.target.range_words}.")
        if self.air and self.stages:
            said.append(
                f"The air where it lies last stood at an EMC of {_pct(self.air[-1].emc_pct)}."
            )
        if self.ahead:
            end = self.ahead[-1]
            said.append(
                f"Ahead it is expected at {_pct(end.pct)} by {day_words(end.on, self.today)}, 8 "
                f"chances in 10 between {_pct(end.low_pct)} and {_pct(end.high_pct)}."
            )
        return " ".join(said)


@dataclass(frozen=True)
class Month:
    """Means of a month's daily means, temperature in the viewer's words."""

    name: str
    temperature: str
    rh_pct: float
    emc_pct: float


def moisture_chart(
    slab: Slab,
    on: date,
    system: str,
    target: Target = INTERIOR,
    forecast: SlabForecast | None = None,
) -> SafeString:
    """Moisture over time with the air's EMC beneath it, target, stages, and its numbers; ahead of
    today where a forecast expects it.

    `system` is the viewer's units. Checks that were corrected are not drawn. A slab never checked
    gives a sentence instead.
    """
    checks = _checks_of(slab)
    if not checks:
        return _page_part("inventory/parts/chart_empty.html", {"slab": slab})
    stages = _stages_of(slab, on)
    newest_air = _newest_air(stage.place_id for stage in stages)
    ahead = _ahead_of(forecast)
    facts = (checks, stages, newest_air, astuple(target), on, system, ahead)
    return _kept(
        f"moisture-{slab.pk}",
        facts,
        lambda: _moisture_part(slab, moisture_history(checks, stages, target, on, ahead)),
    )


def _ahead_of(forecast: SlabForecast | None) -> tuple[Ahead, ...]:
    if forecast is None:
        return ()
    begins = forecast.made_on
    return tuple(
        Ahead(begins + timedelta(days=days), low, middle, high)
        for days, low, middle, high in forecast.curve
    )


def moisture_history(
    checks: Sequence[CheckPoint],
    stages: Sequence[StageSpan],
    target: Target,
    on: date,
    ahead: tuple[Ahead, ...] = (),
) -> MoistureHistory:
    """The checks and stages with the air of each place while the slab lay there; one query."""
    spans = [(s.place_id, s.since, s.until) for s in stages if s.place_id is not None]
    days = _own_air(air.air_days(spans), stages)
    first = min([checks[0].on, *(stage.since for stage in stages)])
    step = 7 if (on - first).days > LONG_DAYS else 1
    means = tuple(days) if step == 1 else _by_weeks(days)
    return MoistureHistory(tuple(checks), tuple(stages), means, step, target, on, ahead)


def air_chart(place: Place, now: datetime, system: str) -> SafeString:
    """Temperature, humidity and EMC of a place over the last year, by days; its months as a table.

    A place without a record in that time gives nothing.
    """
    today = timezone.localtime(now).date()
    facts = (place.name, _newest_air([place.pk]), today, system)
    return _kept(f"air-{place.pk}", facts, lambda: _air_part(place, today, system))


def year_chart(place: Place, year: TypicalYear, today: date, system: str) -> SafeString:
    """A place's typical year of EMC, the weeks on record behind it; its months as a table.

    Drawn again when what it shows has changed by a hundredth, not with every record.
    """
    shown = tuple(round(number, 2) for row in year.coefficients for number in row)
    facts = (place.name, shown, year.last_on, year.days_on_record, today, system)
    return _kept(f"year-{place.pk}", facts, lambda: _year_part(place, year, today, system))


def _year_part(place: Place, row: TypicalYear, today: date, system: str) -> SafeString:
    from inventory import air_means, place_year, year_drawing

    known = air_means.climates_of([place.pk])[place.pk]
    year = place_year.place_year(known, row, today, system)
    title = f"A typical year in {place}"
    svgs = year_drawing.year_svgs(year, SHAPES, key=f"year-{place.pk}", title=title)
    context = {"svgs": svgs, "year": year, "is_curve": row.has_curve, "place": place}
    return _page_part("inventory/parts/year_chart.html", context)


def _moisture_part(slab: Slab, history: MoistureHistory) -> SafeString:
    from inventory import chart_drawing

    svgs = chart_drawing.moisture_svgs(
        history,
        SHAPES,
        key=f"moisture-{slab.pk}",
        title=f"Moisture of {slab} over time",
        desc=history.in_words,
    )
    context = {
        "svgs": svgs,
        "history": history,
        "stage_kinds": _kinds_shown(history.stages),
        "has_shell": any(check.shell_pct is not None for check in history.checks),
        "has_core": any(check.core_pct is not None for check in history.checks),
    }
    return _page_part("inventory/parts/moisture_chart.html", context)


def _air_part(place: Place, today: date, system: str) -> SafeString:
    from inventory import chart_drawing

    days = air.air_series(place, today - timedelta(days=YEAR_DAYS), today)
    if not days:
        return SafeString("")
    svgs = chart_drawing.air_svgs(
        days,
        AIR_SHAPES,
        system,
        key=f"air-{place.pk}",
        title=f"The air of {place} over the last year",
        desc=_air_words(place, days, system),
    )
    context = {"svgs": svgs, "months": _months(days, system), "place": place}
    return _page_part("inventory/parts/air_chart.html", context)


def _kinds_shown(stages: Sequence[StageSpan]) -> list[tuple[str, str]]:
    """(kind, words) of each kind of stage there was, in the order they came."""
    kinds = dict.fromkeys(stage.kind for stage in stages)
    return [(kind, str(StageKind(kind).label)) for kind in kinds]


def _page_part(template: str, context: dict[str, Any]) -> SafeString:
    return SafeString(render_to_string(template, context))


def _kept(name: str, facts: Hashable, make: Callable[[], SafeString]) -> SafeString:
    """From the cache where the same facts were drawn before."""
    digest = hashlib.sha256(repr(facts).encode()).hexdigest()[:24]
    key = f"chart-{name}-{digest}"
    found: str | None = cache.get(key)
    if found is None:
        found = make()
        cache.set(key, str(found), CACHED_S)
    return SafeString(found)


def _checks_of(slab: Slab) -> tuple[CheckPoint, ...]:
    rows = MoistureCheck.objects.current().filter(slab=slab, mean_pct__isnull=False)
    names = ("weighing", "on", "mean_pct", "shell_pct", "core_pct")
    found = list(rows.values_list(*names))
    metered_on = {on for weighing, on, *_ in found if weighing is None}
    # A scale and a meter differ by their method: of one day's two only the meter's is drawn.
    points = [
        CheckPoint(on, *figures)
        for weighing, on, *figures in found
        if weighing is None or on not in metered_on
    ]
    return tuple(reversed(points))


def _stages_of(slab: Slab, on: date) -> tuple[StageSpan, ...]:
    rows = DryingStage.objects.filter(slab=slab, started_on__lte=on).order_by("started_on", "pk")
    names = ("kind", "place__name", "place_id", "started_on", "ended_on")
    return tuple(
        StageSpan(kind, place or "", place_id, since, min(until or on, on), until is None)
        for kind, place, place_id, since, until in rows.values_list(*names)
    )


def _newest_air(place_pks: Any) -> tuple[int, ...]:
    """What tells whether any air came since: records are only ever added."""
    newest = AirRecord.objects.filter(place__in={pk for pk in place_pks if pk is not None})
    return tuple(newest.order_by("-pk").values_list("pk", flat=True)[:1])


def _own_air(days: Sequence[AirDay], stages: Sequence[StageSpan]) -> list[AirMean]:
    """Of each day the air where the slab lay last that day."""
    where: dict[date, float] = {}
    by_place: dict[int, list[AirDay]] = {}
    for day in days:
        by_place.setdefault(day.place_id, []).append(day)
    for stage in stages:
        for day in by_place.get(stage.place_id or 0, []):
            if stage.since <= day.on <= stage.until:
                where[day.on] = day.emc_pct
    return [AirMean(on, where[on]) for on in sorted(where)]


def _by_weeks(days: Sequence[AirMean]) -> tuple[AirMean, ...]:
    """Means by weeks, each standing on the middle of the days it was made from."""
    weeks: dict[int, list[AirMean]] = {}
    for day in days:
        weeks.setdefault(day.on.toordinal() // 7, []).append(day)
    return tuple(
        AirMean(week[len(week) // 2].on, sum(day.emc_pct for day in week) / len(week))
        for week in weeks.values()
    )


def _fall_words(checks: Sequence[CheckPoint], today: date) -> str:
    first, last = checks[0], checks[-1]
    if len(checks) == 1:
        return f"One check: mean moisture {_pct(last.mean_pct)} on {day_words(last.on, today)}."
    change = last.mean_pct - first.mean_pct
    went = "stayed near" if abs(change) < 0.5 else "fell to" if change < 0 else "rose to"
    return (
        f"Mean moisture was {_pct(first.mean_pct)} on {day_words(first.on, today)} and {went} "
        f"{_pct(last.mean_pct)} by {day_words(last.on, today)}, over {len(checks)} checks."
    )


def _air_words(place: Place, days: Sequence[AirDay], system: str) -> str:
    temps = [day.temp_c for day in days]
    coldest, warmest = (measure.format_temperature(t, system) for t in (min(temps), max(temps)))
    rh = [day.rh_pct for day in days]
    emc = [day.emc_pct for day in days]
    return (
        f"Daily means in {place}: temperature from {coldest} to {warmest}, relative humidity from "
        f"{min(rh):.0f} to {max(rh):.0f}{NBSP}%, EMC from {min(emc):.1f} to {max(emc):.1f}{NBSP}%."
    )


def _months(days: Sequence[AirDay], system: str) -> list[Month]:
    months: dict[tuple[int, int], list[AirDay]] = {}
    for day in days:
        months.setdefault((day.on.year, day.on.month), []).append(day)
    return [_month(some, system) for some in months.values()]


def _month(days: Sequence[AirDay], system: str) -> Month:
    count = len(days)
    mean_c = sum(day.temp_c for day in days) / count
    return Month(
        f"{days[0].on:%B %Y}",
        measure.format_temperature(mean_c, system),
        sum(day.rh_pct for day in days) / count,
        sum(day.emc_pct for day in days) / count,
    )


def _pct(value: float) -> str:
    return f"{value:.1f}{NBSP}%"
