"""Entering a place's air: one record by hand, or a table pasted."""

from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory import air
from inventory.air import Pasted
from inventory.forms.asking import Asking
from inventory.forms.pasted_table import PastedTableForm
from inventory.forms.temperature import (
    AirTemperatureField,
    degrees_sign,
    read_temperature_c,
    shown_temperature,
)
from inventory.models import AirGiven, AirRecord, Person, Place, PlaceKind
from inventory.wood import measure

# Outside these an unheated place or a shop is asked about; a kiln is what it is.
USUAL_AIR_C = (-35.0, 45.0)
USUAL_RH_LOW_PCT = 8.0
MOMENT_FORMAT = "%Y-%m-%dT%H:%M"


class AirForm(Asking, forms.Form):
    """Temperature with humidity, wet bulb or dew point, now or at a time."""

    temp_c = AirTemperatureField(label="Temperature")
    given = forms.ChoiceField(
        label="Measured beside it",
        choices=AirGiven.choices,
        widget=forms.RadioSelect,
        initial=AirGiven.RH,
    )
    value = forms.CharField(
        label="Humidity, wet bulb or dew point",
        max_length=12,
        widget=forms.TextInput(
            attrs={"inputmode": "text", "autocomplete": "off", "class": "number"}
        ),
    )
    at = forms.DateTimeField(
        label="When",
        required=False,
        help_text="Leave it empty for now.",
        widget=forms.DateTimeInput({"type": "datetime-local"}, MOMENT_FORMAT),
    )

    def __init__(
        self, *args: Any, place: Place, system: str, corrects: AirRecord | None = None, **kw: Any
    ) -> None:
        initial = _as_typed(corrects, system) if corrects else {}
        super().__init__(*args, **{"initial": initial, "label_suffix": "", **kw})
        self.place, self.system, self.corrects = place, system, corrects
        degrees = degrees_sign(system)
        temperature = self.fields["temp_c"]
        assert isinstance(temperature, AirTemperatureField)
        temperature.system = system
        temperature.label = f"Temperature, {degrees}"
        given = self.fields["given"]
        assert isinstance(given, forms.ChoiceField)
        given.choices = [
            (way, f"{way.label}, {'%' if way == AirGiven.RH else degrees}") for way in AirGiven
        ]

    def clean(self) -> dict[str, Any]:
        said = dict(super().clean() or self.cleaned_data)
        if said.get("value"):
            try:
                said["value"] = self._number(said["value"], said.get("given", ""))
            except ValidationError as problem:
                self.add_error("value", problem)
        if not self.errors and self.place.kind != PlaceKind.KILN:
            self._ask(said)
        return said

    def _number(self, text: str, given: str) -> float:
        if given != AirGiven.RH:
            return read_temperature_c(text, self.system)
        try:
            return float(text.removesuffix("%").strip().replace(",", "."))
        except ValueError as problem:
            raise ValidationError(f"“{text}” is not a humidity: type it like 45.") from problem

    def _ask(self, said: dict[str, Any]) -> None:
        if not USUAL_AIR_C[0] <= said["temp_c"] <= USUAL_AIR_C[1]:
            words = measure.format_temperature(said["temp_c"], self.system)
            self.ask("temp_c", f"{words} in {self.place}? Is that right?")
        if said["given"] == AirGiven.RH and 0 <= said["value"] < USUAL_RH_LOW_PCT:
            self.ask("value", f"Humidity of {said['value']:g} %? No house is that dry. Keep it?")

    def recorded(self, by: Person, now: datetime) -> AirRecord | None:
        """The record, or None with what is wrong beside its field."""
        said = self.cleaned_data
        numbers = {name: said[name] for name in ("temp_c", "given", "value")}
        at = said["at"] or now.replace(second=0, microsecond=0)
        try:
            return air.record_air(
                self.place, at=at, by=by, now=now, corrects=self.corrects, **numbers
            )
        except ValidationError as problem:
            self.add_error(None, problem)
            return None


def _as_typed(record: AirRecord, system: str) -> dict[str, Any]:
    value = f"{record.given_value:g}"
    if record.given != AirGiven.RH:
        value = shown_temperature(record.given_value, system)
    return {
        "temp_c": record.temp_c,
        "given": record.given,
        "value": value,
        "at": timezone.localtime(record.at).strftime(MOMENT_FORMAT),
    }


class AirPasteForm(PastedTableForm):
    """A table of air, pasted."""

    text_label = "The table"
    text_help = "Time, temperature, and humidity, wet bulb or dew point; headings help."
    nothing_to_read = "There is nothing to read: paste the table."

    def taken(self, place: Place, by: Person, now: datetime) -> Pasted | None:
        """What became of the table, or None with what is wrong beside its field."""
        return self._taken(
            lambda text, fahrenheit, day_order: air.paste_air(
                place, text, by=by, now=now, fahrenheit=fahrenheit, day_order=day_order
            )
        )
