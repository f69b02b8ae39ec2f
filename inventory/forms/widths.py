"""Widths along a slab, typed in one line: `26 1/2, 28, 27`, or with places: `26 at 10 %, 28`."""

import re
from typing import Any

from django import forms

from inventory import slab_words
from inventory.wood import measure
from inventory.wood.outline import stations_from

MOST_STATIONS = 30
Stations = list[list[float]]

# A comma parts two widths where a space follows it; between figures it may be a decimal comma,
# unless there are several (26,28,27).
_PARTED = re.compile(r"[;\n]+|,(?=\s)|,$")
_SEVERAL_COMMAS = re.compile(r"\d+(?:,\d+){2,}")
_BARE = re.compile(r"\d+\s+\d+/\d+|\d+/\d+|\d+(?:[.,]\d+)?")
_WITH_PLACE = re.compile(r"(?P<width>.+?)\s*(?:\bat\b|@)\s*(?P<place>\d+(?:[.,]\d+)?)\s*%?")


class WidthsField(forms.CharField):
    """Cleaned to stations: a list of [place along 0…1, width in mm], from end to end.

    Widths without places are taken at equal spaces, both ends included; one alone stands for the
    whole slab. Each width that cannot be read is told which one it is.
    """

    widget = forms.TextInput(attrs={"autocomplete": "off"})

    def __init__(self, **kwargs: Any) -> None:
        self.system = "imperial"
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> Any:
        if isinstance(value, list):
            return value
        pieces = _pieces(super().to_python(value) or "")
        _ask_for_commas(pieces)
        if len(pieces) > MOST_STATIONS:
            raise forms.ValidationError(f"Give {MOST_STATIONS} widths at most.")
        taken = [_width_and_place(piece) for piece in pieces]
        return _stations(self._widths_mm([width for width, _ in taken]), [p for _, p in taken])

    def _widths_mm(self, texts: list[str]) -> list[float]:
        widths_mm, problems = [], []
        for number, text in enumerate(texts, 1):
            try:
                widths_mm.append(measure.parse_length_mm(text, self.system))
            except measure.LengthProblem as problem:
                problems.append(f"The {ordinal(number)} width: {problem}")
        if problems:
            raise forms.ValidationError(problems)
        return widths_mm

    def prepare_value(self, value: Any) -> Any:
        return self.shown(value) if isinstance(value, list) else value

    def shown(self, stations: Stations) -> str:
        """Stations as they would be typed; places only where the spacing is not equal."""
        widths = [measure.format_length(mm, self.system, kind="slab_width") for _, mm in stations]
        alongs = [along for along, _ in stations]
        if slab_words.is_equally_spaced(alongs):
            return ", ".join(widths)
        pairs = zip(widths, alongs, strict=True)
        return ", ".join(f"{width} at {along * 100:.4g} %" for width, along in pairs)

    def doubts(self, stations: Stations) -> list[str]:
        """A question for every width no slab here has."""
        asked = [
            (number, measure.doubt_about_length(width_mm, "slab_width", self.system))
            for number, (_, width_mm) in enumerate(stations, 1)
        ]
        return [
            f"The {ordinal(number)} width: {question}" for number, question in asked if question
        ]


def ordinal(number: int) -> str:
    """1st, 2nd, 3rd, 4th, 11th, 21st."""
    if number % 100 in (11, 12, 13):
        return f"{number}th"
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th') }"


def _pieces(text: str) -> list[str]:
    compact = text.strip()
    if _SEVERAL_COMMAS.fullmatch(compact):
        return compact.split(",")
    return [piece.strip() for piece in _PARTED.split(compact) if piece.strip()]


def _ask_for_commas(pieces: list[str]) -> None:
    """`20 22 1/2 19` was meant as three widths, and is no length."""
    for piece in pieces:
        bare = _BARE.findall(piece)
        if len(bare) > 1 and not _BARE.sub("", piece).strip():
            raise forms.ValidationError(
                f"Put a comma and a space between two widths: {', '.join(bare)}."
            )


def _width_and_place(piece: str) -> tuple[str, float | None]:
    match = _WITH_PLACE.fullmatch(piece)
    if match is None:
        return piece, None
    return match["width"], float(match["place"].replace(",", ".")) / 100


def _stations(widths_mm: list[float], places: list[float | None]) -> Stations:
    known = [place for place in places if place is not None]
    if not known:
        return [[at.along, at.width_mm] for at in stations_from(widths_mm)] if widths_mm else []
    if len(known) < len(widths_mm):
        raise forms.ValidationError("Say the place of every width, or of none.")
    if len(set(known)) < len(known) or not all(0 <= place <= 1 for place in known):
        raise forms.ValidationError("Each place is a different one, from 0 % to 100 %.")
    return sorted([place, width] for place, width in zip(known, widths_mm, strict=True))
