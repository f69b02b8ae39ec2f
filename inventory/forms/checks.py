"""Entering a moisture check: one head (day, meter, wood temperature) and a row for each reading."""

import re
from collections.abc import Sequence
from datetime import date, datetime
from typing import Any
from uuid import uuid4

from django import forms
from django.http import QueryDict

from inventory import checks, reading_plan
from inventory.checks import CheckProblem, ReadingEntry
from inventory.forms.asking import CONFIRM, Asking
from inventory.models import Meter, MoistureCheck, Person, Reading, Slab
from inventory.reading_plan import Depth, Planned
from inventory.wood import measure, moisture
from inventory.wood.lengths import MM_PER_IN

INSTEAD = "instead"
SPARE_ROWS = 3
MOST_ROWS = 40
# Outside this a wood temperature is asked about, °C; beyond the wider span it is refused.
USUAL_WOOD_C = (-25.0, 50.0)
POSSIBLE_WOOD_C = (-60.0, 150.0)

_NUMBER = re.compile(r"[-−]?(?:\d+[.,]?\d*|[.,]\d+)", re.ASCII)
_TEMPERATURE = re.compile(rf"({_NUMBER.pattern})\s*°?\s*([CF])?", re.ASCII | re.IGNORECASE)


class NumberField(forms.CharField):
    """A number with a decimal point or comma, perhaps followed by %; cleaned to float or None."""

    def to_python(self, value: Any) -> Any:
        text = (super().to_python(value) or "").removesuffix("%").strip()
        if not text:
            return None
        if not _NUMBER.fullmatch(text):
            raise forms.ValidationError(f"“{text}” is not a number: type it like 9.2.")
        return _number(text)


class TemperatureField(forms.CharField):
    """A temperature in the viewer's unit, or in the one typed behind it; cleaned to °C or None."""

    system = measure.IMPERIAL

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value)
        if not text:
            return None
        match = _TEMPERATURE.fullmatch(text)
        if match is None:
            raise forms.ValidationError(f"“{text}” is not a temperature: type it like 68.")
        unit = (match[2] or ("F" if self.system == measure.IMPERIAL else "C")).upper()
        temp_c = _number(match[1]) if unit == "C" else (_number(match[1]) - 32) / 1.8
        if not POSSIBLE_WOOD_C[0] <= temp_c <= POSSIBLE_WOOD_C[1]:
            raise forms.ValidationError("No wood here is that hot or cold: look again.")
        return temp_c


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


class ReadingRow(Asking, forms.Form):
    """One reading: its number, its place along the slab, its depth."""

    value = NumberField(
        required=False,
        widget=forms.TextInput(
            attrs={
                "inputmode": "decimal",
                "autocomplete": "off",
                "class": "reading-value",
                "enterkeyhint": "next",
                "maxlength": 12,
            }
        ),
    )
    along = forms.FloatField(
        label="Place", required=False, min_value=0, max_value=1, widget=forms.Select
    )
    depth = forms.CharField(label="Depth", required=False, widget=forms.Select)
    other_depth = forms.CharField(
        label="Another depth",
        required=False,
        max_length=20,
        widget=forms.TextInput(attrs={"autocomplete": "off", "class": "size"}),
    )

    def __init__(self, *args: Any, slab: Slab, system: str, number: int, **kwargs: Any) -> None:
        super().__init__(*args, **{"label_suffix": "", **kwargs})
        self.slab, self.system, self.number = slab, system, number
        self.place_words = place_words(slab, system)
        self.depth_words = depth_words(slab, system)
        self._offer("along", {"": "Place not said", **self.place_words}, self._place_elsewhere)
        self._offer("depth", self.depth_words, str)
        self.fields["value"].label = f"Reading {number}"

    def _offer(self, name: str, words: dict[str, str], say: Any) -> None:
        """The choices of a select, the present value among them whatever it is."""
        now = self.now(name)
        offered = words if now in words else {**words, now: say(now)}
        widget = self.fields[name].widget
        assert isinstance(widget, forms.Select)
        widget.choices = list(offered.items())

    def _place_elsewhere(self, along: str) -> str:
        try:
            return along_words(float(along), self.slab, self.system)
        except ValueError:
            return along

    def now(self, name: str) -> str:
        """The field's present text, typed or planned."""
        return str(self[name].value() or "")

    @property
    def is_filled(self) -> bool:
        return self.cleaned_data.get("value") is not None

    @property
    def where(self) -> str:
        """Place and depth in words, for the row's label."""
        place = self.place_words.get(self.now("along")) or self._place_elsewhere(self.now("along"))
        return place or "Place not said"

    @property
    def how_deep(self) -> str:
        typed = self.now("other_depth")
        return typed or self.depth_words.get(self.now("depth"), "")

    @property
    def shape(self) -> str:
        """The mark this reading will have on the slab's map."""
        if self.now("other_depth"):
            return "ring"
        shapes = {Depth.SHELL: "square", Depth.AIM: "diamond", Depth.CORE: "disc"}
        return shapes.get(Depth(self.now("depth")), "ring") if self._knows_depth() else "ring"

    @property
    def kept_tokens(self) -> list[str]:
        """What was confirmed before, so that another question does not ask it again."""
        return [self.keep_token(n) for n in ("value",) if self.is_bound and self.is_kept(n)]

    def _knows_depth(self) -> bool:
        return self.now("depth") in set(Depth)

    def clean_value(self) -> float | None:
        raw: float | None = self.cleaned_data["value"]
        if raw is not None and raw < 0:
            raise forms.ValidationError("A reading cannot be below nothing.")
        return raw

    def clean_depth(self) -> str:
        if self.cleaned_data["depth"] not in set(Depth):
            raise forms.ValidationError("Choose how deep it was taken.")
        return str(self.cleaned_data["depth"])

    def clean_other_depth(self) -> float | None:
        text = self.cleaned_data["other_depth"].strip()
        if not text:
            return None
        try:
            depth_mm = measure.parse_length_mm(text, self.system)
        except measure.LengthProblem as problem:
            raise forms.ValidationError(str(problem)) from problem
        if depth_mm > self.slab.thickness_mm:
            thick = measure.format_length(self.slab.thickness_mm, self.system)
            raise forms.ValidationError(f"The slab is {thick} thick: no reading is deeper.")
        return depth_mm

    def doubt(self, last_pct: float | None, others: Sequence[float]) -> None:
        """Ask about a number that does not look right; refuse one no meter shows."""
        raw = self.cleaned_data["value"]
        doubt = _doubt_about(raw, last_pct, others)
        if doubt is None:
            return
        meant = "" if doubt.suggestion_pct is None else f"{doubt.suggestion_pct:g}"
        if raw <= checks.MOST_RAW_PCT:
            self.ask("value", doubt.question, meant)
            return
        again = doubt.question if meant else f"{raw:g}? No meter shows that much: type it again."
        self.add_error("value", forms.ValidationError(again, code="asked"))
        field: Any = self.fields["value"]
        field.suggestion = meant

    def entry(self) -> ReadingEntry:
        clean = self.cleaned_data
        depth = Depth(clean["depth"])
        depth_mm = clean["other_depth"]
        if depth_mm is None:
            depth_mm = reading_plan.depth_mm(depth, self.slab.thickness_mm)
        return ReadingEntry(raw_pct=clean["value"], along=clean["along"], depth_mm=depth_mm)


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
        valid = not any(part.errors for part in parts)
        filled = [row for row in self.rows if row.is_filled]
        if not filled and not any(row.errors for row in self.rows):
            self.rows[0].add_error("value", "Type at least one reading.")
        values = [row.cleaned_data["value"] for row in filled]
        for at, row in enumerate(filled):
            row.doubt(self.last_pct, values[:at] + values[at + 1 :])
        return valid and not any(part.errors for part in parts)

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
        typed = self.data.get("rows", "")
        return min(max(int(typed), 1), MOST_ROWS) if typed.isdecimal() else planned

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
            "depth": reading.zone if reading.zone in set(Depth) else Depth.UNKNOWN.value,
        }
        if reading.depth_mm is not None:
            named = reading_plan.depth_named(reading.depth_mm, self.slab.thickness_mm)
            row["depth"] = (named or Depth.UNKNOWN).value
            if named is None:
                row["other_depth"] = measure.format_length(reading.depth_mm, self.system)
        return row


