"""A temperature typed in the viewer's unit, or in the one typed behind it."""

import re
from typing import Any

from django import forms

from inventory.wood import measure

_TYPED = re.compile(r"([-−+]?(?:\d+[.,]?\d*|[.,]\d+))\s*°?\s*([CF])?", re.ASCII | re.IGNORECASE)


def degrees_sign(system: str) -> str:
    return "°C" if system == measure.METRIC else "°F"


def read_temperature_c(text: str, system: str) -> float:
    """`68`, `68 F`, `20,5 °C` as °C; a bare number is in the system's own degrees.

    Raises:
        forms.ValidationError: with a sentence.
    """
    match = _TYPED.fullmatch(text.strip())
    if match is None:
        example = "20.5" if system == measure.METRIC else "68"
        raise forms.ValidationError(f"“{text}” is not a temperature: type it like {example}.")
    degrees = float(match[1].replace("−", "-").replace(",", "."))
    unit = (match[2] or degrees_sign(system)[1]).upper()
    return degrees if unit == "C" else (degrees - 32.0) / 1.8


def shown_temperature(temp_c: float, system: str) -> str:
    """As it would be typed: to a hundredth, without zeros that say nothing."""
    degrees = temp_c if system == measure.METRIC else temp_c * 1.8 + 32.0
    return f"{degrees:.2f}".rstrip("0").rstrip(".")


class AirTemperatureField(forms.CharField):
    """Cleaned to °C (float); the form gives it the viewer's `system`."""

    widget = forms.TextInput(attrs={"inputmode": "text", "autocomplete": "off", "class": "number"})
    system = measure.IMPERIAL

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value)
        return read_temperature_c(text, self.system) if text else None

    def prepare_value(self, value: Any) -> Any:
        return shown_temperature(value, self.system) if isinstance(value, float) else value
