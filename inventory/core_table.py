"""Reading a log of core temperatures as people paste it or a logger writes it; no database.

Either a column for each probe beside the time, or a line for each reading with the probe's name.
The log is read as a whole; a cell that cannot be read is told with its line and the reason, and the
others stand.
"""

import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from inventory.air_moments import DayOrder, Moments, date_orders_possible
from inventory.air_table import (
    DayOrderUnclear,
    LineProblem,
    TableProblem,
    as_written,
    cell_of,
    parting_of,
    reads_two_ways,
    split,
)
from inventory.words import join_words

MOST_PROBES = 24
LONGEST_PROBE = 24
LINES_LOOKED_AT = 60

_NUMBER = re.compile(r"([-+−]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*°?\s*([CF])?", re.IGNORECASE)
_FAHRENHEIT = re.compile(r"°\s*f\b|\bdeg\s*f\b|fahrenheit|[(\[\s,_]f[)\]]?\s*$|℉", re.IGNORECASE)
_CELSIUS = re.compile(r"°\s*c\b|\bdeg\s*c\b|celsius|[(\[\s,_]c[)\]]?\s*$|℃", re.IGNORECASE)
_MOMENT = re.compile(r"date.*time|time.*date|timestamp|moment|when|logged|recorded", re.IGNORECASE)
_DATE = re.compile(r"\bdate|\bday\b|datum", re.IGNORECASE)
_TIME = re.compile(r"\btime|\bhour|clock|uhrzeit|zeit", re.IGNORECASE)
_PROBE = re.compile(r"^\s*(probe|sensor|channel|thermocouple|position)\s*(name|no\.?|#)?\s*$", re.I)
_TEMPERATURE = re.compile(r"temp|°|celsius|fahrenheit|value|reading|℃|℉", re.IGNORECASE)
# Columns of other things a kiln's recorder writes beside the cores.
_OTHER = re.compile(
    r"\br\.?h\b|humid|wet|dry\s?bulb|\bdew|\bemc\b|\bair\b|ambient|chamber|kiln|set\s?point|"
    r"vent|fan|batter|volt|status|alarm|note|remark|^\s*(?:no\.?|#|index|record|line)\s*$",
    re.IGNORECASE,
)
_CORE = re.compile(r"core|probe|wood|slab|thermocouple|\btc\s?\d", re.IGNORECASE)


@dataclass(frozen=True)
class CoreRow:
    """One reading: the line it stood in, a local or aware moment, the probe, °C."""

    line: int
    text: str
    at: datetime
    probe: str
    temp_c: float


@dataclass(frozen=True)
class CoreLayout:
    """How a log is laid out. `probes` are columns by name, or empty where `probe` names one."""

    parted_by: str
    first: int
    moment: tuple[int, ...]
    probes: dict[str, int]
    probe: int | None
    temp: int | None
    fahrenheit: dict[int, bool]
    day_order: DayOrder
    left_out: tuple[str, ...]
    heading: str


@dataclass
class CoreReading:
    """What a log gave: readings and problems, in the order of its lines."""

    layout: CoreLayout
    rows: list[CoreRow] = field(default_factory=list)
    problems: list[LineProblem] = field(default_factory=list)

    @property
    def in_words(self) -> str:
        """What was understood, for the person to check."""
        probes = list(dict.fromkeys(row.probe for row in self.rows))
        count = "1 probe" if len(probes) == 1 else f"{len(probes)} probes"
        units = {self.layout.fahrenheit.get(index, False) for index in self._temp_columns}
        degrees = "°C and °F" if len(units) > 1 else "°F" if True in units else "°C"
        left_out = ""
        if self.layout.left_out:
            left_out = f" Left out: {join_words(self.layout.left_out)}."
        return f"Read as {count} ({join_words(probes)}) in {degrees}.{left_out}"

    @property
    def _temp_columns(self) -> list[int]:
        only = [] if self.layout.temp is None else [self.layout.temp]
        return [*self.layout.probes.values(), *only]