def _doubt_about(
    raw_pct: float, last_pct: float | None, others: Sequence[float]
) -> moisture.Doubt | None:
    """The doubt that has a number to offer, beside the last check or the rest of this one."""
    last = None if last_pct is None else round(last_pct, 1)
    doubt = moisture.doubtful(raw_pct, last_pct=last, others=others)
    if doubt is None or doubt.suggestion_pct is not None or not others:
        return doubt
    among = moisture.doubtful(raw_pct, last_pct=None, others=others)
    return among if among is not None and among.suggestion_pct is not None else doubt


def place_words(slab: Slab, system: str) -> dict[str, str]:
    """The places offered, by their share of the length as text."""
    thirds = reading_plan.places_along(slab.length_mm)
    left, right = thirds["Left"], thirds["Right"]
    shares = (left, (left + 0.5) / 2, 0.5, (right + 0.5) / 2, right)
    return {f"{share:.2f}": along_words(round(share, 2), slab, system) for share in shares}


def along_words(along: float, slab: Slab, system: str) -> str:
    """`Left, 16 in from the end`."""
    if abs(along - 0.5) < 0.005:
        return "Middle"
    side = "Left" if along < 0.5 else "Right"
    return f"{side}, {distance_text(min(along, 1 - along) * slab.length_mm, system)} from the end"


def distance_text(distance_mm: float, system: str) -> str:
    """To the inch or the centimetre, as one paces it off: `16 in`."""
    step = MM_PER_IN if system == measure.IMPERIAL else 10.0
    return measure.format_length(round(distance_mm / step) * step, system, kind="length")


def depth_words(slab: Slab, system: str) -> dict[str, str]:
    """The depths offered: `Pins at 12 mm`."""

    def said(depth: Depth) -> str:
        return depth_text(reading_plan.depth_mm(depth, slab.thickness_mm) or 0.0, system)

    return {
        Depth.AIM.value: f"Pins at {said(Depth.AIM)}",
        Depth.SHELL.value: f"Shell, {said(Depth.SHELL)} deep",
        Depth.CORE.value: f"Core, {said(Depth.CORE)} deep",
        Depth.UNKNOWN.value: "Depth not said",
    }


def depth_text(depth_mm: float, system: str) -> str:
    """To the millimetre, or to the eighth of an inch: pins are not set finer."""
    step = MM_PER_IN / 8 if system == measure.IMPERIAL else 1.0
    return measure.format_length(max(step, round(depth_mm / step) * step), system)


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


def _number(text: str) -> float:
    return float(text.replace("−", "-").replace(",", "."))


__all__ = ["CONFIRM", "INSTEAD", "CheckEntry", "HeadForm", "ReadingRow"]
