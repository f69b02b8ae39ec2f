"""One reading as it is typed: its number, its place along the slab, its depth; and their words."""

import re
from collections.abc import Sequence
from typing import Any

from django import forms

from inventory import checks, reading_plan
from inventory.checks import ReadingEntry
from inventory.forms.asking import Asking
from inventory.models import Slab
from inventory.reading_plan import Depth, across_words, along_words, depth_text
from inventory.wood import measure, moisture

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
    across = forms.FloatField(
        label="Across", required=False, min_value=0, max_value=1, widget=forms.Select
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
        self._offer("across", _ACROSS_WORDS, _across_elsewhere)
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
            return along_words(float(along), self.slab.length_mm, self.system)
        except (ValueError, OverflowError):
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
        across = self.now("across") and _ACROSS_WORDS.get(self.now("across"), "").lower()
        return ", ".join(part for part in (place or "Place not said", across) if part)

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
        return ReadingEntry(
            raw_pct=clean["value"], along=clean["along"], across=clean["across"], depth_mm=depth_mm
        )


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


_ACROSS_WORDS = {
    "": "Not said",
    **{f"{share:.2f}": across_words(share).capitalize() for share in reading_plan.ACROSS},
}


def _across_elsewhere(across: str) -> str:
    try:
        return across_words(float(across)).capitalize()
    except ValueError:
        return across


def place_words(slab: Slab, system: str) -> dict[str, str]:
    """The places offered, by their share of the length as text."""
    thirds = reading_plan.places_along(slab.length_mm)
    left, right = thirds["Left"], thirds["Right"]
    shares = (left, (left + 0.5) / 2, 0.5, (right + 0.5) / 2, right)
    length_mm = slab.length_mm
    return {f"{share:.2f}": along_words(round(share, 2), length_mm, system) for share in shares}


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


def _number(text: str) -> float:
    return float(text.replace("−", "-").replace(",", "."))
