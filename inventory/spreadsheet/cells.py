"""Cells a spreadsheet can trust: text that stays text, and numbers with their formats.

Text typed by people is never a formula, whatever it begins with: it is written as a string, and
marked as quoted where a program might read it as a formula once the cell is edited.
"""

import re
from collections.abc import Sequence
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
from openpyxl.worksheet.properties import PageSetupProperties

# openpyxl's streaming sheet: its stubs know too little of it.
Sheet = Any
Value = str | int | float | Decimal | date | None
DATE_FORMAT = "yyyy-mm-dd"
GREATEST_TEXT = 32_767
A4, LETTER = 9, 1
_NOT_IN_XML = re.compile("[\x00-\x08\x0b-\x1f\x7f\ufffe\uffff\ud800-\udfff]")
_LIKE_A_FORMULA = tuple("=+-@＝＋－＠'")
_LINE = Border(bottom=Side(style="thin", color="8D8072"))
_OVER = Border(top=Side(style="thin", color="8D8072"))
_SUNK = PatternFill("solid", start_color="EBE4D9")
_MAY_CHANGE = PatternFill("solid", start_color="F3E4C6")


class Kind(Enum):
    TEXT = "text"
    NUMBER = "number"  # dates and money too: the format says which
    FORMULA = "formula"


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


class Pen:
    """Writes rows of one sheet, each column in its own format.

    A row is written out as it is appended, so the same few cells serve every row.
    """

    def __init__(self, sheet: Sheet, columns: Sequence[Column], **look: Any) -> None:
        self.sheet = sheet
        self.rows = 0
        self._columns = columns
        self._cells = [make_cell(sheet, column.number_format, **look) for column in columns]
        self._quoted = make_cell(sheet, **look)
        self._quoted.quotePrefix = True

    def write(self, values: Sequence[Value]) -> None:
        """Append a row; formulas are strings that begin with `=` in a column of that kind."""
        self.sheet.append(
            [
                self._filled(cell, column.kind, value)
                for cell, column, value in zip(self._cells, self._columns, values, strict=True)
            ]
        )
        self.rows += 1

    def _filled(self, cell: Cell, kind: Kind, value: Value) -> Cell | None:
        if value is None or value == "":
            return None
        if kind is not Kind.TEXT:
            cell.value = value
            return cell
        text = plain_text(str(value))
        return as_text(self._quoted if text.startswith(_LIKE_A_FORMULA) else cell, text)


def as_text(cell: Cell, text: str) -> Cell:
    """The cell holding `text` as a string, though it look like a formula or a fault code."""
    cell.value = text
    cell.data_type = "s"
    return cell


def make_cell(
    sheet: Sheet,
    number_format: str = "General",
    *,
    bold: bool = False,
    wrap: bool = False,
    fill: PatternFill | None = None,
    border: Border | None = None,
    value: Value = None,
) -> Cell:
    cell: Cell = WriteOnlyCell(sheet)
    cell.number_format = number_format
    if bold:
        cell.font = Font(bold=True)
    if wrap:
        cell.alignment = Alignment(wrap_text=True, vertical="top")
    if fill:
        cell.fill = fill
    if border:
        cell.border = border
    if value is not None:
        cell.value = value
    return cell


def write_header(sheet: Sheet, columns: Sequence[Column]) -> None:
    """The row of headers, set apart from the data."""
    sheet.append(
        [
            make_cell(sheet, bold=True, wrap=True, fill=_SUNK, border=_LINE, value=column.header)
            for column in columns
        ]
    )


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
    sheet.HeaderFooter.oddFooter.left.text = "Waneyard, &A"
    sheet.HeaderFooter.oddFooter.right.text = "Page &P of &N"