def read_core_log(text: str, *, fahrenheit: bool, day_order: DayOrder | None = None) -> CoreReading:
    """The whole log; `fahrenheit` is for temperatures that bear no unit.

    Raises:
        TableProblem, DayOrderUnclear: with a sentence.
    """
    layout = _layout(text, fahrenheit, day_order)
    reading, moments = CoreReading(layout), Moments(layout.day_order)
    for line, cells in _lines(text, layout.parted_by):
        if line >= layout.first and any(cells):
            _take_line(reading, line, cells, moments)
    return reading


def _take_line(reading: CoreReading, line: int, cells: Sequence[str], moments: Moments) -> None:
    layout = reading.layout
    written = as_written(cells, layout.parted_by)
    try:
        at = moments.read(_moment(cells, layout.moment))
    except ValueError as problem:
        reading.problems.append(LineProblem(line, written, str(problem)))
        return
    wanting: list[str] = []
    for probe, index in _probes_of(cells, layout):
        value = cell_of(cells, index)
        if not value and layout.probes:
            continue
        try:
            temp_c = _degrees_c(value, layout.fahrenheit.get(index, False))
        except ValueError as problem:
            wanting.append(f"{probe}: {problem}" if probe else str(problem))
            continue
        reading.rows.append(CoreRow(line, written, at, probe, temp_c))
    if wanting:
        reading.problems.append(LineProblem(line, written, " ".join(wanting)))


def _probes_of(cells: Sequence[str], layout: CoreLayout) -> list[tuple[str, int]]:
    if layout.probes:
        return list(layout.probes.items())
    assert layout.probe is not None
    assert layout.temp is not None
    return [(cell_of(cells, layout.probe)[:LONGEST_PROBE] or "Probe", layout.temp)]


def _degrees_c(text: str, is_fahrenheit: bool) -> float:
    found = _NUMBER.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"“{text[:40]}” is not a temperature." if text else "No temperature.")
    degrees = float(found[1].replace(",", ".").replace("−", "-"))
    unit = (found[2] or ("F" if is_fahrenheit else "C")).upper()
    return (degrees - 32.0) / 1.8 if unit == "F" else degrees


def _layout(text: str, fahrenheit: bool, day_order: DayOrder | None) -> CoreLayout:
    if not text.strip():
        raise TableProblem("There is nothing to read: paste the log, or choose a file.")
    parted_by = _parted_by(text)
    lines = list(_lines(text, parted_by))
    first, moment = _first_data(lines)
    headings = _headings(lines, first, moment)
    data = [cells for _, cells in lines[first:] if any(cells)]
    probes, probe, temp, left_out = _temperatures(headings, data, moment)
    columns = list(probes.values()) if probe is None else [temp or 0]
    return CoreLayout(
        parted_by=parted_by,
        first=lines[first][0],
        moment=moment,
        probes=probes,
        probe=probe,
        temp=temp,
        fahrenheit={i: _is_fahrenheit(cell_of(headings, i), fahrenheit) for i in columns},
        day_order=_day_order([_moment(cells, moment) for cells in data], day_order),
        left_out=left_out,
        heading=as_written(headings, parted_by),
    )


def _first_data(
    lines: Sequence[tuple[int, Sequence[str]]],
) -> tuple[int, tuple[int, ...]]:
    """Index of the first line that begins with a moment and holds a number, and where it is."""
    for index, (_, cells) in enumerate(lines[:LINES_LOOKED_AT]):
        for at in range(min(3, len(cells))):
            moment = _moment_at(cells, at)
            if moment and any(_NUMBER.fullmatch(cell) for cell in cells[moment[-1] + 1 :]):
                return index, moment
    raise TableProblem(
        "The columns could not be told apart. Give the time first, then a temperature for each "
        "probe, with headings: time, core 1, core 2."
    )


def _moment_at(cells: Sequence[str], at: int) -> tuple[int, ...]:
    """The cells from `at` on that give a day and a time: one, or two; none where they do not."""
    if not date_orders_possible(cells[at]):
        return ()
    two = (at, at + 1)
    if at + 1 < len(cells) and ":" not in cells[at] and ":" in cells[at + 1]:
        return two if date_orders_possible(_moment(cells, two)) else ()
    return (at,)


