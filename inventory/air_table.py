"""Finding out how a table of air is laid out, as people paste it or a logger writes it.

`guess` says what it could make out: what parts the columns, which holds what, units, the time zone,
how dates are written; a person may put any of it right. `understand` is for tables nobody looks at
first: it refuses what it cannot read whole. air_reading.py then reads the lines.
"""

import csv
import io
import re
import statistics
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, field, replace
from itertools import islice
from typing import Any

from inventory.air_moments import DayOrder, Moments, date_orders_possible
from inventory.models import AirGiven

LINES_LOOKED_AT = 60
HEAD_LINES = 400
SPACES = " "
_PARTED_BY = ("\t", ";", "|", ",")
_AM_PM = re.compile(r"(\d)\s+([ap])\.?m\b\.?", re.IGNORECASE)
_NUMBER = re.compile(r"[-+−]?(?:\d+(?:[.,]\d*)?|[.,]\d+)")

Line = tuple[int, list[str]]
Lines = Callable[[], Iterator[str]]

# What a heading calls a column; the first that fits, so the particular stands before the general.
_HEADINGS: tuple[tuple[str, re.Pattern[str]], ...] = (
    ("wet_bulb", re.compile(r"wet")),
    ("dew_point", re.compile(r"dew|\bdp\b")),
    ("rh", re.compile(r"\br\.?\s?h\b|\brhum|humid|\bhum\b|feucht|^\s*%\s*$")),
    ("temp", re.compile(r"temp|dry\W?bulb|celsius|fahrenheit|^\s*(?:air|t)\b|^\W*°?[cf]\W*$")),
    ("moment", re.compile(r"date.*time|time.*date|timestamp|datetime|moment|when|logged|recorded")),
    ("date", re.compile(r"\bdate|\bday\b|datum")),
    ("time", re.compile(r"\btime|\bhour|clock|uhrzeit|zeit")),
)
_FAHRENHEIT = re.compile(r"°\s*f\b|\bdeg\s*f\b|fahrenheit|[(\[\s,]f[)\]]?\s*$|^f$|℉")
_CELSIUS = re.compile(r"°\s*c\b|\bdeg\s*c\b|celsius|[(\[\s,]c[)\]]?\s*$|^c$|℃")
_OFFSET = re.compile(r"\b(?:gmt|utc)\s*(?:([+-−])\s?(\d{1,2})(?::?(\d{2}))?)?\b")
GIVEN = {"rh": AirGiven.RH, "wet_bulb": AirGiven.WET_BULB, "dew_point": AirGiven.DEW_POINT}
COLUMN_WORDS = {"rh": "humidity", "wet_bulb": "wet bulb", "dew_point": "dew point"}
IN_DEGREES = ("temp", "wet_bulb", "dew_point")


class TableProblem(ValueError):
    """The table as a whole could not be read. Its text is a sentence for the screen."""


class DayOrderUnclear(TableProblem):
    """Dates such as 03/04/2026 that could be read two ways; the person must say which."""


@dataclass(frozen=True)
class LineProblem:
    """One line that could not be taken, with the reason in a sentence."""

    line: int
    text: str
    reason: str


@dataclass(frozen=True)
class TakenTable:
    """What became of a pasted table: rows added, on record already (with the same numbers, with
    others), lines that could not be taken, how the table was read, its headings.
    """

    added: int
    known: int
    differing: int
    problems: tuple[LineProblem, ...]
    read_as: str
    heading: str

    @property
    def to_mend(self) -> str:
        """The lines that could not be taken, under their headings, to be put right and sent."""
        lines = [self.heading, *(problem.text for problem in self.problems)]
        return "\n".join(line for line in lines if line)


