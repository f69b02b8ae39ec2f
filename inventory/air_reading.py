"""Reading the lines of a table of air by its layout, fast enough for 100,000 of them; no database.

Cells are read one by one, for each may be written in its own way; all arithmetic is done on whole
columns. A line that cannot be taken is told with its number and the reason, and the others stand.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from itertools import islice
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
from django.utils import timezone as yard_time

from inventory.air_moments import DayOrder, Moments
from inventory.air_table import (
    COLUMN_WORDS,
    GIVEN,
    Layout,
    LineProblem,
    Lines,
    as_written,
    cell_of,
    lines_of,
    moment_text,
    number,
    split,
    understand,
    unit_said,
)
from inventory.models import AirGiven
from inventory.wood import humidity

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

# Clocks of loggers and yards differ a little.
AHEAD_ALLOWED = timedelta(minutes=10)
EPOCH = datetime(1970, 1, 1)
# No record is older; a clock that lost its battery often says so.
EARLIEST = EPOCH.replace(tzinfo=UTC)


@dataclass(frozen=True)
class AirRow:
    """One line as read: a local or aware moment, °C, and % RH or °C of wet bulb or dew point."""

    line: int
    text: str
    at: datetime
    temp_c: float
    given: AirGiven
    value: float


@dataclass
class Reading:
    """What a table gave: rows and problems, in the order of its lines."""

    layout: Layout
    rows: list[AirRow] = field(default_factory=list)
    problems: list[LineProblem] = field(default_factory=list)


@dataclass(frozen=True)
class AirColumns:
    """Records by column, in the order of their moments: line in the file, seconds since 1970 UTC,
    °C, % RH, EMC %, and what was measured beside the temperature (`given`, `value`). All of one
    length.
    """

    line: Ints
    at_s: Ints
    temp_c: Floats
    rh_pct: Floats
    emc_pct: Floats
    given: AirGiven
    value: Floats

    def __len__(self) -> int:
        return len(self.at_s)

    def part(self, which: "slice | Ints") -> "AirColumns":
        return AirColumns(
            self.line[which],
            self.at_s[which],
            self.temp_c[which],
            self.rh_pct[which],
            self.emc_pct[which],
            self.given,
            self.value[which],
        )


class RowReader:
    """Reads one line's cells by a layout."""

    def __init__(self, layout: Layout) -> None:
        assert layout.day_order is not None
        self.layout, self.moments = layout, Moments(layout.day_order)
        self.humidity = layout.humidity
        self.columns = layout.columns
        self.width = len(layout.headings)

    def read(self, cells: Sequence[str]) -> tuple[datetime, float, float]:
        """The moment (aware where an offset is written), °C, and % RH or °C.

        Raises:
            ValueError: with a sentence.
        """
        if self.width and len(cells) > self.width:
            self._refuse_split_decimals(cells)
        at = self.moments.read(moment_text(cells, self.columns))
        temp_c = self._degrees_c(cells, "temp", "temperature")
        if self.humidity == "rh":
            return at, temp_c, _plain_number(cell_of(cells, self.columns["rh"]), "humidity")
        return at, temp_c, self._degrees_c(cells, self.humidity, COLUMN_WORDS[self.humidity])

    def _degrees_c(self, cells: Sequence[str], name: str, words: str) -> float:
        text = cell_of(cells, self.columns[name])
        try:
            degrees, is_fahrenheit = float(text), None
        except ValueError:
            degrees, is_fahrenheit = number(text, words), unit_said(text)
        if is_fahrenheit is None:
            is_fahrenheit = self.layout.fahrenheit.get(name, False)
        return (degrees - 32.0) / 1.8 if is_fahrenheit else degrees

    def _refuse_split_decimals(self, cells: Sequence[str]) -> None:
        """Decimal commas between commas fall into cells of their own and would be misread."""
        extra = cells[self.width :]
        if self.layout.parted_by == "," and all(c.isdigit() and len(c) < 3 for c in extra):
            raise ValueError(
                f"This line has {len(cells)} cells under {self.width} headings: "
                "decimal commas cannot be told from those between columns."
            )


def _plain_number(text: str, words: str) -> float:
    try:
        return float(text)
    except ValueError:
        return number(text, words)


def read_table(text: str, *, fahrenheit: bool, day_order: DayOrder | None = None) -> Reading:
    """A whole pasted table; `fahrenheit` is for temperatures that bear no unit.

    Raises:
        TableProblem, DayOrderUnclear: with a sentence.
    """
    layout = understand(text, fahrenheit=fahrenheit, day_order=day_order)
    return first_rows(lines_of(text), layout, None)


def first_rows(lines: Lines, layout: Layout, most: int | None) -> Reading:
    """The first lines of data as they would be read; all of them when `most` is None."""
    reading, reader = Reading(layout), RowReader(layout)
    for line, cells in islice(_data_lines(lines, layout), most):
        text = as_written(cells, layout.parted_by)
        try:
            at, temp_c, value = reader.read(cells)
        except ValueError as problem:
            reading.problems.append(LineProblem(line, text, str(problem)))
        else:
            given = GIVEN[layout.humidity]
            reading.rows.append(AirRow(line, text, at, temp_c, given, value))
    return reading


