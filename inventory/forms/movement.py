"""How dry, and in which air: asked by GET, so that every answer has an address."""

from typing import Any
from urllib.parse import urlencode

from django import forms
from django.http import QueryDict

from inventory.forms.fields import LengthField
from inventory.forms.readings import NumberField
from inventory.forms.temperature import AirTemperatureField, degrees_sign, shown_temperature
from inventory.models import Slab
from inventory.movement import USUAL_SUMMER_AIR, USUAL_WINTER_AIR, Air
from inventory.readiness import INTERIOR
from inventory.wood import humidity, measure
from inventory.wood.shrinkage import FIBRE_SATURATION_PCT

WETTEST_PCT = 200.0
# Wood nobody has checked is reckoned wet.
WET_PCT = FIBRE_SATURATION_PCT
WETTEST_TARGET_PCT = 60.0
# The air of rooms; a kiln or a frost is no home.
HOME_C = (-20.0, 45.0)
TO_MOISTURE, TO_AIR = "mc", "air"


def number_input() -> forms.TextInput:
    attrs = {"inputmode": "decimal", "autocomplete": "off", "class": "number"}
    return forms.TextInput(attrs={**attrs, "maxlength": 12})


class MoistureField(NumberField):
    """% MC from nothing to `most`."""

    def __init__(self, *, most: float, **kwargs: Any) -> None:
        self.most = most
        super().__init__(**{"widget": number_input(), **kwargs})

    def to_python(self, value: Any) -> Any:
        pct = super().to_python(value)
        if pct is not None and not 0 <= pct <= self.most:
            raise forms.ValidationError(f"Moisture lies between 0 and {self.most:g} % here.")
        return pct


class Linkable(forms.Form):
    """Answers in the address: what is not said there is as usual, shown in its field."""

    def __init__(self, said: QueryDict, *, system: str, **kwargs: Any) -> None:
        self.system = system
        self.exact = self.usual()
        shown = {name: self._shown(value) for name, value in self.exact.items()}
        self.shown = shown
        super().__init__({**shown, **said.dict()}, **{"label_suffix": "", **kwargs})
        for field in self.fields.values():
            if isinstance(field, LengthField | AirTemperatureField):
                field.system = system
            if isinstance(field, AirTemperatureField):
                field.label = f"{field.label}, {degrees_sign(system)}"

    def usual(self) -> dict[str, Any]:
        """What stands in each field unless the address says otherwise."""
        raise NotImplementedError

    def _shown(self, value: Any) -> str:
        return "" if value is None else str(value)

    def clean(self) -> dict[str, Any]:
        """What came back as it was shown stays exact (703.2 mm shown as 27⅝ in)."""
        said = dict(super().clean() or self.cleaned_data)
        for name, value in self.exact.items():
            if name in said and self.data.get(name) == self.shown[name]:
                said[name] = self._exact(value)
        return said

    def _exact(self, value: Any) -> Any:
        return value.value if isinstance(value, Said) else value

    @property
    def link(self) -> str:
        """The same answers as a query whose units stand in it, whoever opens it."""
        names = [name for name in self.fields if self.cleaned_data.get(name) not in (None, "")]
        return urlencode({name: self._with_unit(name) for name in names})

    def _with_unit(self, name: str) -> str:
        value, field = self.cleaned_data[name], self.fields[name]
        if isinstance(field, LengthField):
            return f"{value:.1f} mm"
        if isinstance(field, AirTemperatureField):
            return f"{value:.1f} C"
        return f"{value:g}" if isinstance(value, float) else str(getattr(value, "pk", value))


class Said:
    """A usual value and the text that shows it in the viewer's units."""

    def __init__(self, value: float | None, text: str) -> None:
        self.value, self.text = value, text

    def __str__(self) -> str:
        return self.text


def said_temp(temp_c: float, system: str) -> Said:
    return Said(temp_c, shown_temperature(temp_c, system))


def said_length(mm: float, system: str) -> Said:
    return Said(mm, measure.format_fine(mm, system) if mm else "")


def said_pct(pct: float | None) -> Said:
    return Said(pct, "" if pct is None else f"{pct:.1f}".removesuffix(".0"))


