"""The charts of a charge: the air it ran in with the moisture of its slabs, and its core log.

What a chart was drawn from is hashed, so that an unchanged one is not drawn again.
"""

import hashlib
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import TypeVar

import numpy as np
from django.core.cache import cache
from django.utils import timezone
from django.utils.safestring import SafeString

from inventory import charge_numbers, core_logs
from inventory.charge_numbers import AirDay, ProbeSeen
from inventory.charges import Stay
from inventory.chart_svg import Shape
from inventory.core_logs import HeatShown
from inventory.models import AirRecord, Charge, CoreLog
from inventory.wood import measure

AIR_SHAPES = (Shape("wide", 9.0, 5.2, 11.0), Shape("narrow", 4.9, 5.6, 11.5))
CORE_SHAPES = (Shape("wide", 9.0, 3.6, 11.0), Shape("narrow", 4.9, 3.8, 11.5))
CACHED_S = 24 * 3600
# A longer record is drawn by so many means of equal stretches.
MOST_POINTS = 480
NBSP = "\N{NO-BREAK SPACE}"

T = TypeVar("T")
Series = list[tuple[datetime, float]]


@dataclass(frozen=True)
class AirPoint:
    """The air at a moment, or the mean of a stretch about it."""

    at: datetime
    temp_c: float
    rh_pct: float
    emc_pct: float


@dataclass(frozen=True)
class ChargeAir:
    """The air of the charge's place while it ran, its figures, its days and the pictures of it."""

    records: int
    words: str
    emc_first_pct: float
    emc_last_pct: float
    svgs: tuple[SafeString, ...]
    days: tuple[AirDay, ...]


@dataclass(frozen=True)
class ChargeCore:
    """What the core logs show, probe by probe, and the pictures of them."""

    heat: HeatShown
    svgs: tuple[SafeString, ...]
    probes: tuple[ProbeSeen, ...]


def span(charge: Charge, now: datetime) -> tuple[datetime, datetime]:
    """From the midnight of its first day to the midnight after its last, or to now."""
    begin = timezone.make_aware(datetime.combine(charge.started_on, time.min))
    if charge.ended_on is None:
        return begin, now
    after = charge.ended_on + timedelta(days=1)
    return begin, min(timezone.make_aware(datetime.combine(after, time.min)), now)


def air_of(charge: Charge, stays: Sequence[Stay], now: datetime, system: str) -> ChargeAir | None:
    """The air log of the charge drawn with its slabs' moisture; None without a record."""
    begin, end = span(charge, now)
    records = AirRecord.objects.current().filter(place=charge.place, at__gte=begin, at__lte=end)
    newest = records.order_by("-pk").values_list("pk", flat=True).first()
    if newest is None:
        return None
    count = records.count()
    wet = tuple(_course(stay) for stay in stays)
    facts = (charge.name, newest, count, charge.ended_on, wet, system)

    def make() -> ChargeAir:
        rows = list(
            records.order_by("at").values_list("at", "temp_c", "rh_pct", "emc_pct").iterator()
        )
        points = thinned([AirPoint(*row) for row in rows])
        courses = [course for course in wet if course]
        return _drawn_air(charge, points, charge_numbers.air_days(rows), count, courses, system)

    return _kept(f"charge-air-days-{charge.pk}", facts, make)


def core_of(charge: Charge, logs: Sequence[CoreLog], system: str) -> ChargeCore | None:
    """The core logs that count, judged and drawn; None without one."""
    counted = tuple(log.pk for log in logs if log.set_aside_at is None)
    if not counted:
        return None

    def make() -> ChargeCore | None:
        series = core_logs.temperatures_of(charge)
        heat = core_logs.heat_of(charge, series, system)
        return None if heat is None else _drawn_core(charge, series, heat, system)

    return _kept(f"charge-core-probes-{charge.pk}", (charge.name, counted, system), make)


def thinned(points: Sequence[AirPoint], most: int = MOST_POINTS) -> list[AirPoint]:
    """As they are up to `most`; else the means of `most` equal stretches of time that hold any."""
    if len(points) <= most:
        return list(points)
    at_s = np.array([point.at.timestamp() for point in points])
    values = np.array([(p.temp_c, p.rh_pct, p.emc_pct) for p in points])
    step = (at_s[-1] - at_s[0]) / most
    bucket = np.minimum(((at_s - at_s[0]) / step).astype(int), most - 1)
    counts = np.bincount(bucket, minlength=most)
    filled = counts > 0
    means = [np.bincount(bucket, column, most)[filled] / counts[filled] for column in values.T]
    middles = np.bincount(bucket, at_s, most)[filled] / counts[filled]
    zone = timezone.get_current_timezone()
    return [
        AirPoint(datetime.fromtimestamp(s, tz=zone), float(t), float(rh), float(emc))
        for s, t, rh, emc in zip(middles.tolist(), *means, strict=True)
    ]


def _course(stay: Stay) -> tuple[tuple[datetime, float], ...]:
    """A slab's moisture from its check before to that after, at noon of their days."""
    seen = [check for check in (stay.before, stay.after) if check is not None]
    return tuple(
        (timezone.make_aware(datetime.combine(check.on, time(12))), check.pct) for check in seen
    )


def _drawn_air(
    charge: Charge,
    points: Sequence[AirPoint],
    days: tuple[AirDay, ...],
    count: int,
    courses: Sequence[Sequence[tuple[datetime, float]]],
    system: str,
) -> ChargeAir:
    from inventory import charge_drawing

    words = _air_words(charge, points, system)
    svgs = charge_drawing.air_svgs(
        points,
        courses,
        AIR_SHAPES,
        system,
        key=f"charge-air-{charge.pk}",
        title=f"The air of {charge.name}",
        desc=words,
    )
    return ChargeAir(count, words, points[0].emc_pct, points[-1].emc_pct, tuple(svgs), days)


def _drawn_core(
    charge: Charge, series: dict[str, Series], heat: HeatShown, system: str
) -> ChargeCore:
    from inventory import charge_drawing

    svgs = charge_drawing.core_svgs(
        series,
        heat.hold,
        CORE_SHAPES,
        system,
        key=f"charge-core-{charge.pk}",
        title=f"Core temperatures of {charge.name}",
        desc=heat.sentence,
    )
    return ChargeCore(heat, tuple(svgs), charge_numbers.probes_seen(series))


def _air_words(charge: Charge, points: Sequence[AirPoint], system: str) -> str:
    temps = [point.temp_c for point in points]
    rhs = [point.rh_pct for point in points]
    coldest, hottest = (measure.format_temperature(t, system) for t in (min(temps), max(temps)))
    return (
        f"The air went from {coldest} to {hottest} and from {min(rhs):.0f} to "
        f"{max(rhs):.0f}{NBSP}% humidity; its EMC stood at {points[0].emc_pct:.1f}{NBSP}% at the "
        f"first record and at {points[-1].emc_pct:.1f}{NBSP}% at the last."
    )


def _kept(name: str, facts: Hashable, make: Callable[[], T]) -> T:
    """From the cache where the same facts were drawn before."""
    digest = hashlib.sha256(repr(facts).encode()).hexdigest()[:24]
    key = f"{name}-{digest}"
    found: T | None = cache.get(key)
    if found is None:
        found = make()
        cache.set(key, found, CACHED_S)
    return found
