"""Entering a moisture check: one head (day, meter, wood temperature) and a row for each reading."""

import re
from collections.abc import Sequence
from datetime import date, datetime
from typing import Any
from uuid import uuid4

from django import forms
from django.http import QueryDict

from inventory import checks, reading_plan
from inventory.asked import whole_number
from inventory.checks import CheckProblem
from inventory.forms.asking import Asking
from inventory.forms.readings import ReadingRow, TemperatureField
from inventory.models import Meter, MoistureCheck, Person, Reading, Slab
from inventory.reading_plan import Depth, Planned, depth_text, distance_text
from inventory.wood import measure

INSTEAD = "instead"
SPARE_ROWS = 3
MOST_ROWS = 40
# Outside this a wood temperature is asked about, °C.
USUAL_WOOD_C = (-25.0, 50.0)


class HeadForm(Asking, forms.Form):
    """What holds for every reading of the visit."""

    meter = forms.ModelChoiceField(
        Meter.objects.filter(is_retired=False),
        empty_label="Choose the meter",
        error_messages={"required": "Say which meter you used."},
    )
    wood_temp = TemperatureField(
        required=False, widget=forms.TextInput(attrs={"inputmode": "text", "autocomplete": "off"})
    )
    on = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}))
    note = forms.CharField(label="Note", max_length=300, required=False)
    entry_key = forms.CharField(max_length=40, required=False, widget=forms.HiddenInput)
    rows = forms.IntegerField(min_value=1, max_value=MOST_ROWS, widget=forms.HiddenInput)

    def __init__(self, *args: Any, slab: Slab, today: date, system: str, **kwargs: Any) -> None:
        super().__init__(*args, **{"label_suffix": "", **kwargs})
        self.slab, self.today, self.system = slab, today, system
        field = self.fields["wood_temp"]
        assert isinstance(field, TemperatureField)
        field.system = system
        unit = "°F" if system == measure.IMPERIAL else "°C"
        field.label = f"Wood temperature, {unit}"

    def clean(self) -> dict[str, Any]:
        cleaned = dict(super().clean() or self.cleaned_data)
        temp_c = cleaned.get("wood_temp")
        if temp_c is not None and not USUAL_WOOD_C[0] <= temp_c <= USUAL_WOOD_C[1]:
            said = measure.format_temperature(temp_c, self.system)
            self.ask("wood_temp", f"Wood at {said}? Is that right?")
        if on := cleaned.get("on"):
            try:
                checks.refuse_day(self.slab, on, self.today)
            except CheckProblem as problem:
                self.add_error("on", str(problem))
        return cleaned


