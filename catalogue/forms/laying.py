"""Where things lie as a page sends them, and a base's plates; numbers in the viewer's units."""

import math
import re
from collections.abc import Sequence
from typing import Any

from django import forms
from django.http import QueryDict

from catalogue.laying import FARTHEST_MM, Hand
from catalogue.layout.fastening import Plate
from inventory.forms.readings import NumberField
from inventory.wood import measure
from inventory.wood.lengths import MM_PER_IN

MOST_TURN_DEG = 360.0
MOST_PLATES = 8
LONGEST_PLATE_MM = 1500.0
NUDGES_MM = {measure.METRIC: 5.0, measure.IMPERIAL: MM_PER_IN / 4}


def unit_of(system: str) -> tuple[str, float]:
    """The unit small distances are typed in, and how many mm it is."""
    return ("mm", 1.0) if system == measure.METRIC else ("in", MM_PER_IN)


def shown(mm: float, system: str) -> str:
    _, per = unit_of(system)
    return f"{mm / per:.1f}" if per == 1.0 else f"{mm / per:.2f}"


def _decimal(label: str) -> NumberField:
    attrs = {"inputmode": "text", "autocomplete": "off", "class": "number"}
    return NumberField(required=False, label=label, widget=forms.TextInput(attrs=attrs))


class HandForm(forms.Form):
    """One thing that is moved: along, across, turn, other face up."""

    x = _decimal("Along")
    y = _decimal("Across")
    turn = _decimal("Turn, °")
    flip = forms.BooleanField(required=False, label="Other face up")

    def __init__(self, *args: Any, system: str, **kwargs: Any) -> None:
        super().__init__(*args, **{"label_suffix": "", **kwargs})
        self.system = system
        unit, _ = unit_of(system)
        self.fields["x"].label = f"Along, {unit}"
        self.fields["y"].label = f"Across, {unit}"

    def clean(self) -> dict[str, Any]:
        cleaned = dict(super().clean() or self.cleaned_data)
        for name, most in (("x", FARTHEST_MM), ("y", FARTHEST_MM), ("turn", MOST_TURN_DEG)):
            value = cleaned.get(name)
            if name in self.errors:
                continue
            if value is None:
                self.add_error(name, "Say where it lies.")
            elif not math.isfinite(value) or abs(value) > most:
                self.add_error(name, "That is farther than any bench reaches.")
        return cleaned

    @property
    def hand(self) -> Hand:
        _, per = unit_of(self.system)
        got = self.cleaned_data
        return Hand(got["x"] * per, got["y"] * per, got["turn"], bool(got["flip"]))


def hand_forms(data: QueryDict | None, hands: Sequence[Hand], system: str) -> list[HandForm]:
    """A form for each thing that is moved: bound where the page sent places, else as they lie."""
    if data is not None:
        return [HandForm(data, prefix=f"m{at}", system=system) for at in range(len(hands))]
    return [
        HandForm(prefix=f"m{at}", system=system, initial=_initial(hand, system))
        for at, hand in enumerate(hands)
    ]


def _initial(hand: Hand, system: str) -> dict[str, Any]:
    return {
        "x": shown(hand.x_mm, system),
        "y": shown(hand.y_mm, system),
        "turn": f"{hand.turn_deg:.2f}",
        "flip": hand.is_flipped,
    }


def as_meant(sent: Hand, best: Hand, system: str) -> Hand:
    """What was sent, each number that reads as the best fit's being the best fit's own.

    A page shows numbers rounded; where wood lies flush with the top's edge the last fraction that
    rounding takes away would make a top that fits fall short.
    """
    said, known = _initial(sent, system), _initial(best, system)
    return Hand(
        best.x_mm if said["x"] == known["x"] else sent.x_mm,
        best.y_mm if said["y"] == known["y"] else sent.y_mm,
        best.turn_deg if said["turn"] == known["turn"] else sent.turn_deg,
        sent.is_flipped,
    )


def is_sent(data: QueryDict) -> bool:
    return "m0-x" in data


