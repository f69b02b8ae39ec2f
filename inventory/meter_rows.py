"""Reading a meter maker's table: lines of species, reading and corrected moisture content.

No database: names of species come in as a table. Every line is told what is wrong with it, and the
others stand; nothing is guessed.
"""

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from difflib import get_close_matches

MOST_LINES = 2000
MOST_PCT = 300.0
# No wood changes a reading by more; beyond it the point has slipped.
MOST_STEP_PCT = 12.0
ANY_SPECIES = ("", "any", "all", "any species", "all species", "*", "-", "–")

# In order of likelihood where several would do: a decimal comma parts nothing.
_PARTED_BY = (",", ";", "\t")
_NUMBER = re.compile(r"[-+−]?(?:\d+(?:[.,]\d*)?|[.,]\d+)")
_HEADINGS = (
    ("species", re.compile(r"species|wood|botanical|timber|\bname")),
    ("corrected", re.compile(r"correct|true|actual|moisture|\bmc\b|result")),
    ("reading", re.compile(r"read|meter|shown|raw|scale")),
)
_COLUMNS = ("species", "reading", "corrected")


class TableProblem(ValueError):
    """Why the text as a whole is no table, in a sentence."""


@dataclass(frozen=True)
class Row:
    """One line: as written, and what it says; `problem` is a sentence, or ""."""

    line: int
    written: str = ""
    name: str = ""
    species_pk: int | None = None
    reading_pct: float = 0.0
    corrected_pct: float = 0.0
    problem: str = ""

    @property
    def step_pct(self) -> float:
        return self.corrected_pct - self.reading_pct


@dataclass(frozen=True)
class Names:
    """Species by every name people call them, in lower case; None where a name means several."""

    by_name: Mapping[str, int | None] = field(default_factory=dict)

    def find(self, name: str) -> tuple[int | None, str]:
        """The species' key, and a sentence when there is none of that name or several."""
        plain = _plain(name)
        if plain not in self.by_name:
            near = get_close_matches(plain, self.by_name, n=1, cutoff=0.75)
            meant = f": did you mean {near[0]}?" if near else "."
            return None, f"No species here is called “{name}”{meant}"
        pk = self.by_name[plain]
        sentence = f"“{name}” is the name of more than one species: use the botanical name."
        return pk, "" if pk is not None else sentence


def names_of(species: Sequence[tuple[int, str, str, str, bool]]) -> Names:
    """From (key, common name, botanical name, other names, is published) of each species.

    Rows of one botanical name are one wood, under the key of the shop's own row where there is
    one. A by-name of several woods names none of them.
    """
    own_first = sorted(species, key=lambda one: one[4])
    wood: dict[str, int] = {}
    found: dict[str, int | None] = {}
    others: dict[str, int | None] = {}
    for key, common, botanical, by_names, _ in own_first:
        pk = wood.setdefault(_plain(botanical), key) if botanical.strip() else key
        for name in filter(None, map(_plain, (common, botanical))):
            found.setdefault(name, pk)
        for name in filter(None, map(_plain, re.split("[,;]", by_names))):
            others[name] = pk if others.get(name, pk) == pk else None
    return Names({**others, **found})


def read_rows(text: str, names: Names) -> list[Row]:
    """Every line below the heading, in its order, each with its problem if it has one.

    Raises:
        TableProblem: nothing in it, too many lines, or no columns that can be understood.
    """
    cells = _cells(text)
    columns, first = _columns(cells)
    lines = text.splitlines()
    rows = [
        replace(_row(line, found, columns, names), written=lines[line - 1][:200])
        for line, found in cells[first:]
    ]
    if not rows:
        raise TableProblem("There are headings, and no lines under them.")
    return list(_in_order(rows))


def curves(rows: Sequence[Row]) -> dict[str, list[tuple[float, float]]]:
    """The good rows as points (reading, corrected) by the first name of each species, in order."""
    called: dict[int | None, str] = {}
    found: dict[str, list[tuple[float, float]]] = {}
    for row in rows:
        if not row.problem:
            name = called.setdefault(row.species_pk, row.name)
            found.setdefault(name, []).append((row.reading_pct, row.corrected_pct))
    return {name: sorted(points) for name, points in found.items()}


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())


