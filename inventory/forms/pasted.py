"""A table pasted from a spreadsheet, as the rows of the page that receives a log's slabs.

The first line may name the columns (number, length, thickness, width …, price, note), in any order;
a unit in such a name, as in `Length (mm)`, goes to every bare number under it, and where no other
is named, to all sizes. Without names the columns are number, length, thickness, and then widths.
"""

import re
from collections.abc import Sequence

from django.http import QueryDict

from inventory.forms.log_receive import MOST_ROWS, RowForm, row_count

_NAMES = (
    ("number_in_log", re.compile(r"^(no|nr|num|number|slab|piece|#)\b|^#", re.I)),
    ("length_mm", re.compile(r"^(len|length|long)", re.I)),
    ("thickness_mm", re.compile(r"^(thick|thickness)", re.I)),
    ("widths", re.compile(r"^(w\d*\b|wid|width)", re.I)),
    ("asking_price", re.compile(r"^(ask|asking|price)", re.I)),
    ("house_note", re.compile(r"^(note|remark|comment)", re.I)),
)
_UNNAMED = ("number_in_log", "length_mm", "thickness_mm")
_UNIT = re.compile(r"[(\[,]\s*(mm|cm|m|in|inch|inches|ft|feet|\"|')\s*[)\]]?\s*$", re.I)
_BARE_NUMBER = re.compile(r"[\d.,]+(\s+\d+/\d+)?")
_SIZES = ("length_mm", "thickness_mm", "widths")


class PasteProblem(ValueError):
    """Why the pasted text is no table, in a sentence."""


def rows(text: str) -> list[dict[str, str]]:
    """Each line as typed text by field of RowForm; widths joined in their order.

    Raises:
        PasteProblem: nothing in it, or more lines than one page takes.
    """
    lines = [line for line in text.splitlines() if line.strip()]
    table = [_cells(line) for line in lines]
    names, units, table = _headed(table) if table else ([], [], [])
    if not table:
        raise PasteProblem("Paste the rows first: number, length, thickness, then the widths.")
    if len(table) > MOST_ROWS:
        raise PasteProblem(f"{len(table)} rows are too many at once: paste {MOST_ROWS} at most.")
    return [_row(cells, names, units) for cells in table]


def filled_in(data: QueryDict, pasted: Sequence[dict[str, str]]) -> QueryDict:
    """The page's own data with the pasted rows after those already written.

    Raises:
        PasteProblem: there is no room for so many.
    """
    full = data.copy()
    first = _first_free(data)
    if first + len(pasted) > MOST_ROWS:
        raise PasteProblem(f"A page takes {MOST_ROWS} rows: receive those above first.")
    for index, row in enumerate(pasted, first):
        full.pop(f"row-{index}-number_in_log", None)
        for name, value in row.items():
            full[f"row-{index}-{name}"] = value
    full["rows"] = str(max(first + len(pasted), row_count(data)))
    full["pasted"] = ""
    return full


def _cells(line: str) -> list[str]:
    parting = "\t" if "\t" in line else ";"
    return [cell.strip() for cell in line.split(parting)]


def _headed(table: list[list[str]]) -> tuple[list[str], list[str], list[list[str]]]:
    """Column names and units, and the rows that hold slabs."""
    longest = max(map(len, table))
    first = table[0]
    named = [_name(cell) for cell in first]
    if any(named) and not any(_BARE_NUMBER.fullmatch(cell) for cell in first):
        spare = longest - len(first)
        return [*named, *[""] * spare], [*_units(first), *[""] * spare], table[1:]
    unnamed = [*_UNNAMED, *["widths"] * longest][:longest]
    return unnamed, [""] * longest, table


def _units(headings: Sequence[str]) -> list[str]:
    """The unit of each column; one that is named alone goes for those that name none."""
    named = [match.group(1) if (match := _UNIT.search(cell)) else "" for cell in headings]
    different = {unit for unit in named if unit}
    only = different.pop() if len(different) == 1 else ""
    return [unit or only for unit in named]


def _name(heading: str) -> str:
    return next((name for name, pattern in _NAMES if pattern.search(heading)), "")


def _row(cells: Sequence[str], names: Sequence[str], units: Sequence[str]) -> dict[str, str]:
    row: dict[str, str] = {}
    widths = []
    for cell, name, unit in zip(cells, names, units, strict=False):
        if not cell or not name:
            continue
        value = f"{cell} {unit}" if unit and name in _SIZES and _is_bare(cell) else cell
        if name == "widths":
            widths.append(value)
        else:
            row[name] = value
    return {**row, "widths": "; ".join(widths)} if widths else row


def _is_bare(cell: str) -> bool:
    return bool(_BARE_NUMBER.fullmatch(cell))


def _first_free(data: QueryDict) -> int:
    """The row after the last in which anything but a number was written."""
    written = [
        index
        for index in range(row_count(data))
        if any(data.get(f"row-{index}-{name}", "").strip() for name in RowForm.slab_names)
    ]
    return max(written, default=-1) + 1