@dataclass(frozen=True)
class Layout:
    """How a table is laid out: `columns` by what they hold, `first` the first line of data,
    `heading` the line above it as written ("" where the data begin). `fahrenheit` is by column.
    `day_order` is None while dates could be read two ways. `zone` is "" for the yard's own clock,
    an offset such as "-05:00", or a zone's name; a time that bears its own offset keeps it.
    `order_said` is set where a person chose the order of the dates.
    """

    parted_by: str
    columns: dict[str, int]
    first: int
    fahrenheit: dict[str, bool] = field(default_factory=dict)
    day_order: DayOrder | None = None
    heading: str = ""
    zone: str = ""
    order_said: bool = False

    @property
    def humidity(self) -> str:
        """The column humidity is read from: RH where there is one."""
        return next(name for name in GIVEN if name in self.columns)

    @property
    def in_words(self) -> str:
        """What was understood, for the person to check."""
        degrees = "°F" if self.fahrenheit["temp"] else "°C"
        return f"Read as temperature in {degrees} with {COLUMN_WORDS[self.humidity]}."

    @property
    def lacks(self) -> str:
        """A sentence saying which column is still to be named; "" when none is."""
        if "moment" not in self.columns and "date" not in self.columns:
            return "Say which column holds the date and time."
        if "temp" not in self.columns:
            return "Say which column holds the temperature."
        if not set(self.columns) & set(GIVEN):
            return "Say which column holds the humidity (or wet bulb, or dew point)."
        return ""

    @property
    def headings(self) -> list[str]:
        return split(self.heading, self.parted_by) if self.heading else []

    def as_json(self) -> dict[str, Any]:
        return asdict(self)

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> "Layout":
        order = stored["day_order"]
        return cls(**{**stored, "day_order": DayOrder(order) if order else None})


@dataclass(frozen=True)
class Table:
    """The beginning of a table, parted into cells, and how it seems to be laid out."""

    layout: Layout
    head: tuple[Line, ...]
    lines: int
    doubtful_date: str = ""

    @property
    def data(self) -> list[list[str]]:
        return [row for line, row in self.head if line >= self.layout.first and any(row)]


def lines_of(text: str) -> Lines:
    """The lines of a text, each time anew."""
    return lambda: iter(io.StringIO(text, newline=None))


def understand(text: str, *, fahrenheit: bool, day_order: DayOrder | None = None) -> Layout:
    """How the table is laid out, whole; `fahrenheit` is for temperatures that bear no unit.

    Raises:
        TableProblem, DayOrderUnclear: with a sentence.
    """
    if not text.strip():
        raise TableProblem("There is nothing to read: paste the table, or choose a file.")
    table = guess(lines_of(text), fahrenheit=fahrenheit)
    if table.layout.lacks:
        raise TableProblem(
            "The columns could not be told apart. Give three, with headings: "
            "time, temperature, and humidity (or wet bulb, or dew point)."
        )
    if not table.data:
        raise TableProblem("There are headings, and no lines of air under them.")
    order = table.layout.day_order or day_order
    if order is None:
        raise DayOrderUnclear(
            f"“{table.doubtful_date}” could be read two ways: "
            "say below whether day or month comes first."
        )
    return replace(table.layout, day_order=order)


def guess(lines: Lines, *, fahrenheit: bool, parted_by: str = "") -> Table:
    """What could be made out of a table; columns nobody could name are left out of the layout.

    `parted_by` is what parts the columns where a person has said so.
    """
    parted_by = parted_by or parting_of(list(islice(lines(), HEAD_LINES)), 3)
    head = head_of(lines, parted_by)
    columns, start = _columns(head)
    columns = _without_spare(columns)
    headings, start = _headings(head, start)
    rows = [row for _, row in head[start:] if any(row)]
    units = {
        name: _is_fahrenheit(name, columns, headings, rows, fahrenheit)
        for name in IN_DEGREES
        if name in columns
    }
    first = head[start][0] if start < len(head) else len(head) + 1
    layout = Layout(
        parted_by, columns, first, units, None, parted_by.join(map(_quoted(parted_by), headings)),
        _zone_said(headings),
    )  # fmt: skip
    return date_orders_seen(lines, layout, head)


def head_of(lines: Lines, parted_by: str) -> tuple[Line, ...]:
    """The first lines of a table, each with its number and cells."""
    return tuple((n, split(raw, parted_by)) for n, raw in enumerate(islice(lines(), HEAD_LINES), 1))


def _without_spare(columns: dict[str, int]) -> dict[str, int]:
    """One column for the moment and one for the humidity, where several say the same."""
    spare = {"date", "time"} if "moment" in columns else set()
    humidities = [name for name in GIVEN if name in columns]
    spare |= set(humidities[1:])
    return {name: index for name, index in columns.items() if name not in spare}


