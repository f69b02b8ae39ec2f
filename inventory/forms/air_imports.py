"""A logger's file: choosing it, and putting right how its columns are read."""

import zoneinfo
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict

from inventory import air_imports, air_table
from inventory.air_imports import Preview
from inventory.air_moments import DayOrder
from inventory.air_table import COLUMN_WORDS, GIVEN, IN_DEGREES, SPACES, Layout
from inventory.models import AirImport, Person, Place

MOST_COLUMNS = 200
EXAMPLES = 3
MEANINGS = (
    ("", "Leave out"),
    ("moment", "Date and time"),
    ("date", "Date"),
    ("time", "Time of day"),
    ("temp_c", "Temperature, °C"),
    ("temp_f", "Temperature, °F"),
    ("rh", "Relative humidity, %"),
    ("dew_point_c", "Dew point, °C"),
    ("dew_point_f", "Dew point, °F"),
    ("wet_bulb_c", "Wet bulb, °C"),
    ("wet_bulb_f", "Wet bulb, °F"),
)
PARTED_BY = (
    (",", "Commas"), (";", "Semicolons"), ("\t", "Tabs"), ("|", "Upright strokes"),
    (SPACES, "Spaces"),
)  # fmt: skip
DAY_ORDERS = (
    ("", "As the dates themselves show"),
    (DayOrder.DAY_FIRST, "Day first: 03/04 is 3 April"),
    (DayOrder.MONTH_FIRST, "Month first: 03/04 is March 4"),
)
_REGIONS = (
    "Africa/", "America/", "Asia/", "Atlantic/", "Australia/", "Europe/", "Indian/", "Pacific/",
)  # fmt: skip
_HALF_HOURS = ("-09:30", "-03:30", "+03:30", "+04:30", "+05:30", "+05:45", "+06:30", "+09:30")


