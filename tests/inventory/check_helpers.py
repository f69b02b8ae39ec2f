"""What tests of moisture checks share: recording one, and the entry page's data."""

from datetime import date, datetime
from typing import Any

from inventory.checks import ReadingEntry, record_check
from inventory.models import MoistureCheck, Person, Slab
from tests.factories import at, make_meter

TODAY = date(2026, 5, 20)
NOW: datetime = at(2026, 5, 20, 10)

# Three places, and shell and core in the middle: what a 54 mm slab needs.
FIVE = (
    ReadingEntry(7.1, along=0.17, zone="between"),
    ReadingEntry(6.9, along=0.5, zone="shell"),
    ReadingEntry(7.2, along=0.5, zone="between"),
    ReadingEntry(7.5, along=0.5, zone="core"),
    ReadingEntry(7.3, along=0.83, zone="between"),
)


def record(slab: Slab, by: Person, **kwargs: Any) -> MoistureCheck:
    """Five trusted readings of TODAY, 7.2 % in the mean, unless told otherwise."""
    defaults: dict[str, Any] = {
        "on": TODAY,
        "wood_temp_c": 20.0,
        "readings": FIVE,
        "now": NOW,
    }
    if "meter" not in kwargs:
        defaults["meter"] = make_meter()
    return record_check(slab, by=by, **{**defaults, **kwargs})


def typed(meter_pk: Any, *values: str, **kwargs: Any) -> dict[str, Any]:
    """The entry page's data with these numbers in its rows, left, middle (three), right."""
    places = ("0.17", "0.50", "0.50", "0.50", "0.83", "", "", "")
    depths = ("aim", "shell", "aim", "core", "aim", "aim", "aim", "aim")
    data: dict[str, Any] = {
        "on": TODAY.isoformat(),
        "meter": meter_pk,
        "wood_temp": "68",
        "note": "",
        "entry_key": "key-1",
        "rows": "8",
    }
    for at_row, (place, depth) in enumerate(zip(places, depths, strict=True)):
        data[f"r{at_row}-value"] = values[at_row] if at_row < len(values) else ""
        data[f"r{at_row}-along"] = place
        data[f"r{at_row}-depth"] = depth
        data[f"r{at_row}-other_depth"] = ""
    return {**data, **kwargs}
