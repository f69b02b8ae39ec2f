"""The sheet *Assumptions*: what a reader may change, and in words what the figures mean."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.conf import settings

from inventory import worth
from inventory.spreadsheet.cells import (
    DATE_FORMAT,
    INDENTED,
    Column,
    Kind,
    Sheet,
    Value,
    as_text,
    assumption_cell,
    make_cell,
    money_format,
    set_up,
    write_header,
)
from inventory.wood import measure
from inventory.worth import LONG_YEARS, Scope

_COLUMNS = (Column("Assumption", 52), Column("Value", 18, Kind.NUMBER), Column("What it does", 96))


@dataclass(frozen=True)
class Assumption:
    """One line; `name` is what formulas call it. A reader changes only those that `may_change`."""

    label: str
    name: str
    value: Value
    number_format: str
    meaning: str
    may_change: bool = True


_FOLLOWING = (
    Assumption(
        "Long in stock: received by",
        "long_before",
        "=EDATE(as_of,-12*long_years)",
        DATE_FORMAT,
        "Follows from the day and the years above.",
        may_change=False,
    ),
    Assumption(
        "Share kept after selling, in ten-thousandths",
        "kept_share",
        "=10000-ROUND(selling_cost*10000,0)",
        "0",
        "Follows from the cost of selling. Whole, so that cents round alike everywhere.",
        may_change=False,
    ),
)


def assumptions(scope: Scope) -> list[Assumption]:
    """What a reader may change, then what follows from it."""
    return [*_chosen(scope), *_FOLLOWING]


def _chosen(scope: Scope) -> list[Assumption]:
    return [
        Assumption(
            "As of",
            "as_of",
            scope.on,
            DATE_FORMAT,
            "Days in stock are counted to this day. Write =TODAY() to let it follow the calendar.",
        ),
        Assumption(
            "Cost of selling",
            "selling_cost",
            float(scope.selling_cost_pct) / 100,
            "0.00%",
            "Taken off the asking price: the rest is what a slab would fetch.",
        ),
        Assumption(
            "Asking price of a board foot, where a slab has none",
            "ask_per_board_foot",
            0,
            money_format(),
            "Nothing here leaves a slab without an asking price at its cost.",
        ),
        Assumption(
            "Years that are long in stock",
            "long_years",
            LONG_YEARS,
            "0",
            "Slabs received so many years before the day above, or earlier, count as long.",
        ),
    ]


def notes(scope: Scope, system: str) -> Iterator[tuple[str, str]]:
    """(subject, sentence) pairs that explain the sheets."""
    sizes = "millimetres" if system == measure.METRIC else "inches"
    yield "Currency", f"All money is in {settings.CURRENCY}."
    yield "Units", f"Lengths are in {sizes}. A board foot is 144 cubic inches; 423.776 make 1 m³."
    yield "Slabs counted", f"{worth.scope_words(scope)}."
    yield "Landed cost", "The slab's share of its parcel's bills, and its own cost if it has one."
    yield (
        "Worth",
        "The lower of cost and what the slab would fetch, slab by slab (IAS 2, ¶ 9 and 29).",
    )
    yield (
        "Numbers of species and place",
        "The last two columns of Slabs carry them, so that no sum hangs on a name's spelling.",
    )
    yield "Live figures", "Formulas are computed when a spreadsheet program opens the file."
    yield "Previews", "A preview that does not compute shows the cells with formulas empty."


def write(sheet: Sheet, scope: Scope, system: str) -> None:
    set_up(sheet, _COLUMNS)
    write_header(sheet, _COLUMNS)
    for line in assumptions(scope):
        made = assumption_cell if line.may_change else make_cell
        value = made(sheet, line.number_format, value=line.value)
        sheet.append([_words(sheet, line.label), value, _words(sheet, line.meaning)])
    sheet.append([])
    for subject, sentence in notes(scope, system):
        sheet.append([_words(sheet, subject), None, _words(sheet, sentence)])


def named_cells(scope: Scope) -> Iterator[tuple[str, str]]:
    """(name, reference) of each assumption."""
    for row, line in enumerate(assumptions(scope), 2):
        yield line.name, f"Assumptions!$B${row}"


def _words(sheet: Sheet, sentence: str) -> object:
    return as_text(make_cell(sheet, align=INDENTED), sentence)
