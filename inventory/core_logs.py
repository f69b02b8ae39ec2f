"""Logs of core temperature of a charge: taken in, set aside where wrong, and what they show."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from inventory.air_moments import DayOrder
from inventory.air_table import LineProblem, TakenTable
from inventory.core_table import CoreRow, read_core_log
from inventory.models import Charge, CoreLog, CoreTemperature, Person
from inventory.wood import heat, measure
from inventory.wood.heat import HeatHold, Span
from inventory.words import day_words, join_words

POSSIBLE_CORE_C = (-40.0, 150.0)
# The same reading, to what a logger can tell.
SAME_C = 0.005
ONE_DAY = timedelta(days=1)
# Clocks of loggers and yards differ a little.
AHEAD_ALLOWED = timedelta(minutes=10)
NOT_A_CERTIFICATE = "This is a record, not a certificate."


@dataclass(frozen=True)
class CoreTaken(TakenTable):
    """What became of a core log: each row is a reading of a probe."""

    @property
    def in_words(self) -> str:
        said = [f"{_count(self.added)} added."]
        if self.known:
            said.append(f"{_count(self.known)} on record already.")
        if self.differing:
            said.append(f"{_count(self.differing)} differ from the record and were left out.")
        return " ".join([*said, self.read_as])


@dataclass(frozen=True)
class HeatShown:
    """What the logs of a charge show of heat held through, in words."""

    hold: HeatHold
    sentence: str
    detail: str

    @property
    def is_held(self) -> bool:
        return self.hold.is_held


@transaction.atomic
def take_log(
    charge: Charge,
    text: str,
    *,
    by: Person | None,
    now: datetime,
    fahrenheit: bool,
    day_order: DayOrder | None = None,
) -> CoreTaken:
    """Take in a pasted log or a file's text; what cannot be taken is told, the rest goes in.

    Times without an offset are of the yard's own clock. A probe's moment on record already is never
    doubled.

    Raises:
        air_table.TableProblem, air_table.DayOrderUnclear: with a sentence; nothing is written then.
    """
    reading = read_core_log(text, fahrenheit=fahrenheit, day_order=day_order)
    problems = list(reading.problems)
    possible = _possible(charge, reading.rows, problems, now)
    fresh, known, differing = _sift(charge, possible)
    if fresh:
        log = CoreLog.objects.create(charge=charge, at=now, by=by, read_as=reading.in_words[:300])
        for temperature in fresh:
            temperature.log = log
        CoreTemperature.objects.bulk_create(fresh, batch_size=1000)
    problems.sort(key=lambda problem: problem.line)
    return CoreTaken(
        len(fresh), known, differing, tuple(problems), reading.in_words, reading.layout.heading
    )


def set_aside(log: CoreLog, *, why: str, by: Person | None, now: datetime) -> None:
    """A wrong log counts no longer; it stays readable with the reason.

    Raises:
        ValidationError: by field (why), or of the whole.
    """
    if not why.strip():
        raise ValidationError({"why": "Say why it is set aside."})
    changed = CoreLog.objects.counted().filter(pk=log.pk)
    if not changed.update(set_aside_at=now, set_aside_by=by, set_aside_why=why.strip()[:200]):
        raise ValidationError("That log was set aside already.")


def temperatures_of(charge: Charge) -> dict[str, list[tuple[datetime, float]]]:
    """The readings that count, by probe, oldest first."""
    rows = CoreTemperature.objects.filter(charge=charge, log__set_aside_at__isnull=True)
    found: dict[str, list[tuple[datetime, float]]] = {}
    for probe, at, temp_c in rows.order_by("at").values_list("probe", "at", "temp_c").iterator():
        found.setdefault(probe, []).append((at, temp_c))
    return dict(sorted(found.items()))


def heat_of(
    charge: Charge, logs: dict[str, list[tuple[datetime, float]]], system: str
) -> HeatShown | None:
    """Whether and when the heat was held at every probe of the charge; None without a log."""
    if not logs:
        return None
    hold = heat.held_through(
        {probe: [(at.timestamp(), c) for at, c in log] for probe, log in logs.items()}
    )
    return HeatShown(hold, _held_words(hold, system), _detail_words(hold))


def _possible(
    charge: Charge, rows: Iterable[CoreRow], problems: list[LineProblem], now: datetime
) -> list[CoreTemperature]:
    """The rows that can be of this charge; the others are added to `problems`, a line once."""
    begin, end = _span(charge)
    told: set[int] = set()
    found = []
    for row in rows:
        at = timezone.make_aware(row.at) if timezone.is_naive(row.at) else row.at
        reason = _why_not(row, at, begin, min(end, now + AHEAD_ALLOWED), charge)
        if not reason:
            found.append(CoreTemperature(charge=charge, at=at, probe=row.probe, temp_c=row.temp_c))
        elif row.line not in told:
            told.add(row.line)
            problems.append(LineProblem(row.line, row.text, reason))
    return found


def _why_not(row: CoreRow, at: datetime, begin: datetime, end: datetime, charge: Charge) -> str:
    low, high = POSSIBLE_CORE_C
    if not low <= row.temp_c <= high:
        return f"{row.probe}: no core is at {row.temp_c:.0f} °C."
    if at < begin:
        return f"That is before the charge began, on {day_words(charge.started_on)}."
    if at > end and charge.ended_on and at.date() > charge.ended_on:
        return f"That is after the charge ended, on {day_words(charge.ended_on)}."
    return "That moment has not come yet." if at > end else ""


def _span(charge: Charge) -> tuple[datetime, datetime]:
    """From the midnight of its first day to the midnight after its last."""
    begin = timezone.make_aware(datetime.combine(charge.started_on, time.min))
    if charge.ended_on is None:
        return begin, datetime.max.replace(tzinfo=begin.tzinfo) - ONE_DAY
    return begin, timezone.make_aware(datetime.combine(charge.ended_on + ONE_DAY, time.min))


def _sift(
    charge: Charge, rows: Sequence[CoreTemperature]
) -> tuple[list[CoreTemperature], int, int]:
    """New readings, and how many are known with the same number and with another."""
    seen = {
        (probe, at): temp_c for probe, log in temperatures_of(charge).items() for at, temp_c in log
    }
    fresh: list[CoreTemperature] = []
    known = differing = 0
    for row in rows:
        stored = seen.get((row.probe, row.at))
        if stored is None:
            seen[row.probe, row.at] = row.temp_c
            fresh.append(row)
        elif abs(stored - row.temp_c) < SAME_C:
            known += 1
        else:
            differing += 1
    return fresh, known, differing


def _held_words(hold: HeatHold, system: str) -> str:
    at = _degrees(hold.temp_c, system)
    probes = _probes_words(hold)
    if hold.held is not None and hold.reached_s is not None:
        return (
            f"{at} or more was held at {probes} for {_minutes(hold.held.seconds)} without a break, "
            f"{_span_words(hold.held)}; {hold.minutes:.0f} minutes were full at "
            f"{_clock(hold.reached_s)}."
        )
    if hold.longest is not None:
        return (
            f"{at} for {hold.minutes:.0f} minutes is not shown: the longest without a break at "
            f"{probes} was {_minutes(hold.longest.seconds)}, {_span_words(hold.longest)}."
        )
    hottest = ""
    if hold.coldest_c is not None:
        hottest = f" The least hot of them reached {_degrees(hold.coldest_c, system)}."
    return f"{at} for {hold.minutes:.0f} minutes is not shown at {probes}.{hottest}"


def _detail_words(hold: HeatHold) -> str:
    """How it was reckoned, and the breaks between readings."""
    said = (
        "Between two readings the temperature is taken to run straight. A break of more than three "
        "of the log’s own intervals, or of more than 10 minutes, is not counted across."
    )
    if hold.gaps:
        breaks = "1 such break" if hold.gaps == 1 else f"{hold.gaps} such breaks"
        said += f" There {'is' if hold.gaps == 1 else 'are'} {breaks}."
    return said


def _probes_words(hold: HeatHold) -> str:
    if len(hold.probes) == 1:
        return f"the only probe ({hold.probes[0]})"
    if len(hold.probes) == 2:
        return f"both probes ({join_words(hold.probes)})"
    return f"all {len(hold.probes)} probes at once"


def _degrees(temp_c: float, system: str) -> str:
    return measure.format_temperature(temp_c, system)


def _minutes(seconds: float) -> str:
    minutes = int(seconds // 60)
    return "1 minute" if minutes == 1 else f"{minutes:,} minutes"


def _span_words(span: Span) -> str:
    """`from 12:04 to 16:40 on 3 May 2026`, by the yard's clock."""
    begin, end = _local(span.begin_s), _local(span.end_s)
    if begin.date() == end.date():
        return f"from {begin:%H:%M} to {end:%H:%M} on {day_words(end.date())}"
    return (
        f"from {begin:%H:%M} on {day_words(begin.date())} to {end:%H:%M} on {day_words(end.date())}"
    )


def _clock(at_s: float) -> str:
    return f"{_local(at_s):%H:%M}"


def _local(at_s: float) -> datetime:
    return datetime.fromtimestamp(at_s, tz=timezone.get_current_timezone())


def _count(number: int) -> str:
    return f"{number:,} reading" + ("" if number == 1 else "s")
