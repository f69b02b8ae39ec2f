"""Cells a spreadsheet can trust: text that stays text, and numbers with their formats.

Text typed by people is never a formula, whatever it begins with: it is written as a string, and
marked as quoted where a program might read it as a formula once the cell is edited.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import Enum
from typing import Any

from babel import Locale
from babel.numbers import get_currency_precision, get_currency_symbol
from django.conf import settings
from openpyxl.cell import Cell, WriteOnlyCell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.page import PageMargins
from openpyxl.worksheet.properties import PageSetupProperties

# openpyxl's streaming sheet: its stubs know too little of it.
Sheet = Any
Value = str | int | float | Decimal | date | None
DATE_FORMAT = "yyyy-mm-dd"
GREATEST_TEXT = 32_767
HEADER_HEIGHT = 32  # points: two lines
A4, LETTER = 9, 1
_NOT_IN_XML = re.compile("[\x00-\x08\x0b-\x1f\x7f\ufffe\uffff\ud800-\udfff]")
_LIKE_A_FORMULA = tuple("=+-@＝＋－＠'")
_LINE = Border(bottom=Side(style="thin", color="8D8072"))
_OVER = Border(top=Side(style="thin", color="8D8072"))
INDENTED = Alignment(horizontal="left", indent=1)
_SUNK = PatternFill("solid", start_color="EBE4D9")
_MAY_CHANGE = PatternFill("solid", start_color="F3E4C6")


class Kind(Enum):
    """What a column holds, by openpyxl's letter for it; money is a number."""

    TEXT = "s"
    NUMBER = "n"
    DATE = "d"
    FORMULA = "f"


@dataclass(frozen=True)
class Column:
    """One column of a sheet; `name` is the defined name of its data, for formulas."""

    header: str
    width: float
    kind: Kind = Kind.TEXT
    number_format: str = "General"
    name: str = ""


def plain_text(text: str) -> str:
    """The text without what no workbook can hold, cut to the greatest length of a cell."""
    if text.isprintable():
        return text.strip()[:GREATEST_TEXT]
    lines = text.replace("\r\n", "\n").replace("\t", " ").replace("\r", "\n")
    return _NOT_IN_XML.sub("", lines).strip()[:GREATEST_TEXT]


def money_format() -> str:
    """The shop's currency as a number format: `"$"#,##0.00`, or the symbol behind."""
    locale = Locale.parse(settings.MONEY_LOCALE)
    symbol = get_currency_symbol(settings.CURRENCY, locale).replace('"', "")
    places = get_currency_precision(settings.CURRENCY)
    number = "#,##0" + ("." + "0" * places if places else "")
    pattern = locale.currency_formats["standard"].pattern
    return f'"{symbol}"{number}' if pattern.startswith("¤") else f'{number}\xa0"{symbol}"'


class ReusedCell(Cell):
    """A cell of one column that serves every row: its style is looked up once."""

    __slots__ = ("kept_style_id",)

    def __init__(self, sheet: Sheet, number_format: str, **look: Any) -> None:
        super().__init__(sheet, 1, 1)
        dress(self, number_format, **look)
        self.kept_style_id = super().style_id

    @property
    def style_id(self) -> int:
        return int(self.kept_style_id)

    @property
    def has_style(self) -> bool:
        return True

    def holding(self, data_type: str, value: Value) -> "ReusedCell":
        self.data_type = data_type
        self._value = value
        return self