def read_columns(
    lines: Lines, layout: Layout, *, now: datetime
) -> tuple[AirColumns, list[LineProblem]]:
    """Every line of data as columns, and the lines that could not be taken, in their order."""
    raw = _RawColumns.read(lines, layout)
    reasons = dict(raw.problems)
    at_s, gaps = _utc_seconds(raw, zone_of(layout.zone))
    for place in np.flatnonzero(gaps):
        reasons[raw.lines[place]] = "That time was left out when clocks went forward."
    possible = _judged(raw, at_s, now, reasons) & ~gaps
    order = np.flatnonzero(possible)
    order = order[np.argsort(at_s[order], kind="stable")]
    given = GIVEN[layout.humidity]
    columns = _with_humidity(
        at_s[order], raw.temp_c[order], given, raw.value[order], raw.lines[order], reasons
    )
    return columns, _with_texts(lines, layout, reasons)


def columns_of(
    moments: Sequence[datetime],
    temps_c: Sequence[float],
    given: AirGiven,
    values: Sequence[float],
) -> AirColumns:
    """Records whose air can be, one by one, as columns: a sensor's.

    Raises:
        humidity.OutOfRange: with a sentence, for air that cannot be.
    """
    at_s = np.array([int(at.timestamp()) for at in moments], dtype=np.int64)
    order = np.argsort(at_s, kind="stable")
    temp, value = np.array(temps_c, dtype=np.float64), np.array(values, dtype=np.float64)
    rh = np.array([rh_given(t, given, v) for t, v in zip(temps_c, values, strict=True)])
    emc = np.asarray(humidity.emc_pct(temp, rh))
    return AirColumns(np.arange(len(at_s)), at_s, temp, rh, emc, given, value).part(order)


def zone_of(zone: str) -> tzinfo:
    """The zone a layout names (see Layout); the yard's own for "".

    Raises:
        ValueError: there is no such zone.
    """
    if not zone:
        return yard_time.get_default_timezone()
    if zone[0] in "+-":
        hours, _, minutes = zone[1:].partition(":")
        shift = timedelta(hours=int(hours), minutes=int(minutes or 0))
        return timezone(shift if zone[0] == "+" else -shift)
    try:
        return ZoneInfo(zone)
    except (KeyError, OSError) as problem:
        raise ValueError(f"“{zone}” is not a time zone.") from problem


@dataclass
class _RawColumns:
    """Cells as numbers: line, seconds of the written clock (of UTC where `is_utc`), and values."""

    lines: Ints
    clock_s: Ints
    is_utc: npt.NDArray[np.bool_]
    temp_c: Floats
    value: Floats
    problems: list[tuple[int, str]]

    @classmethod
    def read(cls, lines: Lines, layout: Layout) -> "_RawColumns":
        reader = RowReader(layout)
        rows: list[tuple[int, int, bool, float, float]] = []
        problems: list[tuple[int, str]] = []
        for line, cells in _data_lines(lines, layout):
            try:
                at, temp_c, value = reader.read(cells)
            except ValueError as problem:
                problems.append((line, str(problem)))
                continue
            is_utc = at.tzinfo is not None
            naive = at.astimezone(UTC).replace(tzinfo=None) if is_utc else at
            since = naive - EPOCH
            rows.append((line, since.days * 86400 + since.seconds, is_utc, temp_c, value))
        line_numbers, clocks, utc, temps, values = zip(*rows, strict=True) if rows else [()] * 5
        return cls(
            np.array(line_numbers, dtype=np.int64),
            np.array(clocks, dtype=np.int64),
            np.array(utc, dtype=np.bool_),
            np.array(temps, dtype=np.float64),
            np.array(values, dtype=np.float64),
            problems,
        )


def _data_lines(lines: Lines, layout: Layout) -> Iterator[tuple[int, list[str]]]:
    for line, raw in enumerate(lines(), 1):
        if line < layout.first:
            continue
        cells = split(raw, layout.parted_by)
        if any(cells):
            yield line, cells


