"""The whole workbook, streamed: never more than some hundred rows of slabs in memory."""

from typing import IO

from openpyxl import Workbook
from openpyxl.workbook.defined_name import DefinedName

from inventory.spreadsheet import assumptions_sheet, slabs_sheet, summary_sheet
from inventory.worth import Scope


def write_workbook(scope: Scope, system: str, file: IO[bytes]) -> int:
    """Write the stock of `scope` to `file`; `system` is 'metric' or 'imperial'.

    Totals equal `worth.summary` of the same scope to the cent, once a program has computed them:
    formulas are stored without their results, and the file asks to be computed when opened.
    Returns how many slabs were written.
    """
    book = Workbook(write_only=True)
    rows, kinds = slabs_sheet.write(book.create_sheet("Slabs"), scope, system)
    summary_sheet.write(book.create_sheet("Summary"), kinds, scope.standings)
    assumptions_sheet.write(book.create_sheet("Assumptions"), scope, system)
    names = [*slabs_sheet.named_ranges(rows, system), *assumptions_sheet.named_cells(scope)]
    for name, reference in names:
        book.defined_names[name] = DefinedName(name, attr_text=reference)
    book.calculation.fullCalcOnLoad = True
    book.properties.title = f"Stock as of {scope.on:%Y-%m-%d}"
    book.properties.creator = "Waneyard"
    book.save(file)
    return rows
