"""Reading a table of air as people paste it or a logger writes it; no database.

`understand` finds out how the table is laid out: what parts the columns, which holds what, units,
how dates are written. `rows_of` then reads it line by line; a line that cannot be read is told
with its number and the reason, and the others stand.
"""

import csv
import io
import re
import statistics
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from inventory.air_moments import DayOrder, Moments, date_orders_possible
from inventory.models import AirGiven

LINES_LOOKED_AT = 60
SPACES = " "
_PARTED_BY = ("\t", ";", "|", ",")
_AM_PM = re.compile(r"(\d)\s+([ap])\.?m\b\.?", re.IGNORECASE)
_NUMBER = re.compile(r"[-+−]?(?:\d+(?:[.,]\d*)?|[.,]\d+)")

# What a heading calls a column; the first that fits, so the particular stands before the general.
_HEADINGS: tuple[tuple[str, re.Pattern[str]], ...] = (
    ("wet_bulb", re.compile(r"wet")),
    ("dew_point", re.compile(r"dew|\bdp\b")),
    ("rh", re.compile(r"\br\.?\s?h\b|humid|\bhum\b|feucht|^\s*%\s*$")),
    ("temp", re.compile(r"temp|dry\s?bulb|celsius|fahrenheit|^\s*(?:air|t)\b|^\W*°?[cf]\W*$")),
    ("moment", re.compile(r"date.*time|time.*date|timestamp|datetime|moment|when|logged|recorded")),
    ("date", re.compile(r"\bdate|\bday\b|datum")),
    ("time", re.compile(r"\btime|\bhour|clock|uhrzeit|zeit")),
)
_FAHRENHEIT = re.compile(r"°\s*f\b|\bdeg\s*f\b|fahrenheit|[(\[\s,]f[)\]]?\s*$|^f$|℉")
_CELSIUS = re.compile(r"°\s*c\b|\bdeg\s*c\b|celsius|[(\[\s,]c[)\]]?\s*$|^c$|℃")
_GIVEN = {"rh": AirGiven.RH, "wet_bulb": AirGiven.WET_BULB, "dew_point": AirGiven.DEW_POINT}
_COLUMN_WORDS = {"rh": "humidity", "wet_bulb": "wet bulb", "dew_point": "dew point"}


class TableProblem(ValueError):
    """The table as a whole could not be read. Its text is a sentence for the screen."""


class DayOrderUnclear(TableProblem):
    """Dates such as 03/04/2026 that could be read two ways; the person must say which."""


@dataclass(frozen=True)
class Layout:
    """How a table is laid out: `columns` by what they hold, `first` the first line of
    data, `heading` the line above it as written ("" where the data begin).
    """

    parted_by: str
    columns: dict[str, int]
    first: int
    fahrenheit: dict[str, bool]
    day_order: DayOrder
    heading: str = ""

    @property
    def humidity(self) -> str:
        """The column humidity is read from: RH where there is one."""
        return next(name for name in _GIVEN if name in self.columns)

    @property
    def in_words(self) -> str:
        """What was understood, for the person to check."""
        degrees = "°F" if self.fahrenheit["temp"] else "°C"
        return f"Read as temperature in {degrees} with {_COLUMN_WORDS[self.humidity]}."


@dataclass(frozen=True)
class AirRow:
    """One line as read: a local or aware moment, °C, and % RH or °C of wet bulb or dew point."""

    line: int
    text: str
    at: datetime
    temp_c: float
    given: AirGiven
    value: float


@dataclass(frozen=True)
class LineProblem:
    """One line that could not be taken, with the reason in a sentence."""

    line: int
    text: str
    reason: str


@dataclass
class Reading:
    """What a table gave: rows and problems, in the order of its lines."""

    layout: Layout
    rows: list[AirRow] = field(default_factory=list)
    problems: list[LineProblem] = field(default_factory=list)


def read_table(text: str, *, fahrenheit: bool, day_order: DayOrder | None = None) -> Reading:
    """The whole table; `fahrenheit` is for temperatures that bear no unit.

    Raises:
        TableProblem, DayOrderUnclear: with a sentence.
    """
    reading = Reading(understand(text, fahrenheit=fahrenheit, day_order=day_order))
    for item in rows_of(text, reading.layout):
        if isinstance(item, AirRow):
            reading.rows.append(item)
        else:
            reading.problems.append(item)
    return reading


