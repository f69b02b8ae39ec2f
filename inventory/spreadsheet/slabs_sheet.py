"""The sheet *Slabs*: one row a slab, with what it would fetch and its worth as formulas."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.utils import timezone
from openpyxl.utils import get_column_letter

from inventory import codes
from inventory.models import Condition, ShapeBasis, Standing
from inventory.spreadsheet.cells import (
    DATE_FORMAT,
    Column,
    Kind,
    Pen,
    Sheet,
    money_format,
    set_up,
    write_header,
)
from inventory.wood import measure
from inventory.wood.lengths import MM_PER_FT, MM_PER_IN
from inventory.worth import Scope

ROWS_AT_ONCE = 1000
FIRST_ROW = 2
LAST_PRINTED = "U"  # what follows is for the screen: on paper it would make the figures too small

_FIELDS = (
    "code",
    "species__common_name",
    "log__number",
    "number_in_log",
    "place__name",
    "bay__name",
    "standing",
    "condition",
    "mc_pct",
    "checked_on",
    "length_mm",
    "mean_width_mm",
    "thickness_mm",
    "volume_mm3",
    "cost",
    "asking_price",
    "received_at",
    "parcel__name",
    "parcel__supplier",
    "house_note",
    "shape_basis",
    "wood_mm2",
    "circle_mm",
    "species_id",
    "place_id",
    "place__position",
)


@dataclass
class Kinds:
    """What the rows named, gathered as they go by: label by number, places with their order."""

    species: dict[int, str] = field(default_factory=dict)
    places: dict[int, tuple[int, str]] = field(default_factory=dict)


def columns(system: str) -> list[Column]:
    """The columns in order; lengths in mm or in inches, as real numbers."""
    unit, places = ("mm", "0") if system == measure.METRIC else ("in", "0.00")
    money = money_format()
    number = Kind.NUMBER
    return [
        Column("Code", 10),
        Column("Species", 22),
        Column("Log", 10),
        Column("Number in log", 9, number),
        Column("Place", 16),
        Column("Bay", 10),
        Column("Standing", 10, name="slab_standing"),
        Column("Condition", 11, name="slab_condition"),
        Column("Moisture (%)", 10, number, "0.0"),
        Column("Checked on", 12, Kind.DATE, DATE_FORMAT),
        Column(f"Length ({unit})", 10, number, places),
        Column(f"Mean width ({unit})", 10, number, places),
        Column(f"Thickness ({unit})", 10, number, places),
        Column("Board feet", 10, number, "#,##0.00", "slab_board_feet"),
        Column("Volume (m³)", 10, number, "0.0000", "slab_cubic_metres"),
        Column("Landed cost", 13, number, money, "slab_cost"),
        Column("Asking price", 13, number, money, "slab_asking"),
        Column("Would fetch", 13, Kind.FORMULA, money, "slab_would_fetch"),
        Column("Worth", 13, Kind.FORMULA, money, "slab_worth"),
        Column("Received on", 12, Kind.DATE, DATE_FORMAT, "slab_received"),
        Column("Days in stock", 9, Kind.FORMULA, "#,##0"),
        Column("Parcel", 20),
        Column("Supplier", 20),
        Column("Note for the house", 40),
        Column("Shape from", 22),
        Column(f"Wood area ({_area_unit(system)[0]})", 10, number, "0.000"),
        Column(f"Largest circle ({unit})", 10, number, places),
        Column("Tally (board feet)", 10, number, "#,##0.00"),
        Column("Species number", 9, number, "0", "slab_species_number"),
        Column("Place number", 9, number, "0", "slab_place_number"),
    ]


def write(sheet: Sheet, scope: Scope, system: str) -> tuple[int, Kinds]:
    """Stream every slab of `scope` to the sheet; returns how many, and what they named."""
    layout = columns(system)
    set_up(sheet, layout, freeze="B2")
    write_header(sheet, layout)
    pen, kinds = Pen(sheet, layout), Kinds()
    for slab in slabs_of(scope):
        kinds.species[slab["species_id"]] = slab["species__common_name"]
        kinds.places[slab["place_id"] or 0] = _place(slab)
        pen.write(row_of(slab, FIRST_ROW + pen.rows, system))
    last_row = max(pen.rows, 1) + 1
    sheet.auto_filter.ref = f"A1:{get_column_letter(len(layout))}{last_row}"
    sheet.print_area = f"A1:{LAST_PRINTED}{last_row}"
    return pen.rows, kinds


def named_ranges(rows: int, system: str) -> Iterator[tuple[str, str]]:
    """(name, reference) of each column that formulas use."""
    last = max(rows, 1) + FIRST_ROW - 1
    for number, column in enumerate(columns(system), 1):
        letter = get_column_letter(number)
        if column.name:
            yield column.name, f"Slabs!${letter}${FIRST_ROW}:${letter}${last}"


def slabs_of(scope: Scope) -> Iterator[Any]:
    rows: Iterator[Any] = (
        scope.slabs().order_by("code").values(*_FIELDS).iterator(chunk_size=ROWS_AT_ONCE)
    )
    return rows


def _place(slab: dict[str, Any]) -> tuple[int, str]:
    if slab["place_id"] is None:
        return 2**31, "No place said"
    return slab["place__position"], slab["place__name"]


def row_of(slab: dict[str, Any], row: int, system: str) -> list[Any]:
    per_mm = 1.0 if system == measure.METRIC else 1.0 / MM_PER_IN
    return [
        codes.display(slab["code"]),
        slab["species__common_name"],
        slab["log__number"],
        slab["number_in_log"],
        slab["place__name"],
        slab["bay__name"],
        _STANDINGS[slab["standing"]],
        _CONDITIONS[slab["condition"]],
        slab["mc_pct"],
        slab["checked_on"],
        slab["length_mm"] * per_mm,
        slab["mean_width_mm"] * per_mm,
        slab["thickness_mm"] * per_mm,
        measure.board_feet(slab["volume_mm3"]),
        measure.cubic_metres(slab["volume_mm3"]),
        slab["cost"],
        slab["asking_price"],
        _would_fetch(row),
        f'=IF(R{row}="",P{row},MIN(P{row},R{row}))',
        _day(slab["received_at"]),
        f"=as_of-T{row}",
        slab["parcel__name"],
        slab["parcel__supplier"],
        slab["house_note"],
        _SHAPES_FROM[slab["shape_basis"]],
        slab["wood_mm2"] / _area_unit(system)[1],
        slab["circle_mm"] * per_mm,
        _tally(slab),
        slab["species_id"],
        slab["place_id"] or 0,
    ]


def _would_fetch(row: int) -> str:
    """In whole cents first, so that half a cent goes up here as it does on the page."""
    return (
        f"=IF(ISNUMBER(Q{row}),ROUND(ROUND(Q{row}*100,0)*kept_share/10000,0)/100,"
        f"IF(ask_per_board_foot>0,"
        f'ROUND(ROUND(N{row}*ask_per_board_foot*100,0)*kept_share/10000,0)/100,""))'
    )


def _area_unit(system: str) -> tuple[str, float]:
    """Its name, and how many mm² it is."""
    return ("m²", measure.MM2_PER_M2) if system == measure.METRIC else ("ft²", MM_PER_FT**2)


def _tally(slab: dict[str, Any]) -> float:
    """As the trade counts it, beside the board feet that are there."""
    sizes = (slab["thickness_mm"], slab["mean_width_mm"], slab["length_mm"])
    return measure.tally_board_feet(*sizes) if slab["mean_width_mm"] else 0.0


def _day(moment: datetime) -> Any:
    return timezone.localtime(moment).date()


_STANDINGS = {str(value): str(label) for value, label in Standing.choices}
_SHAPES_FROM = {
    ShapeBasis.TRACED.value: "Traced outline",
    ShapeBasis.WIDTHS.value: "Widths (approximate)",
    ShapeBasis.THREE.value: "Three widths (approximate)",
    ShapeBasis.NONE.value: "Not measured",
}
_CONDITIONS = {str(value): str(label) for value, label in Condition.choices}
