"""The sheet *Summary*: sums by species, place, condition and standing, in formulas over *Slabs*."""

from collections.abc import Sequence

from inventory.models import Condition, Standing
from inventory.spreadsheet.cells import (
    INDENTED,
    Column,
    Kind,
    Pen,
    Sheet,
    Value,
    make_cell,
    money_format,
    set_up,
    total_look,
    write_header,
)
from inventory.spreadsheet.slabs_sheet import Kinds

Group = tuple[int | None, str]  # number in the sheet Slabs (None: the label is the key), label


def columns() -> list[Column]:
    money, formula = money_format(), Kind.FORMULA
    return [
        Column("Number", 9, Kind.NUMBER, "0"),
        Column("Stock by", 26),
        Column("Pieces", 9, formula, "#,##0"),
        Column("Board feet", 12, formula, "#,##0.0"),
        Column("Volume (m³)", 11, formula, "#,##0.000"),
        Column("Landed cost", 15, formula, money),
        Column("Asking price", 15, formula, money),
        Column("Without a price", 9, formula, "#,##0"),
        Column("Asking a board foot", 12, formula, money),
        Column("Cost a board foot", 12, formula, money),
        Column("Worth", 15, formula, money),
        Column("Below cost", 15, formula, money),
        Column("Long in stock", 9, formula, "#,##0"),
        Column("Their cost", 15, formula, money),
    ]


def write(sheet: Sheet, kinds: Kinds, standings: Sequence[str]) -> None:
    """Write the sections, each with its total, and the line that proves they agree."""
    layout = columns()
    set_up(sheet, layout, freeze="C2")
    write_header(sheet, layout)
    body, total = Pen(sheet, layout), Pen(sheet, layout, **total_look())
    next_row = 2
    totals = []
    for title, key_range, groups in _sections(kinds, standings):
        sheet.append([None, make_cell(sheet, bold=True, align=INDENTED, value=title)])
        first = next_row + 1
        for row, (number, label) in enumerate(groups, first):
            key = f"$A{row}" if number is not None else f"$B{row}"
            body.write([number, label, *_group_formulas(row, key_range, key)])
        last = first + len(groups) - 1
        total.write([None, f"All, by {title.lower()}", *_total_formulas(last + 1, first, last)])
        totals.append(last + 1)
        sheet.append([])
        next_row = last + 3
    _write_proof(sheet, totals)


def _sections(kinds: Kinds, standings: Sequence[str]) -> list[tuple[str, str, Sequence[Group]]]:
    species = sorted(kinds.species.items(), key=lambda item: (item[1].lower(), item[0]))
    places = sorted(kinds.places.items(), key=lambda item: (item[1][0], item[1][1].lower()))
    return [
        ("Species", "slab_species_number", species),
        ("Place", "slab_place_number", [(number, label) for number, (_, label) in places]),
        ("Condition", "slab_condition", [(None, str(one.label)) for one in Condition]),
        ("Standing", "slab_standing", [(None, str(Standing(one).label)) for one in standings]),
    ]


def _group_formulas(row: int, keys: str, key: str) -> list[Value]:
    """Keys are numbers of ours or words of ours: a name typed by people could be a pattern."""
    where = f"{keys},{key}"
    priced = 'slab_asking,">=0"'
    long = 'slab_received,"<="&long_before'
    return [
        f"=COUNTIFS({where})",
        f"=SUMIFS(slab_board_feet,{where})",
        f"=SUMIFS(slab_cubic_metres,{where})",
        f"=SUMIFS(slab_cost,{where})",
        f"=SUMIFS(slab_asking,{where})",
        f"=C{row}-COUNTIFS({where},{priced})",
        _mean(f"G{row}", f"SUMIFS(slab_board_feet,{where},{priced})"),
        _mean(f"F{row}", f"D{row}"),
        f"=SUMIFS(slab_worth,{where})",
        f"=F{row}-K{row}",
        f"=COUNTIFS({where},{long})",
        f"=SUMIFS(slab_cost,{where},{long})",
    ]


def _total_formulas(row: int, first: int, last: int) -> list[Value]:
    sums = {letter: f"=SUM({letter}{first}:{letter}{last})" for letter in "CDEFGHKLMN"}
    sums["I"] = _mean(f"G{row}", 'SUMIFS(slab_board_feet,slab_asking,">=0")')
    sums["J"] = _mean(f"F{row}", f"D{row}")
    if last < first:
        sums = dict.fromkeys("CDEFGHIJKLMN", "=0")
    return [sums[letter] for letter in "CDEFGHIJKLMN"]


def _mean(amount: str, feet: str) -> str:
    return f'=IF({feet}>0,ROUND({amount}/{feet},2),"")'


def _write_proof(sheet: Sheet, totals: Sequence[int]) -> None:
    agreements = [
        f"ROUND({letter}{row}-SUM({name}),2)=0"
        for row in totals
        for letter, name in (("F", "slab_cost"), ("K", "slab_worth"))
    ]
    words = f'=IF(AND({",".join(agreements)}),"Agrees with the sheet Slabs","Does not agree")'
    sheet.append([None, make_cell(sheet, bold=True, align=INDENTED, value=words)])