def understand(text: str, *, fahrenheit: bool, day_order: DayOrder | None = None) -> Layout:
    """How the table is laid out.

    Raises:
        TableProblem, DayOrderUnclear: with a sentence.
    """
    if not text.strip():
        raise TableProblem("There is nothing to read: paste the table, or choose a file.")
    parted_by = _parted_by(text)
    cells = list(_cells(text, parted_by))
    columns, first = _columns(cells)
    headings = cells[first - 1][1] if first else []
    data = [row for _, row in cells[first:] if any(row)]
    if not data:
        raise TableProblem("There are headings, and no lines of air under them.")
    units: dict[str, bool] = {
        name: _is_fahrenheit(name, columns, headings, data, fahrenheit)
        for name in ("temp", "wet_bulb", "dew_point")
        if name in columns
    }
    first_line = cells[first][0]
    order = _day_order(columns, data, day_order)
    return Layout(parted_by, columns, first_line, units, order, parted_by.join(headings))


def rows_of(text: str, layout: Layout) -> Iterator[AirRow | LineProblem]:
    """Every line of data, read or with what is wrong."""
    moments = Moments(layout.day_order)
    for line, cells in _cells(text, layout.parted_by):
        if line < layout.first or not any(cells):
            continue
        try:
            yield _row(line, cells, layout, moments)
        except ValueError as problem:
            yield LineProblem(line, _as_written(cells, layout), str(problem))


def _as_written(cells: Sequence[str], layout: Layout) -> str:
    """The line again, near enough to mend it and send it back."""
    marks = layout.parted_by
    return marks.join(f'"{cell}"' if marks in cell else cell for cell in cells).strip()


def _row(line: int, cells: Sequence[str], layout: Layout, moments: Moments) -> AirRow:
    at = moments.read(_moment_text(cells, layout.columns))
    humidity = layout.humidity
    temp_c = _degrees_c(cells, layout, "temp", "temperature")
    if humidity == "rh":
        value = _number(_cell(cells, layout.columns["rh"]), "humidity")
    else:
        value = _degrees_c(cells, layout, humidity, _COLUMN_WORDS[humidity])
    return AirRow(line, _as_written(cells, layout), at, temp_c, _GIVEN[humidity], value)


def _degrees_c(cells: Sequence[str], layout: Layout, name: str, words: str) -> float:
    text = _cell(cells, layout.columns[name])
    degrees = _number(text, words)
    is_fahrenheit = _unit_said(text)
    if is_fahrenheit is None:
        is_fahrenheit = layout.fahrenheit[name]
    return (degrees - 32.0) / 1.8 if is_fahrenheit else degrees


def _number(text: str, words: str) -> float:
    """The number in a cell that holds one, with or without its unit; decimal comma or point."""
    if not text:
        raise ValueError(f"No {words} is given.")
    found = _NUMBER.match(text)
    rest = text[found.end() :].strip().lower() if found else text
    if found is None or (rest and not re.fullmatch(r"%(?:\s*rh)?|rh|°?\s*[cf]|℃|℉", rest)):
        raise ValueError(f"“{text[:40]}” is not a {words}.")
    return float(found.group().replace(",", ".").replace("−", "-"))


def _cells(text: str, parted_by: str) -> Iterator[tuple[int, list[str]]]:
    """(line number from 1, cells) of every line; a spreadsheet's quotes are taken off."""
    for line, raw in enumerate(io.StringIO(text, newline=None), 1):
        yield line, _split(raw.rstrip("\n"), parted_by)


def _split(raw: str, parted_by: str) -> list[str]:
    clean = raw.replace("\ufeff", "").replace("\N{NO-BREAK SPACE}", " ").replace("\0", "")
    if parted_by == SPACES:
        return _AM_PM.sub(r"\1\2m", clean).split()
    if '"' not in clean:
        return [cell.strip() for cell in clean.split(parted_by)]
    return [cell.strip() for cell in next(csv.reader([clean], delimiter=parted_by), [])]


def _cell(cells: Sequence[str], index: int) -> str:
    return cells[index] if index < len(cells) else ""