class Pen:
    """Writes rows of one sheet, each column in its own format.

    A row is written out as it is appended, so the same few cells serve every row. Once a sheet has
    a pen, only cells may be appended to it.
    """

    def __init__(self, sheet: Sheet, columns: Sequence[Column], **look: Any) -> None:
        # openpyxl's own way tries each cell as a plain value first: a third of the time.
        sheet._values_to_row = placed
        self.sheet = sheet
        self.rows = 0
        self._cells = [
            (ReusedCell(sheet, one.number_format, align=_align(one), **look), one.kind.value)
            for one in columns
        ]
        self._quoted = [
            ReusedCell(sheet, one.number_format, align=_align(one), is_quoted=True, **look)
            for one in columns
        ]

    def write(self, values: Sequence[Value]) -> None:
        """Append a row; formulas are strings that begin with `=` in a column of that kind."""
        row: list[Cell | None] = []
        for (cell, data_type), quoted, value in zip(self._cells, self._quoted, values, strict=True):
            if value is None or value == "":
                row.append(None)
            elif data_type == "s":
                text = plain_text(str(value))
                fitting = quoted if text.startswith(_LIKE_A_FORMULA) else cell
                row.append(fitting.holding("s", text))
            else:
                row.append(cell.holding(data_type, value))
        self.sheet.append(row)
        self.rows += 1


def placed(cells: Sequence[Cell | None], row: int) -> Iterator[Cell]:
    """The cells of a row, each told where it stands."""
    for column, cell in enumerate(cells, 1):
        if cell is not None:
            cell.row, cell.column = row, column
            yield cell


def as_text(cell: Cell, text: str) -> Cell:
    """The cell holding `text` as a string, though it look like a formula or a fault code."""
    cell.value = text
    cell.data_type = "s"
    return cell


def make_cell(
    sheet: Sheet, number_format: str = "General", value: Value = None, **look: Any
) -> Cell:
    """One cell for use once; `look` as in `dress`."""
    cell: Cell = WriteOnlyCell(sheet)
    dress(cell, number_format, **look)
    if value is not None:
        cell.value = value
    return cell


def dress(
    cell: Cell,
    number_format: str,
    *,
    bold: bool = False,
    align: Alignment | None = None,
    is_quoted: bool = False,
    fill: PatternFill | None = None,
    border: Border | None = None,
) -> None:
    cell.number_format = number_format
    if is_quoted:
        cell.quotePrefix = True
    if bold:
        cell.font = Font(name="Calibri", size=11, bold=True)
    if align:
        cell.alignment = align
    if fill:
        cell.fill = fill
    if border:
        cell.border = border


def write_header(sheet: Sheet, columns: Sequence[Column]) -> None:
    """The row of headers, set apart from the data."""
    sheet.row_dimensions[1].height = HEADER_HEIGHT
    sheet.append(
        [
            make_cell(
                sheet,
                bold=True,
                fill=_SUNK,
                border=_LINE,
                align=_align(one, wrap_text=True, vertical="bottom"),
                value=one.header,
            )
            for one in columns
        ]
    )


def _align(column: Column, **more: Any) -> Alignment:
    """Text a little off the numbers before it; numbers to the right."""
    if column.kind is Kind.TEXT:
        return Alignment(horizontal="left", indent=1, **more)
    return Alignment(horizontal="right", **more)


def total_look() -> dict[str, Any]:
    return {"bold": True, "border": _OVER}


def assumption_cell(sheet: Sheet, number_format: str, value: Value) -> Cell:
    """A cell a reader is meant to change."""
    return make_cell(sheet, number_format, fill=_MAY_CHANGE, border=_LINE, value=value)


def set_up(sheet: Sheet, columns: Sequence[Column], freeze: str = "") -> None:
    """Widths, what stays in sight, and how it prints; to be called before the first row."""
    for number, column in enumerate(columns, 1):
        sheet.column_dimensions[get_column_letter(number)].width = column.width
    if freeze:
        sheet.freeze_panes = freeze
        sheet.print_title_rows = "1:1"
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = LETTER if settings.MONEY_LOCALE.endswith("US") else A4
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 0
    sheet.page_margins = PageMargins(left=0.4, right=0.4, top=0.5, bottom=0.75, footer=0.35)
    sheet.HeaderFooter.oddFooter.left.text = "Waneyard, &A"
    sheet.HeaderFooter.oddFooter.right.text = "Page &P of &N"