class CheckEntry:
    """The whole page: head and rows, new or correcting an earlier check."""

    def __init__(
        self,
        slab: Slab,
        person: Person,
        system: str,
        today: date,
        data: QueryDict | None = None,
        corrects: MoistureCheck | None = None,
    ) -> None:
        self.slab, self.person, self.system, self.today = slab, person, system, today
        self.corrects = corrects
        self.last_pct = checks.last_mean_pct(slab, leaving_out=corrects)
        self.data = None if data is None else _answered(data)
        initials = self._row_initials()
        self.head = HeadForm(
            self.data,
            initial={**self._head_initial(), "rows": len(initials)},
            slab=slab,
            today=today,
            system=system,
        )
        self.rows = [self._row(at, initials) for at in range(self._row_count(len(initials)))]

    @property
    def kept_tokens(self) -> list[str]:
        head = [self.head.keep_token("wood_temp")] if self._head_keeps() else []
        return head + [token for row in self.rows for token in row.kept_tokens]

    @property
    def aim_words(self) -> str:
        """How deep single readings go: `½ in`."""
        return depth_text(reading_plan.aim_mm(self.slab.thickness_mm), self.system)

    @property
    def end_words(self) -> str:
        """How far from an end readings stay on this slab."""
        nearest = min(row for row in reading_plan.places_along(self.slab.length_mm).values())
        from_end_mm = min(reading_plan.FROM_END_MM, nearest * self.slab.length_mm)
        return distance_text(from_end_mm, self.system)

    @property
    def needs_core(self) -> bool:
        return reading_plan.needs_core(self.slab.thickness_mm)

    @property
    def shown(self) -> list[ReadingRow]:
        """The rows this slab needs."""
        return self.rows[: self._needed]

    @property
    def spare(self) -> list[ReadingRow]:
        return self.rows[self._needed :]

    @property
    def spare_is_open(self) -> bool:
        return any(row.now("value") or row.errors for row in self.spare if row.is_bound)

    def is_valid(self) -> bool:
        """Whether all of it can be stored; every doubt and problem is beside its field."""
        parts: list[forms.Form] = [self.head, *self.rows]
        for part in parts:
            part.full_clean()
        filled = [row for row in self.rows if row.is_filled]
        if not filled and not any(row.errors for row in self.rows):
            self.rows[0].add_error("value", "Type at least one reading.")
        values = [row.cleaned_data["value"] for row in filled]
        for at, row in enumerate(filled):
            row.doubt(self.last_pct, values[:at] + values[at + 1 :])
        return not any(part.errors for part in parts)

    def save(self, now: datetime) -> MoistureCheck | None:
        """Record the check; None when it cannot be, with the sentence on the page."""
        head = self.head.cleaned_data
        try:
            return checks.record_check(
                self.slab,
                by=self.person,
                on=head["on"],
                meter=head["meter"],
                wood_temp_c=head["wood_temp"],
                readings=[row.entry() for row in self.rows if row.is_filled],
                note=head["note"],
                entry_key=head["entry_key"],
                now=now,
                supersedes=self.corrects,
            )
        except CheckProblem as problem:
            self.head.add_error(problem.field if problem.field == "on" else None, str(problem))
            return None

    def _head_keeps(self) -> bool:
        return self.head.is_bound and self.head.is_kept("wood_temp")

    def _row_count(self, planned: int) -> int:
        if self.data is None:
            return planned
        typed = whole_number(self.data.get("rows"))
        return planned if typed is None else min(max(typed, 1), MOST_ROWS)

    def _row(self, at: int, initials: Sequence[dict[str, Any]]) -> ReadingRow:
        initial = initials[at] if at < len(initials) else {}
        return ReadingRow(
            self.data,
            prefix=f"r{at}",
            initial=initial,
            slab=self.slab,
            system=self.system,
            number=at + 1,
        )

    def _head_initial(self) -> dict[str, Any]:
        if self.corrects is not None:
            return {
                "on": self.corrects.on,
                "meter": self.corrects.meter,
                "wood_temp": _temp_text(self.corrects.wood_temp_c, self.system),
                "note": self.corrects.note,
                "entry_key": uuid4().hex,
            }
        temp_c = checks.last_wood_temp_c_of(self.person, self.today)
        return {
            "on": self.today,
            "meter": checks.last_meter_of(self.person) or _only_meter(),
            "wood_temp": _temp_text(temp_c, self.system),
            "entry_key": uuid4().hex,
        }

    def _row_initials(self) -> list[dict[str, Any]]:
        if self.corrects is not None:
            rows = [self._read_before(reading) for reading in self.corrects.readings.all()]
        else:
            plan = reading_plan.plan(self.slab.length_mm, self.slab.thickness_mm)
            rows = [_planned(planned) for planned in plan]
        self._needed = len(rows)
        spare = {"along": "", "depth": Depth.AIM.value}
        return [*rows, *[spare] * SPARE_ROWS]

    def _read_before(self, reading: Reading) -> dict[str, Any]:
        row: dict[str, Any] = {
            "value": f"{reading.raw_pct:g}",
            "along": "" if reading.along is None else f"{reading.along:g}",
            "across": "" if reading.across is None else f"{reading.across:.2f}",
            "depth": reading.zone if reading.zone in set(Depth) else Depth.UNKNOWN.value,
        }
        if reading.depth_mm is not None:
            named = reading_plan.depth_named(reading.depth_mm, self.slab.thickness_mm)
            row["depth"] = (named or Depth.UNKNOWN).value
            if named is None:
                row["other_depth"] = measure.format_length(reading.depth_mm, self.system)
        return row


def _answered(data: QueryDict) -> QueryDict:
    """The data with a tapped answer (“9.2” instead of 92) in its field."""
    answered = data.copy()
    for answer in data.getlist(INSTEAD):
        name, _, text = answer.partition("=")
        if re.fullmatch(r"r\d+-value", name):
            answered[name] = text
    return answered


def _planned(planned: Planned) -> dict[str, Any]:
    return {"along": f"{planned.along:.2f}", "depth": planned.depth.value}


def _only_meter() -> Meter | None:
    meters = list(Meter.objects.filter(is_retired=False)[:2])
    return meters[0] if len(meters) == 1 else None


def _temp_text(temp_c: float | None, system: str) -> str:
    """The number alone, in the viewer's unit."""
    if temp_c is None:
        return ""
    number = temp_c * 1.8 + 32 if system == measure.IMPERIAL else temp_c
    return f"{round(number, 1):g}"