def _headings(
    lines: Sequence[tuple[int, Sequence[str]]], first: int, moment: tuple[int, ...]
) -> list[str]:
    """The line above the data where it heads as many columns; "" for each where there is none."""
    above = list(lines[first - 1][1]) if first else []
    names_time = len(above) > moment[-1] + 1 and any(
        words.search(above[i]) for i in moment for words in (_MOMENT, _DATE, _TIME)
    )
    return above if names_time else []


def _temperatures(
    headings: Sequence[str], data: Sequence[Sequence[str]], moment: tuple[int, ...]
) -> tuple[dict[str, int], int | None, int | None, tuple[str, ...]]:
    """Probes by column; or the columns of a probe's name and its temperature; and what is left."""
    rest = [i for i in range(max(map(len, data))) if i not in moment]
    named = next((i for i in rest if _PROBE.match(cell_of(headings, i))), None)
    if named is not None:
        temp = next((i for i in rest if i != named and _is_temperature(headings, i)), None)
        if temp is None:
            raise TableProblem("There is a column of probes, and none of their temperature.")
        return {}, named, temp, ()
    filled = [i for i in rest if any(_NUMBER.fullmatch(cell_of(cells, i)) for cells in data)]
    cores = [i for i in filled if _CORE.search(cell_of(headings, i))]
    wanted = cores or [i for i in filled if not _OTHER.search(cell_of(headings, i))]
    if not wanted:
        raise TableProblem("No column of core temperatures was found: head each with its probe.")
    if len(wanted) > MOST_PROBES:
        raise TableProblem(f"That is more than {MOST_PROBES} probes: send the log in parts.")
    left_out = tuple(cell_of(headings, i) for i in rest if i not in wanted and cell_of(headings, i))
    return _named(headings, wanted), None, None, left_out


def _is_temperature(headings: Sequence[str], index: int) -> bool:
    return bool(_TEMPERATURE.search(cell_of(headings, index)))


def _named(headings: Sequence[str], columns: Sequence[int]) -> dict[str, int]:
    """Each probe by its heading without the unit, or by its number; no two alike."""
    found: dict[str, int] = {}
    for number, index in enumerate(columns, 1):
        name = re.sub(r"[(\[].*?[)\]]|°\s*[CF]\b|℃|℉", "", cell_of(headings, index)).strip(" ,_")
        name = name[:LONGEST_PROBE] or f"Probe {number}"
        found[name if name not in found else f"{name[:20]} {number}"] = index
    return found


def _is_fahrenheit(heading: str, otherwise: bool) -> bool:
    if _FAHRENHEIT.search(heading):
        return True
    return False if _CELSIUS.search(heading) else otherwise


def _day_order(texts: Sequence[str], said: DayOrder | None) -> DayOrder:
    """How the dates are written, from all of them together; see air_table.py."""
    days = {text.partition(" ")[0]: text for text in texts}
    fits = {order: sum(order in date_orders_possible(day) for day in days) for order in DayOrder}
    if fits[DayOrder.DAY_FIRST] != fits[DayOrder.MONTH_FIRST]:
        return max(fits, key=lambda order: fits[order])
    doubtful = next((text for text in days.values() if reads_two_ways(text)), None)
    if said is not None or doubtful is None:
        return said or DayOrder.DAY_FIRST
    raise DayOrderUnclear(
        f"“{doubtful}” could be read two ways: say below whether day or month comes first."
    )


def _parted_by(text: str) -> str:
    return parting_of(text.splitlines(), 2)


def _lines(text: str, parted_by: str) -> Iterator[tuple[int, list[str]]]:
    """(line number from 1, cells) of every line."""
    for line, raw in enumerate(io.StringIO(text, newline=None), 1):
        yield line, split(raw.rstrip("\n"), parted_by)


def _moment(cells: Sequence[str], moment: tuple[int, ...]) -> str:
    return " ".join(cell_of(cells, index) for index in moment).strip()