def _utc_seconds(raw: _RawColumns, zone: tzinfo) -> tuple[Ints, npt.NDArray[np.bool_]]:
    """Seconds UTC of each row, and which rows name a time their clock never showed.

    A day whose offset is one throughout takes it whole; on the two days a year when clocks are
    changed each row is looked at, and of an hour that came twice the second is known by its going
    back.
    """
    at_s, gaps = raw.clock_s.copy(), np.zeros(len(raw.clock_s), dtype=np.bool_)
    if not len(at_s):
        return at_s, gaps
    days, place = np.unique(raw.clock_s // 86400, return_inverse=True)
    midnights = (days * 86400).tolist()
    ends = np.array([[_offset_s(zone, s), _offset_s(zone, s + 86399)] for s in midnights])
    local = ~raw.is_utc
    at_s[local] -= ends[place, 0][local]
    changed = local & (ends[:, 0] != ends[:, 1])[place]
    step = 1 if raw.clock_s[-1] >= raw.clock_s[0] else -1  # some files begin with the latest
    for row in np.flatnonzero(changed)[::step].tolist():
        earlier = row - step
        before_s = int(at_s[earlier]) if 0 <= earlier < len(at_s) else None
        at_s[row], gaps[row] = _at_a_change(zone, int(raw.clock_s[row]), before_s)
    return at_s, gaps


def _offset_s(zone: tzinfo, clock_s: int, fold: int = 0) -> int:
    clock = (EPOCH + timedelta(seconds=clock_s)).replace(fold=fold)
    offset = zone.utcoffset(clock)
    return int(offset.total_seconds()) if offset else 0


def _at_a_change(zone: tzinfo, clock_s: int, before_s: int | None) -> tuple[int, bool]:
    first, second = (_offset_s(zone, clock_s, fold) for fold in (0, 1))
    if second > first:
        return clock_s - first, True
    went_back = before_s is not None and clock_s - first <= before_s < clock_s - second
    return clock_s - (second if went_back else first), False


def _judged(
    raw: _RawColumns, at_s: Ints, now: datetime, reasons: dict[int, str]
) -> npt.NDArray[np.bool_]:
    """Which rows can be: their moment has been, and their air can be; the others are told why."""
    too_late = at_s > (now + AHEAD_ALLOWED).timestamp()
    too_early = at_s < 0
    impossible = ~((raw.temp_c >= humidity.LEAST_TEMP_C) & (raw.temp_c <= humidity.GREATEST_TEMP_C))
    for row in np.flatnonzero(impossible).tolist():
        reasons[int(raw.lines[row])] = _why_not(float(raw.temp_c[row]), 50.0)
    for row in np.flatnonzero(too_early).tolist():
        year = (EPOCH + timedelta(seconds=int(at_s[row]))).year
        reasons[int(raw.lines[row])] = f"{year} is before any record: look at the year again."
    for row in np.flatnonzero(too_late).tolist():
        reasons[int(raw.lines[row])] = "That moment has not come yet."
    return ~(too_late | too_early | impossible)


def _with_humidity(
    at_s: Ints,
    temp_c: Floats,
    given: AirGiven,
    value: Floats,
    lines: Ints,
    reasons: dict[int, str],
) -> AirColumns:
    """The rows whose humidity can be, with their EMC worked out at once."""
    rh_pct = value if given == AirGiven.RH else _rh_from_bulbs(temp_c, given, value)
    can_be = (rh_pct >= 0.0) & (rh_pct <= 100.0)
    for row in np.flatnonzero(~can_be).tolist():
        reasons[int(lines[row])] = _why_not_beside(float(temp_c[row]), given, float(value[row]))
    lines, at_s, value = lines[can_be], at_s[can_be], value[can_be]
    temp_c, rh_pct = temp_c[can_be], rh_pct[can_be]
    emc_pct = np.asarray(humidity.emc_pct(temp_c, rh_pct))
    return AirColumns(lines, at_s, temp_c, rh_pct, emc_pct, given, value)


def rh_given(temp_c: float, given: AirGiven | str, value: float) -> float:
    """Relative humidity (%) from what was measured: % RH itself, or °C of wet bulb or dew point.

    Raises:
        humidity.OutOfRange: with a sentence, for air that cannot be.
    """
    if given == AirGiven.WET_BULB:
        return humidity.rh_from_wet_bulb(temp_c, value)
    if given == AirGiven.DEW_POINT:
        return humidity.rh_from_dew_point(temp_c, value)
    humidity.emc_pct(temp_c, value)
    return value


def _rh_from_bulbs(temp_c: Floats, given: AirGiven, value: Floats) -> Floats:
    """Each pair of temperatures once: a logger writes tenths, so most pairs come often."""
    pairs, place = np.unique(np.stack([temp_c, value], axis=1), axis=0, return_inverse=True)
    found = np.full(len(pairs), np.nan)
    for row, (temp, beside) in enumerate(pairs.tolist()):
        try:
            found[row] = rh_given(temp, given, beside)
        except humidity.OutOfRange:
            continue  # told by `_why_not_beside`, line by line
    return found[place.reshape(-1)]


def _why_not(temp_c: float, rh_pct: float) -> str:
    return _why_not_beside(temp_c, AirGiven.RH, rh_pct)


def _why_not_beside(temp_c: float, given: AirGiven, value: float) -> str:
    try:
        rh_given(temp_c, given, value)
    except humidity.OutOfRange as problem:
        return str(problem)
    return "That is no air."


def _with_texts(lines: Lines, layout: Layout, reasons: dict[int, str]) -> list[LineProblem]:
    """The lines that could not be taken as they are written: a second pass, where there are any."""
    if not reasons:
        return []
    return [
        LineProblem(line, as_written(cells, layout.parted_by), reasons[line])
        for line, cells in _data_lines(lines, layout)
        if line in reasons
    ]
