"""Export of 10,000 slabs against openpyxl's bare write-only loop over as many cells.

The floor: append rows of plain values (the same number of texts, numbers, dates and formulas) with
no style, no format, no database. Run with `-m bench -n 0`; floor and export take turns in one run,
medians of processor time are compared.
"""

import io
import sys
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from statistics import median
from time import process_time
from typing import Any

import pytest
from django.utils import timezone
from openpyxl import Workbook

from inventory.models import Slab
from inventory.spreadsheet import slabs_sheet
from inventory.spreadsheet.workbook import write_workbook
from inventory.worth import Scope
from tests.factories import make_bay, make_log, make_parcel, make_slab

SLABS = 10_000
ROUNDS = 5


def full_yard() -> None:
    """Slabs that leave no cell of the sheet empty."""
    parcel, bay = make_parcel(), make_bay()
    log = make_log(parcel=parcel)
    one = make_slab(log=log, parcel=parcel, place=bay.place, bay=bay, number_in_log=30_000)
    names = [field.attname for field in Slab._meta.concrete_fields if not field.primary_key]
    row = {name: getattr(one, name) for name in names}
    row |= {"house_note": "Cracked at the top end", "mc_pct": 9.4, "checked_on": date(2026, 5, 4)}
    copies = (
        Slab(**{**row, "code": f"{n:05}", "number_in_log": n, "cost": Decimal(n).scaleb(-2)})
        for n in range(SLABS - 1)
    )
    Slab.objects.bulk_create(copies, batch_size=500)


def bare_row() -> list[Any]:
    """A row of plain values, one for each cell of an exported row."""
    slab = next(slabs_sheet.slabs_of(Scope(on=timezone.localdate())))
    return slabs_sheet.row_of(slab, 2, "imperial")


def floor(row: list[Any]) -> None:
    book = Workbook(write_only=True)
    sheet = book.create_sheet("Slabs")
    for _ in range(SLABS):
        sheet.append(row)
    book.save(io.BytesIO())


def seconds(work: Callable[[], object]) -> float:
    start = process_time()
    work()
    return process_time() - start


@pytest.mark.bench
@pytest.mark.django_db
def test_export_of_ten_thousand_slabs_beside_the_bare_loop() -> None:
    full_yard()
    scope = Scope(on=timezone.localdate())
    row = bare_row()
    assert None not in row
    taken: list[tuple[float, float]] = []
    for _ in range(ROUNDS):
        bare = seconds(lambda: floor(row))
        taken.append((bare, seconds(lambda: write_workbook(scope, "imperial", io.BytesIO()))))
    bare, export = median(pair[0] for pair in taken), median(pair[1] for pair in taken)
    sys.stderr.write(
        f"\nexport of {SLABS:,} slabs: {export:.2f} s; bare loop {bare:.2f} s; "
        f"ratio {export / bare:.2f}\n"
    )
    assert export > 0
