"""Naming a sensor."""

from datetime import datetime

from django import forms
from django.core.exceptions import ValidationError

from inventory import sensors
from inventory.models import Person, Place, SensorToken


class SensorForm(forms.Form):
    name = forms.CharField(
        label="What the sensor is called",
        max_length=60,
        help_text="As written on it, or where it hangs.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def made(self, place: Place, by: Person, now: datetime) -> tuple[SensorToken, str] | None:
        """The sensor and its token, or None with what is wrong beside its field."""
        try:
            return sensors.make_sensor(place, name=self.cleaned_data["name"], by=by, now=now)
        except ValidationError as problem:
            self.add_error("name", " ".join(problem.messages))
            return None