class AirFileForm(forms.Form):
    """The upload."""

    file = forms.FileField(
        label="The logger's file, as it writes it (CSV or text)",
        help_text="Up to 30 MB. You see how it is read before anything is kept.",
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,.log,text/*"}),
        allow_empty_file=True,
    )

    def kept(
        self, place: Place, by: Person, now: datetime, *, fahrenheit: bool
    ) -> AirImport | None:
        """The file kept, or None with what is wrong beside the field."""
        file = self.cleaned_data["file"]
        try:
            return air_imports.receive(place, file, by=by, now=now, fahrenheit=fahrenheit)
        except ValidationError as problem:
            self.add_error("file", problem)
            return None


@dataclass(frozen=True)
class ColumnChoice:
    """A column of the file: its heading, what stands in its first lines, and its select."""

    heading: str
    examples: str
    field: forms.BoundField

    @property
    def is_used(self) -> bool:
        return bool(self.field.value()) or bool(self.field.errors)


class LayoutForm(forms.Form):
    """What each column holds, the clock of the times, the order of the dates."""

    zone = forms.ChoiceField(
        label="Times are of",
        required=False,
        help_text="A time that bears its own offset keeps it.",
    )
    day_order = forms.ChoiceField(label="Dates are written", required=False, choices=DAY_ORDERS)
    parted_by = forms.ChoiceField(label="Columns are parted by", choices=PARTED_BY)
    first = forms.IntegerField(label="The first line of air is line", min_value=1)

    def __init__(
        self,
        data: "QueryDict | MultiValueDict[str, str] | None" = None,
        *,
        kept: AirImport,
        preview: Preview,
    ) -> None:
        self.kept, self.layout, self.head = kept, preview.layout, preview.head
        super().__init__(data, label_suffix="", initial=_said(preview.layout))
        zone = self.fields["zone"]
        assert isinstance(zone, forms.ChoiceField)
        zone.choices = list(_zones())
        for index in range(self._width()):
            self.fields[f"column_{index}"] = forms.ChoiceField(
                label=self._heading(index), required=False, choices=MEANINGS
            )

    @property
    def columns(self) -> list[ColumnChoice]:
        return [
            ColumnChoice(self._heading(i), self._examples(i), self[f"column_{i}"])
            for i in range(self._width())
        ]

    @property
    def used_columns(self) -> list[ColumnChoice]:
        return [column for column in self.columns if column.is_used]

    @property
    def other_columns(self) -> list[ColumnChoice]:
        return [column for column in self.columns if not column.is_used]

    def clean(self) -> dict[str, Any]:
        said = dict(super().clean() or self.cleaned_data)
        if not self.errors:
            said["layout"] = self._layout(said)
        return said

    def _layout(self, said: dict[str, Any]) -> Layout:
        """The layout as said; parted another way, everything is looked for anew."""
        if said["parted_by"] != self.layout.parted_by:
            lines = air_imports.lines_of(self.kept)
            parted = air_table.guess(lines, fahrenheit=False, parted_by=said["parted_by"])
            return replace(parted.layout, zone=said["zone"])
        columns, fahrenheit = self._meanings(said)
        order = DayOrder(said["day_order"]) if said["day_order"] else None
        return replace(
            self.layout,
            heading=self._heading_above(said["first"]),
            columns=columns,
            fahrenheit=fahrenheit,
            day_order=order,
            order_said=order is not None,
            zone=said["zone"],
            first=said["first"],
        )

    def _heading_above(self, first: int) -> str:
        """The line above the first of air, where a person says the table begins elsewhere."""
        if first == self.layout.first:
            return self.layout.heading
        above = next((row for line, row in self.head if line == first - 1), [])
        return air_table.as_written(above, self.layout.parted_by)

    def _meanings(self, said: dict[str, Any]) -> tuple[dict[str, int], dict[str, bool]]:
        columns: dict[str, int] = {}
        fahrenheit: dict[str, bool] = {}
        for index in range(self._width()):
            name = said[f"column_{index}"]
            plain = name[:-2] if name[:-2] in IN_DEGREES else name
            if not plain:
                continue
            if plain in columns or (plain in GIVEN and set(columns) & set(GIVEN)):
                self.add_error(f"column_{index}", _twice(plain))
            columns[plain] = index
            if plain in IN_DEGREES:
                fahrenheit[plain] = name.endswith("_f")
        if {"moment", "date"} <= set(columns):
            self.add_error(f"column_{columns['date']}", _twice("moment"))
        return columns, fahrenheit

    def _width(self) -> int:
        widths = [len(row) for line, row in self.head if line >= self.layout.first - 1]
        return min(max(widths, default=0), MOST_COLUMNS)

    def _heading(self, index: int) -> str:
        heading = air_table.cell_of(self.layout.headings, index)
        return heading or f"Column {index + 1}"

    def _examples(self, index: int) -> str:
        rows = [row for line, row in self.head if line >= self.layout.first and any(row)]
        cells = [air_table.cell_of(row, index) for row in rows[:EXAMPLES]]
        return " · ".join(cell[:30] for cell in cells if cell)


def _twice(name: str) -> str:
    if name in GIVEN:
        return "Two columns are said to hold the humidity: leave one out."
    words = {"moment": "the date", "date": "the date", "time": "the time", **COLUMN_WORDS}
    return f"Two columns are said to hold {words.get(name, 'the temperature')}: leave one out."


def _said(layout: Layout) -> dict[str, Any]:
    """The layout as the form shows it."""
    columns = {
        f"column_{index}": f"{name}_{'f' if layout.fahrenheit.get(name) else 'c'}"
        if name in IN_DEGREES
        else name
        for name, index in layout.columns.items()
    }
    order = layout.day_order if layout.order_said else ""
    fixed = {"zone": layout.zone, "day_order": order, "parted_by": layout.parted_by}
    return {**columns, **fixed, "first": layout.first}


def _zones() -> Iterator[tuple[str, Any]]:
    yield "", f"The yard's own clock ({settings.TIME_ZONE})"
    whole = [f"{'-' if h < 0 else '+'}{abs(h):02}:00" for h in range(-12, 15)]
    offsets = sorted([*whole, *_HALF_HOURS], key=lambda text: int(text.replace(":", "")))
    yield "One offset all year", [(text, f"UTC{text}".replace("-", "−")) for text in offsets]
    names = sorted(n for n in zoneinfo.available_timezones() if n.startswith(_REGIONS))
    yield "The clock of a region", [(name, name.replace("_", " ")) for name in names]