class HomeAirForm(Linkable):
    """The home's air in winter and in summer."""

    winter_temp = AirTemperatureField(label="Winter temperature")
    winter_rh = NumberField(label="Winter humidity, % RH", widget=number_input())
    summer_temp = AirTemperatureField(label="Summer temperature")
    summer_rh = NumberField(label="Summer humidity, % RH", widget=number_input())

    def usual(self) -> dict[str, Any]:
        winter, summer = USUAL_WINTER_AIR, USUAL_SUMMER_AIR
        return {
            "winter_temp": said_temp(winter[0], self.system),
            "winter_rh": said_pct(winter[1]),
            "summer_temp": said_temp(summer[0], self.system),
            "summer_rh": said_pct(summer[1]),
        }

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        for season in ("winter", "summer"):
            self.refuse_air(said, f"{season}_temp", f"{season}_rh")
        return said

    def refuse_air(self, said: dict[str, Any], temp: str, rh: str) -> None:
        """Sets beside its field what no home's air can be."""
        temp_c, rh_pct = said.get(temp), said.get(rh)
        if temp_c is None or rh_pct is None:
            return
        if not HOME_C[0] <= temp_c <= HOME_C[1]:
            self.add_error(temp, "Nobody lives in such air: look again.")
            return
        try:
            humidity.emc_pct(temp_c, rh_pct)
        except humidity.OutOfRange as problem:
            self.add_error(rh, str(problem))

    def air(self, season: str) -> Air:
        said = self.cleaned_data
        return Air(said[f"{season}_temp"], said[f"{season}_rh"])


class SlabMovementForm(HomeAirForm):
    """From which moisture to which (or to which air's), a hollow, the top's width, the home."""

    now = MoistureField(
        most=WETTEST_PCT,
        label="Moisture now, %",
        error_messages={"required": "How wet is it now? Type a meter's reading."},
    )
    reach = forms.ChoiceField(
        label="Reckoned to",
        choices=[(TO_MOISTURE, "A moisture"), (TO_AIR, "What an air makes of it")],
        widget=forms.RadioSelect,
    )
    to = MoistureField(most=WETTEST_TARGET_PCT, required=False, label="Moisture to reach, %")
    temp = AirTemperatureField(required=False, label="The air's temperature")
    rh = NumberField(required=False, label="Its humidity, % RH", widget=number_input())
    hollow = LengthField(
        kind="top_thickness",
        required=False,
        label="Hollow under a straightedge",
        help_text="Where it cups, bows or twists.",
    )
    top_width = LengthField(kind="top_width", label="Width of the finished top")
    field_order = ("now", "reach", "to", "temp", "rh", "hollow", "top_width")

    def __init__(self, said: QueryDict, *, slab: Slab, system: str) -> None:
        self.slab = slab
        super().__init__(said, system=system)
        if not slab.mean_width_mm:
            self.fields["top_width"].required = False

    def usual(self) -> dict[str, Any]:
        middle = (INTERIOR.low_pct + INTERIOR.high_pct) / 2
        return {
            **super().usual(),
            "now": said_pct(WET_PCT if self.slab.mc_pct is None else self.slab.mc_pct),
            "reach": TO_MOISTURE,
            "to": said_pct(middle),
            "temp": said_temp(21.0, self.system),
            "rh": said_pct(45.0),
            "top_width": said_length(self.slab.mean_width_mm, self.system),
        }

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        if said.get("reach") == TO_AIR:
            self._demand(said, "temp", "rh")
            self.refuse_air(said, "temp", "rh")
        elif said.get("reach") == TO_MOISTURE:
            self._demand(said, "to")
        hollow = said.get("hollow")
        if hollow is not None and hollow >= self.slab.thickness_mm:
            self.add_error("hollow", "That is deeper than the slab is thick: look again.")
        return said

    def _demand(self, said: dict[str, Any], *names: str) -> None:
        for name in names:
            if said.get(name) is None and name not in self.errors:
                self.add_error(name, "This is wanted to reckon with.")

    @property
    def to_pct(self) -> float:
        """The moisture to reach: typed, or that of the air."""
        said = self.cleaned_data
        if said["reach"] == TO_AIR:
            return Air(said["temp"], said["rh"]).emc_pct
        return float(said["to"])