def date_orders_seen(lines: Lines, layout: Layout, head: tuple[Line, ...]) -> Table:
    """The table with the order of its dates, from all of them; one pass over the file."""
    dates, count = _dates(lines, layout)
    order, doubtful = _day_order(dates)
    order = order or _order_said(layout)
    return Table(replace(layout, day_order=order), head, count, doubtful)


def split(raw: str, parted_by: str) -> list[str]:
    """The cells of a line; a spreadsheet's quotes are taken off."""
    if not raw.isascii() or "\0" in raw:
        raw = raw.replace("\ufeff", "").replace("\N{NO-BREAK SPACE}", " ").replace("\0", "")
    if parted_by == SPACES:
        return _AM_PM.sub(r"\1\2m", raw).split()
    if '"' not in raw:
        return [cell.strip() for cell in raw.split(parted_by)]
    clean = raw.rstrip("\r\n")
    return [cell.strip() for cell in next(csv.reader([clean], delimiter=parted_by), [])]


def as_written(cells: Sequence[str], parted_by: str) -> str:
    """The line again, near enough to mend it and send it back."""
    return parted_by.join(map(_quoted(parted_by), cells)).strip()


def _quoted(parted_by: str) -> Callable[[str], str]:
    return lambda cell: f'"{cell}"' if parted_by in cell else cell


def cell_of(cells: Sequence[str], index: int) -> str:
    return cells[index] if index < len(cells) else ""


def moment_text(cells: Sequence[str], columns: dict[str, int]) -> str:
    """Date and time as written, from one column or two."""
    if "moment" in columns:
        return cell_of(cells, columns["moment"])
    date_text = cell_of(cells, columns["date"])
    time_text = cell_of(cells, columns["time"]) if "time" in columns else ""
    return f"{date_text} {time_text}".strip()


def number(text: str, words: str) -> float:
    """The number in a cell that holds one, with or without its unit; decimal comma or point.

    Raises:
        ValueError: with a sentence.
    """
    if not text:
        raise ValueError(f"No {words} is given.")
    found = _NUMBER.match(text)
    rest = text[found.end() :].strip().lower() if found else text
    if found is None or (rest and not re.fullmatch(r"%(?:\s*rh)?|rh|°?\s*[cf]|℃|℉", rest)):
        raise ValueError(f"“{text[:40]}” is not a {words}.")
    return float(found.group().replace(",", ".").replace("−", "-"))


def unit_said(text: str) -> bool | None:
    """Whether a heading or a cell says °F (True) or °C (False); None when it says neither."""
    low = text.lower().replace("_", " ")
    if _FAHRENHEIT.search(low):
        return True
    return False if _CELSIUS.search(low) else None


