"""Dates and times as loggers and people write them, read strictly; no database.

A date is year first (2026-03-04), day first with points (4.3.2026), day or month first with
strokes (04/03/2026), or with the month's name. A time is of 24 or 12 hours, with or without
seconds and an offset; 24:00 ends its day. A date alone stands for noon.
"""

import re
from datetime import UTC, datetime, timedelta, timezone
from enum import StrEnum
from functools import lru_cache

_DATE = re.compile(r"(?P<a>\d{1,4})(?P<mark>[./-])(?P<b>\d{1,2})(?P=mark)(?P<c>\d{1,4})(?!\d)")
_NAMED_DATE = re.compile(
    r"(?:(?P<d1>\d{1,2})[\s.-]+(?P<m1>[a-z]{3,9})\.?|(?P<m2>[a-z]{3,9})\.?[\s-]+(?P<d2>\d{1,2}))"
    r"(?:st|nd|rd|th)?[\s,-]+(?P<year>\d{4}|\d{2})(?!\d)",
    re.IGNORECASE,
)
_TIME = re.compile(
    r"(?P<hour>\d{1,2})[:.](?P<minute>\d{2})(?:[:.](?P<second>\d{2})(?:[.,]\d+)?)?"
    r"\s*(?P<half>[ap])?(?:\.?m\.?)?\s*(?P<offset>Z|UTC|GMT|[-+−]\d{2}:?\d{2})?",
    re.IGNORECASE,
)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
NOON = timedelta(hours=12)
# Time since midnight, and the zone of an offset written behind it.
Clock = tuple[timedelta, timezone | None]


class MomentProblem(ValueError):
    """A moment that could not be read. Its text is a sentence."""


class DayOrder(StrEnum):
    DAY_FIRST = "day"
    MONTH_FIRST = "month"


class Moments:
    """Reads the moments of one table, whose dates are all written in one order."""

    def __init__(self, order: DayOrder) -> None:
        self.order = order
        # A logger writes each of its days, and each time of day, very often.
        self._days: dict[str, datetime] = {}
        self._clocks: dict[str, Clock] = {}

    def read(self, text: str) -> datetime:
        """Aware where an offset is written, else in the yard's own clock and without a zone.

        Raises:
            MomentProblem: with a sentence.
        """
        day_text, _, clock_text = text.partition("T" if text[10:11] == "T" else " ")
        day, clock = self._days.get(day_text), self._clocks.get(clock_text)
        if day is None or clock is None:
            day, clock = self._read_anew(text, day_text, clock_text)
        since_midnight, zone = clock
        try:
            return (day + since_midnight).replace(tzinfo=zone)
        except OverflowError as problem:
            raise MomentProblem(f"“{text[:40]}” is beyond the calendar.") from problem

    def _read_anew(self, text: str, day_text: str, clock_text: str) -> tuple[datetime, Clock]:
        if not text:
            raise MomentProblem("No time is given.")
        year, month, day_of_month, rest = _date_parts(text, self.order)
        clock = _clock(rest, text)
        try:
            day = datetime(year, month, day_of_month)
        except ValueError as problem:
            raise MomentProblem(f"“{text[:40]}” is not a day of the calendar.") from problem
        if _DATE.fullmatch(day_text) and clock_text:
            self._days[day_text], self._clocks[clock_text] = day, clock
        return day, clock


def date_orders_possible(text: str) -> frozenset[DayOrder]:
    """Which orders give a day of the calendar; both where the text does not depend on it."""
    return frozenset(order for order in DayOrder if _can_be(text, order))


def _can_be(text: str, order: DayOrder) -> bool:
    try:
        Moments(order).read(text)
    except MomentProblem:
        return False
    return True


def _date_parts(text: str, order: DayOrder) -> tuple[int, int, int, str]:
    """Year, month, day, and what follows the date."""
    found = _DATE.match(text)
    if found:
        year, month, day = _numbers(found["a"], found["b"], found["c"], found["mark"], order)
        return year, month, day, text[found.end() :]
    named = _NAMED_DATE.match(text)
    if named:
        month = _month_number((named["m1"] or named["m2"]).lower(), text)
        return (
            _full_year(named["year"]),
            month,
            int(named["d1"] or named["d2"]),
            text[named.end() :],
        )
    raise MomentProblem(f"“{text[:40]}” is not a date and time.")


@lru_cache(maxsize=512)
def _numbers(a: str, b: str, c: str, mark: str, order: DayOrder) -> tuple[int, int, int]:
    if len(a) == 4:
        return int(a), int(b), int(c)
    if len(c) not in (2, 4) or len(a) > 2:
        raise MomentProblem(f"“{a}{mark}{b}{mark}{c}” is not a date.")
    year = _full_year(c)
    if mark == "." or order is DayOrder.DAY_FIRST:
        return year, int(b), int(a)
    return year, int(a), int(b)


def _full_year(text: str) -> int:
    return int(text) + 2000 if len(text) == 2 else int(text)


def _month_number(word: str, text: str) -> int:
    if word[:3] not in _MONTHS:
        raise MomentProblem(f"“{text[:40]}” is not a date and time.")
    return _MONTHS.index(word[:3]) + 1


def _clock(rest: str, text: str) -> Clock:
    rest = rest.strip(" ,Tt")
    if not rest:
        return NOON, None
    found = _TIME.fullmatch(rest)
    if not found:
        raise MomentProblem(f"“{text[:40]}” has no time that can be read.")
    hour, minute, second = int(found["hour"]), int(found["minute"]), int(found["second"] or 0)
    if found["half"]:
        if not 1 <= hour <= 12:
            raise MomentProblem(f"“{text[:40]}” is not a time of the day.")
        hour = hour % 12 + (12 if found["half"].lower() == "p" else 0)
    ends_day = (hour, minute, second) == (24, 0, 0)
    if not ends_day and (hour > 23 or minute > 59 or second > 59):
        raise MomentProblem(f"“{text[:40]}” is not a time of the day.")
    return timedelta(hours=hour, minutes=minute, seconds=second), _zone(found["offset"])


def _zone(offset: str | None) -> timezone | None:
    if not offset:
        return None
    if offset[0] not in "+-−":
        return UTC
    hours, minutes = int(offset[1:3]), int(offset[-2:])
    if hours > 14 or minutes > 59:
        raise MomentProblem(f"“{offset}” is no offset of any clock.")
    shift = timedelta(hours=hours, minutes=minutes)
    return timezone(shift if offset[0] == "+" else -shift)