def places_sent(data: QueryDict) -> str:
    """The places as a page sent them, for an address; empty where it sent none."""
    places = QueryDict(mutable=True)
    for name, value in data.items():
        if isinstance(value, str) and re.fullmatch(r"m[01]-(x|y|turn|flip)", name):
            places[name] = value
    return places.urlencode()


class PlateForm(forms.Form):
    """One plate or insert of a base, from the top's middle; an empty row is none."""

    kind = forms.ChoiceField(choices=[("plate", "Plate"), ("insert", "Insert")], label="Kind")
    x = _decimal("Along")
    y = _decimal("Across")
    length = _decimal("Length")
    width = _decimal("Width or diameter")
    turn = _decimal("Turn, °")

    def __init__(self, *args: Any, system: str, **kwargs: Any) -> None:
        super().__init__(*args, **{"label_suffix": "", "empty_permitted": False, **kwargs})
        self.system = system

    @property
    def is_blank(self) -> bool:
        return not any(
            self.cleaned_data.get(name) is not None for name in ("x", "y", "length", "width")
        )

    def clean(self) -> dict[str, Any]:
        cleaned = dict(super().clean() or self.cleaned_data)
        self.cleaned_data = cleaned
        if self.errors or self.is_blank:
            return cleaned
        _, per = unit_of(self.system)
        for name in ("x", "y"):
            value = cleaned.get(name)
            if value is None:
                self.add_error(name, "How far from the top's middle?")
            elif not math.isfinite(value) or abs(value) * per > FARTHEST_MM:
                self.add_error(name, "That is farther than any bench reaches.")
        needed = ("width",) if cleaned.get("kind") == "insert" else ("length", "width")
        for name in needed:
            value = cleaned.get(name)
            if value is None or not 0 < value * per <= LONGEST_PLATE_MM:
                self.add_error(name, "How large is it?")
        turn = cleaned.get("turn")
        if turn is not None and not abs(turn) <= MOST_TURN_DEG:
            self.add_error("turn", "A turn is between −360 and 360 degrees.")
        return cleaned

    @property
    def plate(self) -> Plate:
        _, per = unit_of(self.system)
        got = self.cleaned_data
        width = got["width"] * per
        length = width if got["kind"] == "insert" else got["length"] * per
        along, across, turn = got["x"] * per, got["y"] * per, got["turn"] or 0.0
        return Plate(got["kind"], along, across, length, width, turn)


def plate_forms(data: QueryDict | None, plates: Sequence[Plate], system: str) -> list[PlateForm]:
    """The plates there are and two empty rows, MOST_PLATES at most."""
    if data is not None:
        rows = range(min(MOST_PLATES, _rows_sent(data)))
        return [PlateForm(data, prefix=f"p{at}", system=system) for at in rows]
    known = [
        PlateForm(prefix=f"p{at}", system=system, initial=_plate_initial(plate, system))
        for at, plate in enumerate(plates)
    ]
    spare = range(len(known), min(MOST_PLATES, len(known) + 2))
    return known + [PlateForm(prefix=f"p{at}", system=system) for at in spare]


def _rows_sent(data: QueryDict) -> int:
    return next((at for at in range(MOST_PLATES) if f"p{at}-kind" not in data), MOST_PLATES)


def _plate_initial(plate: Plate, system: str) -> dict[str, Any]:
    sizes = {
        "x": plate.x_mm,
        "y": plate.y_mm,
        "length": plate.length_mm,
        "width": plate.width_mm,
    }
    turn = f"{plate.turn_deg:g}" if plate.turn_deg else ""
    typed = {name: shown(mm, system) for name, mm in sizes.items()}
    return {"kind": plate.kind, "turn": turn} | typed


def same_as_shown(hands: Sequence[Hand], system: str) -> list[dict[str, Any]]:
    """Places as the page's fields write them: what its script snaps to without asking."""
    return [_initial(hand, system) for hand in hands]


class KeepForm(forms.Form):
    note = forms.CharField(
        required=False,
        max_length=200,
        label="Note",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"label_suffix": "", **kwargs})
