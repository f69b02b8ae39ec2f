"""What is asked of the forecasts: for which target and day, and which wood; all by GET."""

from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.http import QueryDict

from inventory import ready_when
from inventory.forms.fields import LengthField
from inventory.forms.movement import Linkable, MoistureField, number_input, said_pct, said_temp
from inventory.forms.readings import NumberField
from inventory.forms.temperature import AirTemperatureField
from inventory.readiness import Target, Use, target_for, target_for_home
from inventory.wood import humidity

USUAL_AHEAD = timedelta(days=91)
WETTEST_TARGET_PCT = 28.0
OWN_RANGE, HOME_AIR = "range", "air"
TARGETS = [
    (Use.INTERIOR.value, "Interior furniture"),
    (Use.RESIN.value, "Resin work"),
    (Use.OUTDOOR.value, "Outdoor use"),
    (HOME_AIR, "The air of a home"),
    (OWN_RANGE, "A range of its own"),
]


class WhenForm(Linkable):
    """The target (`for`), from a use, a home's air or a range; and the day it must be met by."""

    low = MoistureField(most=WETTEST_TARGET_PCT, required=False, label="From, %")
    high = MoistureField(most=WETTEST_TARGET_PCT, required=False, label="To, %")
    temp = AirTemperatureField(required=False, label="The home's temperature")
    rh = NumberField(required=False, label="Its humidity, % RH", widget=number_input())
    by = forms.DateField(
        label="Dry enough by", widget=forms.DateInput({"type": "date"}, "%Y-%m-%d")
    )
    field_order = ("for", "low", "high", "temp", "rh", "by")

    def __init__(self, said: QueryDict, *, system: str, today: date) -> None:
        self.today = today
        super().__init__(said, system=system)
        # `for` is no name Python lets a class body give.
        self.fields["for"] = forms.ChoiceField(label="Dry enough for", choices=TARGETS)
        self.order_fields(self.field_order)

    def usual(self) -> dict[str, Any]:
        target = target_for(Use.INTERIOR)
        return {
            "for": Use.INTERIOR.value,
            "low": said_pct(target.low_pct),
            "high": said_pct(target.high_pct),
            "temp": said_temp(21.0, self.system),
            "rh": said_pct(45.0),
            "by": (self.today + USUAL_AHEAD).isoformat(),
        }

    def _exact(self, value: Any) -> Any:
        exact = super()._exact(value)
        return date.fromisoformat(exact) if value == self.exact["by"] else exact

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        if said.get("for") == OWN_RANGE:
            self._demand_range(said)
        elif said.get("for") == HOME_AIR:
            self._demand_air(said)
        return said

    def _demand_range(self, said: dict[str, Any]) -> None:
        for name in ("low", "high"):
            if said.get(name) is None and name not in self.errors:
                self.add_error(name, "Say from which moisture to which.")
        if not self.errors and not said["low"] < said["high"]:
            self.add_error("high", "This must be the wetter end of the range.")

    def _demand_air(self, said: dict[str, Any]) -> None:
        for name in ("temp", "rh"):
            if said.get(name) is None and name not in self.errors:
                self.add_error(name, "The home's air is wanted to reckon with.")
        if self.errors:
            return
        try:
            humidity.emc_pct(said["temp"], said["rh"])
        except humidity.OutOfRange as problem:
            self.add_error("rh", str(problem))

    @property
    def target(self) -> Target:
        said = self.cleaned_data
        if said["for"] == OWN_RANGE:
            return Target(said["low"], said["high"], Use.INTERIOR, named="a range of its own")
        if said["for"] == HOME_AIR:
            target = target_for_home(said["temp"], said["rh"])
            return Target(target.low_pct, target.high_pct, Use.INTERIOR, named="that home")
        return target_for(said["for"])


class ReadyWhenForm(forms.Form):
    """Which wood, counted on which day, in which air."""

    sure = forms.ChoiceField(
        required=False,
        label="Counted on",
        choices=[
            (ready_when.LIKELY, "Its likeliest day"),
            (ready_when.SAFE, "A safe day (9 in 10)"),
        ],
    )
    air = forms.ChoiceField(
        required=False,
        label="In the air",
        choices=[
            (ready_when.HERE, "Where it lies"),
            (ready_when.MOVED, "Indoors if it must be"),
        ],
    )
    species = forms.TypedChoiceField(required=False, coerce=int, empty_value=None)
    least = LengthField(kind="slab_thickness", required=False, label="Thickness from")
    most = LengthField(kind="slab_thickness", required=False, label="Thickness to")
    free = forms.BooleanField(required=False, label="Free wood only")

    def __init__(self, said: QueryDict, *, system: str) -> None:
        super().__init__(said, label_suffix="")
        species: Any = self.fields["species"]
        species.choices = [("", "Every species"), *ready_when.species_choices()]
        for field in self.fields.values():
            if isinstance(field, LengthField):
                field.system = system

    @property
    def query(self) -> str:
        """What was asked, as the beginning of an address that asks for more."""
        said = [(name, value) for name, value in self.data.items() if name in self.fields and value]
        return f"{urlencode(said)}&" if said else ""

    @property
    def asked(self) -> ready_when.Asked:
        said = self.cleaned_data if self.is_valid() else {}
        return ready_when.Asked(
            sure=said.get("sure") or ready_when.LIKELY,
            air=said.get("air") or ready_when.HERE,
            species=said.get("species"),
            least_mm=said.get("least"),
            most_mm=said.get("most"),
            free_only=bool(said.get("free")),
        )
