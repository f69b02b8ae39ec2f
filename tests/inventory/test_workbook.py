"""The workbook: live formulas that agree with the page to the cent, and text that stays text."""

import io
import re
import shutil
import subprocess
import tracemalloc
import zipfile
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook

from inventory import worth
from inventory.models import GoneHow, Slab, Standing
from inventory.spreadsheet import cells
from inventory.spreadsheet.workbook import write_workbook
from inventory.wood import measure
from inventory.worth import Scope
from tests.factories import at, make_log, make_parcel, make_place, make_slab, make_species

ON = date(2026, 6, 30)
SCOPE = Scope(on=ON)
HOSTILE = [
    '=HYPERLINK("http://example.invalid","click")',
    "+1+1",
    "-2+3",
    "@SUM(A1)",
    "\x01=1+1",
    "\t=1+1",
    "＝1+1",
    "#REF!",
    "<f>1+1</f> & <b>",
    "*",
    ">0",
]


_SECTIONS = (
    ("species", "Species"),
    ("place", "Place"),
    ("condition", "Condition"),
    ("standing", "Standing"),
)


def stock(cost: str, asking: str | None, received: datetime, **kwargs: Any) -> Slab:
    price = None if asking is None else Decimal(asking)
    slab = make_slab(asking_price=price, own_cost=Decimal(cost), **kwargs)
    Slab.objects.filter(pk=slab.pk).update(cost=Decimal(cost), received_at=received)
    return slab


def varied_stock() -> None:
    """Slabs of awkward species in places and in none, dear and cheap, priced and not."""
    species = [make_species(common_name=name) for name in ("*", ">0", "=A1", "Oak ~?", "oak tree")]
    places = [make_place(name="Loft", position=2), make_place(name="=2", position=1), None]
    for number in range(45):
        asking = None if number % 7 == 3 else f"{(number * 137) % 900}.{number % 100:02}"
        stock(
            f"{(number * 89) % 700}.{(number * 31) % 100:02}",
            asking,
            at(2021 + number % 6, 6, 29 + number % 2),
            species=species[number % 5],
            place=places[number % 3],
            thickness_mm=40.0 + number,
        )
    stock("10.00", "0.05", at(2024, 6, 30), species=species[0])  # a twentieth: half a cent to round
    Slab.objects.filter(asking_price__lt=100).update(standing=Standing.HELD)
    gone = stock("999.99", "1.00", at(2020, 1, 1))
    Slab.objects.filter(pk=gone.pk).update(standing=Standing.GONE, gone_how=GoneHow.SOLD)


def written(path: Path, scope: Scope = SCOPE, system: str = measure.IMPERIAL) -> Path:
    with path.open("wb") as file:
        write_workbook(scope, system, file)
    return path


def book_of(scope: Scope = SCOPE, system: str = measure.IMPERIAL) -> Workbook:
    file = io.BytesIO()
    write_workbook(scope, system, file)
    file.seek(0)
    return load_workbook(file)


def recalculated(path: Path, room: Path) -> Workbook:
    """The workbook as LibreOffice computes it, its formulas' results in place of the formulas."""
    out = room / "out"
    subprocess.run(
        [
            "soffice",
            f"-env:UserInstallation={(room / 'profile').as_uri()}",
            "--headless",
            "--convert-to",
            "xlsx",
            "--outdir",
            str(out),
            str(path),
        ],
        check=True,
        capture_output=True,
        timeout=180,
    )
    return load_workbook(out / path.name, data_only=True)


def summary_rows(book: Workbook) -> dict[str, list[Any]]:
    """Rows of the Summary by label within its section: `Place / Loft`."""
    rows: dict[str, list[Any]] = {}
    section = ""
    for number, label, *figures in book["Summary"].iter_rows(min_row=2, values_only=True):
        if label and all(figure is None for figure in figures):
            section = str(label)
        elif label:
            rows[f"{section} / {label}"] = [number, *figures]
    return rows


def cents(value: Any) -> Decimal:
    return round(Decimal(value or 0), 2)


def page_figures(row: worth.Row) -> list[Any]:
    return [
        row.pieces,
        round(measure.board_feet(row.volume_mm3), 6),
        round(measure.cubic_metres(row.volume_mm3), 9),
        row.cost,
        row.asking,
        row.unpriced,
        row.asking_per_bf or Decimal(0),
        row.cost_per_bf or Decimal(0),
        row.worth,
        row.write_down,
        row.long_pieces,
        row.long_cost,
    ]


def sheet_figures(figures: list[Any]) -> list[Any]:
    pieces, feet, cubic, cost, asking, unpriced, *rest = figures[1:]
    means_and_worth, (long_pieces, long_cost) = rest[:4], rest[4:]
    return [
        pieces,
        round(feet, 6),
        round(cubic, 9),
        cents(cost),
        cents(asking),
        unpriced,
        *(cents(value) for value in means_and_worth),
        long_pieces,
        cents(long_cost),
    ]