def _parted_by(text: str) -> str:
    """The mark most lines are parted by into as many cells; spaces where no mark does.

    The later half is looked at: a logger writes other things above its table. The comma is tried
    last: between a semicolon's cells it is a decimal comma.
    """
    lines = [line for line in text.splitlines() if line.strip()]
    later = lines[len(lines) // 2 :][:LINES_LOOKED_AT]
    for mark in _PARTED_BY:
        counts = [len(_split(line, mark)) for line in later]
        usual = statistics.mode(counts)
        if usual >= 3 and counts.count(usual) >= 0.5 * len(counts):
            return mark
    return SPACES


def _columns(cells: Sequence[tuple[int, Sequence[str]]]) -> tuple[dict[str, int], int]:
    """Columns by what they hold, and the index of the first line of data.

    By headings where there are some, below whatever a logger writes above them; else in the
    order moment, temperature, humidity.
    """
    for index, (_, row) in enumerate(cells[:LINES_LOOKED_AT]):
        named = _by_headings(row)
        if named:
            return named, index + 1
    for index, (_, row) in enumerate(cells[:LINES_LOOKED_AT]):
        ordered = _by_order(row)
        if ordered:
            return ordered, index
    raise TableProblem(
        "The columns could not be told apart. Give three, with headings: "
        "time, temperature, and humidity (or wet bulb, or dew point)."
    )


def _by_headings(row: Sequence[str]) -> dict[str, int] | None:
    found: dict[str, int] = {}
    for index, heading in enumerate(row):
        plain = heading.lower().replace("_", " ")
        name = next((n for n, words in _HEADINGS if words.search(plain)), None)
        if name and name not in found:
            found[name] = index
    if "time" in found and "date" not in found and "moment" not in found:
        found["moment"] = found.pop("time")
    has_moment = "moment" in found or "date" in found
    return found if has_moment and "temp" in found and set(found) & set(_GIVEN) else None


def _by_order(row: Sequence[str]) -> dict[str, int] | None:
    """Moment, temperature, humidity; the moment in one cell or in two."""
    filled = [cell for cell in row if cell]
    for names in (("moment", "temp", "rh"), ("date", "time", "temp", "rh")):
        columns = {name: index for index, name in enumerate(names)}
        if len(filled) >= len(names) and _is_data(row, columns):
            return columns
    return None


def _is_data(row: Sequence[str], columns: dict[str, int]) -> bool:
    try:
        _number(_cell(row, columns["temp"]), "temperature")
        _number(_cell(row, columns["rh"]), "humidity")
    except ValueError:
        return False
    return bool(date_orders_possible(_moment_text(row, columns)))


def _moment_text(cells: Sequence[str], columns: dict[str, int]) -> str:
    if "moment" in columns:
        return _cell(cells, columns["moment"])
    date_text = _cell(cells, columns["date"])
    time_text = _cell(cells, columns["time"]) if "time" in columns else ""
    return f"{date_text} {time_text}".strip()


def _unit_said(text: str) -> bool | None:
    """Whether a heading or a cell says °F (True) or °C (False); None when it says neither."""
    low = text.lower().replace("_", " ")
    if _FAHRENHEIT.search(low):
        return True
    return False if _CELSIUS.search(low) else None


def _is_fahrenheit(
    name: str,
    columns: dict[str, int],
    headings: Sequence[str],
    data: Sequence[Sequence[str]],
    otherwise: bool,
) -> bool:
    said = _unit_said(_cell(headings, columns[name]))
    if said is None:
        said = _unit_said(re.sub(r"^[-+−\d.,\s]+", " ", _cell(data[0], columns[name])))
    return otherwise if said is None else said


def _day_order(
    columns: dict[str, int], data: Sequence[Sequence[str]], said: DayOrder | None
) -> DayOrder:
    """How the dates are written, from all of them together.

    Raises:
        DayOrderUnclear: both orders fit every date, and nobody has said which.
    """
    dates = sorted({_moment_text(row, columns).partition(" ")[0] for row in data})
    possible = [date_orders_possible(text) for text in dates]
    fits = {order: sum(order in orders for orders in possible) for order in DayOrder}
    if fits[DayOrder.DAY_FIRST] != fits[DayOrder.MONTH_FIRST]:
        return max(fits, key=lambda order: fits[order])
    if said is not None:
        return said
    doubtful = next((text for text in dates if _reads_two_ways(text)), None)
    if doubtful is None:
        return DayOrder.DAY_FIRST
    raise DayOrderUnclear(
        f"“{doubtful}” could be read two ways: say below whether day or month comes first."
    )


def _reads_two_ways(text: str) -> bool:
    moments = {order: Moments(order) for order in DayOrder}
    if len(date_orders_possible(text)) < 2:
        return False
    return moments[DayOrder.DAY_FIRST].read(text) != moments[DayOrder.MONTH_FIRST].read(text)