def _cells(text: str) -> list[tuple[int, list[str]]]:
    lines = [line for line in text.splitlines() if line.strip()]
    if not lines:
        raise TableProblem("There is nothing to read: paste the table, or choose a file.")
    if len(lines) > MOST_LINES:
        raise TableProblem(f"{len(lines)} lines are too many: a table has {MOST_LINES} at most.")
    parted_by = max(
        _PARTED_BY, key=lambda mark: (sum(mark in one for one in lines), _PARTED_BY.index(mark))
    )
    reader = csv.reader(io.StringIO("\n".join(text.splitlines())), delimiter=parted_by)
    numbered = [(reader.line_num, [cell.strip() for cell in row]) for row in reader]
    return [(line, row) for line, row in numbered if any(row)]


def _columns(cells: Sequence[tuple[int, list[str]]]) -> tuple[dict[str, int], int]:
    """Which column holds what, and how many lines are heading."""
    heading = cells[0][1]
    if any(_NUMBER.fullmatch(cell.removesuffix("%").strip()) for cell in heading):
        count = min(len(heading), 3)
        if count < 2:
            raise TableProblem("Each line takes a reading and a corrected value, in two columns.")
        return {name: at for at, name in enumerate(_COLUMNS[3 - count :])}, 0
    found: dict[str, int] = {}
    for at, cell in enumerate(heading):
        name = next((n for n, words in _HEADINGS if words.search(cell.casefold())), "")
        if name and name not in found:
            found[name] = at
    missing = [name for name in ("reading", "corrected") if name not in found]
    if missing:
        raise TableProblem(
            f"No column is headed {' or '.join(missing)}: name them species, reading, corrected."
        )
    return found, 1


def _row(line: int, cells: Sequence[str], columns: Mapping[str, int], names: Names) -> Row:
    cells = _mended(cells, columns)
    if len(cells) <= max(columns.values()):
        return Row(line, problem="A line takes a reading and a corrected value.")
    name = cells[columns["species"]] if "species" in columns else ""
    row = Row(line, name=name)
    try:
        row = replace(
            row,
            reading_pct=_number(cells[columns["reading"]], "reading"),
            corrected_pct=_number(cells[columns["corrected"]], "corrected value"),
        )
    except ValueError as problem:
        return replace(row, problem=str(problem))
    if _plain(name) in ANY_SPECIES:
        return _doubted(replace(row, name=""))
    species_pk, said = names.find(name)
    return replace(row, problem=said) if said else _doubted(replace(row, species_pk=species_pk))


def _mended(cells: Sequence[str], columns: Mapping[str, int]) -> Sequence[str]:
    """A name with a comma of its own (Oak, red) parted a line once too often: joined again."""
    at, extra = columns.get("species"), len(cells) - len(columns)
    is_comma = at is not None and extra == 1 and len(cells) == 4
    if at is None or not is_comma or not all(cells[at : at + 2]):
        return cells
    return [*cells[:at], f"{cells[at]}, {cells[at + 1]}", *cells[at + 2 :]]


def _number(text: str, what: str) -> float:
    plain = text.removesuffix("%").strip()
    if not _NUMBER.fullmatch(plain):
        raise ValueError(f"“{text}” is not a number: the {what} is missing.")
    value = float(plain.replace("−", "-").replace(",", "."))
    if not 0.0 <= value <= MOST_PCT:
        raise ValueError(f"A {what} lies between 0 and {MOST_PCT:.0f} %.")
    return value


def _doubted(row: Row) -> Row:
    if abs(row.step_pct) <= MOST_STEP_PCT:
        return row
    size = f"{abs(row.step_pct):.1f}"
    return replace(row, problem=f"A correction of {size} is more than any wood takes: look again.")


def _in_order(rows: Sequence[Row]) -> Iterator[Row]:
    """Each row beside the others of its species: no reading twice, none that turns back."""
    by_species: dict[int | None, list[Row]] = {}
    for row in rows:
        if not row.problem:
            by_species.setdefault(row.species_pk, []).append(row)
    for row in rows:
        others = by_species.get(row.species_pk, [])
        yield row if row.problem else replace(row, problem=_beside(row, others))


def _beside(row: Row, others: Sequence[Row]) -> str:
    twin = next((o for o in others if o.reading_pct == row.reading_pct and o.line < row.line), None)
    if twin is not None:
        return f"Line {twin.line} gives this reading already."
    below = [other for other in others if other.reading_pct < row.reading_pct]
    before = max(below, key=lambda other: other.reading_pct, default=None)
    if before is not None and before.corrected_pct >= row.corrected_pct:
        return (
            f"The moisture does not rise with the reading: line {before.line} gives "
            f"{before.corrected_pct:g} for {before.reading_pct:g}."
        )
    return "One reading makes no curve: give two or more." if len(others) < 2 else ""
