"""What a meter's page shows: its corrections in words, its table drawn, its tests."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from inventory import meter_rows, meter_tables, meter_tests
from inventory.meter_curve import Curve, curve
from inventory.meter_rows import Row
from inventory.models import Meter, MeterTable, MeterTest, Method

TESTS_SHOWN = 20
ROWS_SHOWN = 200


@dataclass(frozen=True)
class TestLine:
    """One test with what it means."""

    __test__ = False

    test: MeterTest
    offset_words: str


@dataclass(frozen=True)
class MeterSheet:
    meter: Meter
    correction_words: tuple[str, ...]
    takes_a_table: bool
    table: MeterTable | None
    curve: Curve | None
    tests: list[TestLine]
    advice: str
    is_overdue: bool


def sheet_of(meter: Meter, on: date) -> MeterSheet:
    """All of a meter's page, in a number of queries that does not grow."""
    table = meter_tables.current_table(meter)
    tests = list(meter.tests.select_related("by")[:TESTS_SHOWN])
    return MeterSheet(
        meter=meter,
        correction_words=correction_words(meter, has_table=table is not None),
        takes_a_table=meter_tables.takes_a_table(meter),
        table=table,
        curve=curve(_points(table)) if table else None,
        tests=[TestLine(test, meter_tests.offset_words(test)) for test in tests],
        advice=meter_tests.advice(tests[0]) if tests else "",
        is_overdue=meter.test_due_on is not None and meter.test_due_on < on,
    )


def correction_words(meter: Meter, *, has_table: bool) -> tuple[str, ...]:
    """What is done to its readings, by whom: each correction once."""
    if meter.method == Method.WEIGHING:
        return ("Weighed wood needs no correction.",)
    return tuple(filter(None, (_temperature(meter), _species(meter, has_table))))


def preview(rows: Sequence[Row]) -> dict[str, Any]:
    """The rows as read and the curve of the good ones; a long table shows its bad rows first."""
    ordered = sorted(rows, key=lambda row: not row.problem) if len(rows) > ROWS_SHOWN else rows
    return {
        "rows": ordered[:ROWS_SHOWN],
        "unshown": max(0, len(rows) - ROWS_SHOWN),
        "curve": curve(meter_rows.curves(rows)),
    }


def _temperature(meter: Meter) -> str:
    if meter.method == Method.PINLESS:
        return ""
    if meter.corrects_temperature:
        return "It corrects for the wood's temperature itself: we do not."
    return "We correct for the wood's temperature first."


def _species(meter: Meter, has_table: bool) -> str:
    if meter.corrects_species:
        aside = " The table below is not used." if has_table else ""
        return f"It is set to the species: we do not correct for it.{aside}"
    if has_table:
        ours = meter.method == Method.PIN and meter.knows_our_table
        others = "by the published one" if ours else "are left as read, and prove nothing"
        return f"The species of the shop's own table are corrected by it; others {others}."
    if meter.method == Method.PINLESS:
        return "Nothing corrects for the species yet: set the meter to it, or give it a table."
    if not meter.knows_our_table:
        return (
            f"It was calibrated on {meter.calibrated_on}, and the published table is for "
            "Douglas-fir: it takes a table of its own."
        )
    return "Species are corrected by the published table."


def _points(table: MeterTable) -> dict[str, list[tuple[float, float]]]:
    found: dict[str, list[tuple[float, float]]] = {}
    for row in table.rows.select_related("species").order_by("species__common_name", "reading_pct"):
        name = row.species.common_name if row.species else ""
        found.setdefault(name, []).append((row.reading_pct, row.corrected_pct))
    return found