@pytest.mark.django_db
@pytest.mark.skipif(not shutil.which("soffice"), reason="LibreOffice is not installed here")
def test_libreoffice_computes_the_page_and_a_changed_assumption_moves_the_totals(
    tmp_path: Path,
) -> None:
    varied_stock()
    path = written(tmp_path / "stock.xlsx")
    book = recalculated(path, tmp_path)
    assert "Agrees with the sheet Slabs" in [cell.value for cell in book["Summary"]["B"]]
    rows = summary_rows(book)
    for by, title in _SECTIONS:
        summary = worth.summary(by, SCOPE)
        for row in summary.rows:
            assert sheet_figures(rows[f"{title} / {row.label}"]) == page_figures(row)
        total = sheet_figures(rows[f"{title} / All, by {title.lower()}"])
        assert total == page_figures(summary.total)

    book = load_workbook(path)
    book["Assumptions"]["B3"] = 0.125
    book["Assumptions"]["B4"] = 11.5
    changed = tmp_path / "changed.xlsx"
    book.save(changed)
    rows = summary_rows(recalculated(changed, tmp_path))
    assert cents(rows["Species / All, by species"][9]) == expected_worth(Decimal("12.5"), "11.5")


def expected_worth(selling_cost_pct: Decimal, ask_per_board_foot: str) -> Decimal:
    """The same worth reckoned slab by slab, with a price put on those that have none."""
    scope = Scope(on=ON, selling_cost_pct=selling_cost_pct)
    total = Decimal(0)
    for slab in scope.slabs():
        feet = Decimal(measure.board_feet(slab.volume_mm3))
        guess = round(feet * Decimal(ask_per_board_foot), 2)
        asking = guess if slab.asking_price is None else slab.asking_price
        total += worth.lower_of(slab.cost, asking, scope)
    return total


@pytest.mark.django_db
@pytest.mark.parametrize("text", HOSTILE)
def test_no_text_typed_by_people_can_become_a_formula(text: str) -> None:
    species = make_species(common_name=text)
    place = make_place(name=text)
    parcel = make_parcel(name=text, supplier=text)
    log = make_log(number=text[:20], species=species)
    make_slab(species=species, place=place, parcel=parcel, log=log, house_note=text)
    file = io.BytesIO()
    write_workbook(SCOPE, measure.IMPERIAL, file)
    with zipfile.ZipFile(file) as archive:
        sheets = [archive.read(f"xl/worksheets/sheet{n}.xml").decode() for n in (1, 2, 3)]
    formulas = [formula for xml in sheets for formula in re.findall(r"<f>(.*?)</f>", xml)]
    own = re.compile(r"(IF|COUNTIFS|SUMIFS|SUM|EDATE|10000-|as_of-|[A-Z]\d+-)")
    assert all(own.match(formula) for formula in formulas)
    assert not any("HYPERLINK" in formula or "@" in formula for formula in formulas)
    assert all("\x01" not in xml and 't="e"' not in xml for xml in sheets)

    row = load_workbook(file)["Slabs"][2]
    typed = [row[index] for index in (1, 2, 4, 21, 22, 23)]
    assert {cell.data_type for cell in typed} == {"s"}
    assert {cell.value for cell in typed} <= {cells.plain_text(text), cells.plain_text(text[:20])}


@pytest.mark.django_db
def test_text_that_looks_like_a_formula_is_marked_as_quoted() -> None:
    make_slab(species=make_species(common_name="=1+1"))
    make_slab(species=make_species(common_name="Elm"))
    sheet = book_of()["Slabs"]
    marks = {sheet.cell(row, 2).value: sheet.cell(row, 2).quotePrefix for row in (2, 3)}
    assert marks == {"=1+1": True, "Elm": False}


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("a\x00b\x1fc", "abc"),
        ("one\r\ntwo", "one\ntwo"),
        ("\ufffe=1", "=1"),
        ("x" * 40_000, "x" * 32_767),
    ],
)
def test_what_no_cell_can_hold_is_left_out(typed: str, kept: str) -> None:
    assert cells.plain_text(typed) == kept


@pytest.mark.django_db
def test_numbers_dates_and_money_are_real_and_formatted() -> None:
    slab = stock("100.00", "250.50", at(2026, 5, 4), place=make_place(name="Loft"))
    Slab.objects.filter(pk=slab.pk).update(mc_pct=9.4, checked_on=date(2026, 6, 1))
    sheet = book_of()["Slabs"]
    head = {cell.value: number for number, cell in enumerate(sheet[1], 1)}

    def cell(header: str) -> Any:
        return sheet.cell(2, head[header])

    assert cell("Code").value == slab.display_code
    assert cell("Length (in)").value == pytest.approx(2400 / 25.4)
    assert cell("Moisture (%)").value == 9.4
    assert cell("Checked on").value == datetime(2026, 6, 1)
    assert cell("Received on").value == datetime(2026, 5, 4)
    assert cell("Received on").number_format == "yyyy-mm-dd"
    assert (cell("Landed cost").value, cell("Asking price").value) == (100, 250.5)
    assert cell("Asking price").number_format == '"$"#,##0.00'
    assert cell("Days in stock").value == "=as_of-T2"