def parting_of(head: Sequence[str], least: int) -> str:
    """The mark most lines are parted by into as many cells, `least` at least; else spaces.

    The later half is looked at: a logger writes other things above its table. The comma is tried
    last: between a semicolon's cells it is a decimal comma.
    """
    filled = [line for line in head if line.strip()]
    later = filled[len(filled) // 2 :][:LINES_LOOKED_AT]
    for mark in _PARTED_BY:
        counts = [len(split(line, mark)) for line in later]
        usual = statistics.mode(counts) if counts else 0
        if usual >= least and counts.count(usual) >= 0.5 * len(counts):
            return mark
    return SPACES


def _columns(head: Sequence[Line]) -> tuple[dict[str, int], int]:
    """Columns by what they hold, and the index of the first line of data.

    By headings where there are some, below whatever a logger writes above them; else in the
    order moment, temperature, humidity; else what the likeliest headings tell.
    """
    some: tuple[dict[str, int], int] = ({}, _widest(head))
    for index, (_, row) in enumerate(head[:LINES_LOOKED_AT]):
        named = _by_headings(row)
        if _is_whole(named):
            return named, index + 1
        if len(named) > len(some[0]):
            some = named, index + 1
    for index, (_, row) in enumerate(head[:LINES_LOOKED_AT]):
        ordered = _by_order(row)
        if ordered:
            return ordered, index
    return some


def _widest(head: Sequence[Line]) -> int:
    """Where a table nobody understands seems to begin: its first line of the usual width."""
    widths = [len(row) for _, row in head[len(head) // 2 :] if any(row)]
    usual = statistics.mode(widths) if widths else 0
    return next((i for i, (_, row) in enumerate(head) if len(row) == usual), 0)


def _headings(head: Sequence[Line], start: int) -> tuple[list[str], int]:
    """The headings, with the line of units beneath them if there is one, and where data begin."""
    if start == 0 or start > len(head):
        return [], start
    headings = head[start - 1][1]
    below = head[start][1] if start < len(head) else []
    if _is_units(below):
        headings = [f"{a} {cell_of(below, i)}".strip() for i, a in enumerate(headings)]
        start += 1
    return headings, start


def _is_units(row: Sequence[str]) -> bool:
    if any(character.isdigit() for cell in row for character in cell):
        return False
    return any(unit_said(cell) is not None or cell == "%" for cell in row if len(cell) < 12)


def _by_headings(row: Sequence[str]) -> dict[str, int]:
    found: dict[str, int] = {}
    for index, heading in enumerate(row):
        plain = heading.lower().replace("_", " ")
        name = next((n for n, words in _HEADINGS if words.search(plain)), None)
        if name and name not in found:
            found[name] = index
    if "time" in found and "date" not in found and "moment" not in found:
        found["moment"] = found.pop("time")
    return found


def _is_whole(found: dict[str, int]) -> bool:
    has_moment = "moment" in found or "date" in found
    return has_moment and "temp" in found and bool(set(found) & set(GIVEN))


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
        number(cell_of(row, columns["temp"]), "temperature")
        number(cell_of(row, columns["rh"]), "humidity")
    except ValueError:
        return False
    return bool(date_orders_possible(moment_text(row, columns)))


def _is_fahrenheit(
    name: str,
    columns: dict[str, int],
    headings: Sequence[str],
    data: Sequence[Sequence[str]],
    otherwise: bool,
) -> bool:
    said = unit_said(cell_of(headings, columns[name]))
    if said is None and data:
        said = unit_said(re.sub(r"^[-+−\d.,\s]+", " ", cell_of(data[0], columns[name])))
    return otherwise if said is None else said


def _zone_said(headings: Sequence[str]) -> str:
    """The offset a heading bears, such as `Date Time, GMT-05:00`; "" where none does."""
    for heading in headings:
        found = _OFFSET.search(heading.lower())
        if found:
            sign = "-" if found[1] in ("-", "−") else "+"
            return f"{sign}{int(found[2] or 0):02}:{int(found[3] or 0):02}"
    return ""


def _dates(lines: Lines, layout: Layout) -> tuple[list[str], int]:
    """Each date the table writes, once, and how many lines it has."""
    column = layout.columns.get("moment", layout.columns.get("date"))
    seen: set[str] = set()
    count = 0
    for count, raw in enumerate(lines(), 1):
        if count >= layout.first and column is not None:
            cells = split(raw, layout.parted_by)
            text = cells[column] if column < len(cells) else ""
            if not text[:4].isdigit():  # where the year comes first, the order is plain
                seen.add(text.partition(" ")[0])
    return sorted(seen), count


def _day_order(dates: Sequence[str]) -> tuple[DayOrder | None, str]:
    """How the dates are written, from all of them together; None, with one of them, when both
    orders fit and it matters.
    """
    possible = [date_orders_possible(text) for text in dates]
    fits = {order: sum(order in orders for orders in possible) for order in DayOrder}
    if fits[DayOrder.DAY_FIRST] != fits[DayOrder.MONTH_FIRST]:
        return max(fits, key=lambda order: fits[order]), ""
    doubtful = next((text for text in dates if reads_two_ways(text)), "")
    return (None, doubtful) if doubtful else (DayOrder.DAY_FIRST, "")


def _order_said(layout: Layout) -> DayOrder | None:
    """The order a heading names, such as `Date (MM/DD/YYYY)`."""
    heading = layout.heading.lower()
    month = re.search(r"\bmm?[/.-]dd?[/.-]yy", heading)
    day = re.search(r"\b(?:dd?|tt)[/.-]mm?[/.-](?:yy|jj)", heading)
    if bool(month) == bool(day):
        return None
    return DayOrder.MONTH_FIRST if month else DayOrder.DAY_FIRST


def reads_two_ways(text: str) -> bool:
    if len(date_orders_possible(text)) < 2:
        return False
    day, month = (Moments(order).read(text) for order in DayOrder)
    return day != month