@pytest.mark.django_db
def test_what_a_slabs_shape_is_from_stands_beside_its_area_circle_and_tally() -> None:
    slab = make_slab([(0.0, 600.0), (1.0, 600.0)], length_mm=2000.0, thickness_mm=54.0)
    rough = make_slab(are_widths_unplaced=True)
    book = book_of(system=measure.METRIC)["Slabs"]
    head = {cell.value: number for number, cell in enumerate(book[1])}
    rows = {row[0]: row for row in book.iter_rows(min_row=2, values_only=True)}
    told = rows[slab.display_code]
    assert told[head["Shape from"]] == "Widths (approximate)"
    assert rows[rough.display_code][head["Shape from"]] == "Three widths (approximate)"
    assert told[head["Wood area (m²)"]] == pytest.approx(0.6 * 2.0)
    assert told[head["Largest circle (mm)"]] == pytest.approx(600.0, abs=1.0)
    # 600 mm is 23.6 in; × 6 whole feet / 12 is a surface measure of 12; × 2 in (8/4) is 24.
    assert told[head["Tally (board feet)"]] == 24.0


@pytest.mark.django_db
def test_sizes_come_in_the_readers_own_units() -> None:
    make_slab()
    sheet = book_of(system=measure.METRIC)["Slabs"]
    sizes = {sheet.cell(1, column).value: sheet.cell(2, column).value for column in (11, 13)}
    assert sizes == {"Length (mm)": 2400, "Thickness (mm)": 54}


@pytest.mark.parametrize(
    ("currency", "locale", "written_as"),
    [
        ("USD", "en_US", '"$"#,##0.00'),
        ("EUR", "fi_FI", '#,##0.00\xa0"€"'),
        ("JPY", "ja_JP", '"￥"#,##0'),
    ],
)
def test_money_is_written_as_the_shop_writes_it(
    settings: Any, currency: str, locale: str, written_as: str
) -> None:
    settings.CURRENCY, settings.MONEY_LOCALE = currency, locale
    assert cells.money_format() == written_as


@pytest.mark.django_db
def test_headers_stay_in_sight_columns_can_be_filtered_and_pages_fit() -> None:
    make_slab()
    make_slab()
    book = book_of()
    assert book.sheetnames == ["Slabs", "Summary", "Assumptions"]
    sheet: Any = book["Slabs"]
    assert sheet.freeze_panes == "B2"
    assert sheet.auto_filter.ref == "A1:AD3"
    assert sheet.column_dimensions["B"].width == 22
    assert sheet.page_setup.orientation == "landscape"
    assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 0)
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert sheet.print_title_rows == "$1:$1"
    assert sheet.print_area == "'Slabs'!$A$1:$U$3"
    assert sheet.oddFooter.right.text == "Page &P of &N"


@pytest.mark.django_db
def test_assumptions_are_named_so_that_formulas_read_like_sentences() -> None:
    make_slab()
    book = book_of(Scope(on=ON, selling_cost_pct=Decimal("12.50")))
    names = {name: defined.attr_text for name, defined in book.defined_names.items()}
    assert names["selling_cost"] == "Assumptions!$B$3"
    assert names["slab_cost"] == "Slabs!$P$2:$P$2"
    assert book["Assumptions"]["B3"].value == 0.125
    assert book["Assumptions"]["B2"].value == datetime(2026, 6, 30)
    assert book.calculation.fullCalcOnLoad


@pytest.mark.django_db
def test_an_empty_yard_makes_a_workbook_too() -> None:
    book = book_of()
    assert book["Slabs"].max_row == 1
    assert book["Summary"]["B2"].value == "Species"


def many(count: int) -> None:
    """`count` slabs made at once from one, each with a note of its own."""
    one = make_slab(own_cost=Decimal("1.00"))
    names = [field.attname for field in Slab._meta.concrete_fields if not field.primary_key]
    row = {name: getattr(one, name) for name in names}
    copies = (
        Slab(**{**row, "code": f"{n:05}", "house_note": f"Note {n} " * 20}) for n in range(count)
    )
    Slab.objects.bulk_create(copies, batch_size=500)


def peak_bytes() -> int:
    file = io.BytesIO()
    tracemalloc.start()
    write_workbook(SCOPE, measure.IMPERIAL, file)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return peak - file.tell()


@pytest.mark.django_db
def test_memory_does_not_grow_with_the_stock() -> None:
    many(1200)
    few = peak_bytes()
    Slab.objects.all().delete()
    many(4800)
    assert peak_bytes() < 1.5 * few


@pytest.mark.django_db
def test_the_workbook_asks_the_database_as_often_for_ten_slabs_as_for_many(
    django_assert_max_num_queries: Any,
) -> None:
    many(60)
    with django_assert_max_num_queries(1):
        book_of()
