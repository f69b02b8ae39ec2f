"""Reading a mass as people type it: `2850 g`, `2.85 kg`, `2,85 kg`, `6 lb 4 oz`, `92½ lb`.

The grammar is that of lengths.py: one number with its unit, or two from the larger unit to the
smaller. A number is whole, decimal (point or comma), a fraction, or a whole and a fraction.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from inventory.wood import amounts

KG_PER_LB = 0.45359237
KG_PER_OZ = KG_PER_LB / 16.0
LONGEST_TEXT = 40

UNIT_KG = {"g": 0.001, "kg": 1.0, "t": 1000.0, "oz": KG_PER_OZ, "lb": KG_PER_LB}
_UNIT_WORDS = {
    "g": ("g", "gm", "gr", "gram", "grams", "gramme", "grammes"),
    "kg": ("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms", "kilogramme", "kilogrammes"),
    "t": ("t", "tonne", "tonnes"),
    "oz": ("oz", "ounce", "ounces"),
    "lb": ("lb", "lbs", "pound", "pounds", "#"),
}
_UNIT_OF = {word: unit for unit, words in _UNIT_WORDS.items() for word in words}
# Which unit may follow which, and how many of it make one of the larger.
_FOLLOWS = {("lb", "oz"): 16.0, ("kg", "g"): 1000.0}
_UNITS_IN_WORDS = "g, kg, lb or oz"

_SIGNS = str.maketrans({"⁄": "/", "∕": "/", "−": "-", "–": "-", "‑": "-", "—": "-"})
_PIECE = re.compile(rf"\s*{amounts.NUMBER}\s*(?P<unit>#|[a-z]+)?\.?", re.ASCII)
_BETWEEN = re.compile(r"\s*(?:and\b|,)?\s*")


class MassProblem(ValueError):
    """A mass that could not be read. Its text is a sentence for beside the field."""


@dataclass(frozen=True)
class _Piece:
    number: float
    unit: str
    text: str


def parse_mass_kg(text: str, bare_unit: str) -> float:
    """The mass in kg that `text` says; `bare_unit` (a key of UNIT_KG) is what a bare number means.

    Raises MassProblem, with a sentence, for what is empty, nonsense, not above zero, or could be
    read in two ways (`2,850`: 2850 or 2.85?).
    """
    if bare_unit not in UNIT_KG:
        raise ValueError(f"Unknown unit of mass: {bare_unit!r}")
    pieces = _with_units(_pieces(text), bare_unit)
    for piece in pieces:
        _refuse_two_readings(piece)
    if len(pieces) == 2:
        _refuse_odd_pair(*pieces)
    # To the tenth of a milligram: 2.85, not the 2.8500000000000001 that binary makes of it.
    mass_kg = round(sum(piece.number * UNIT_KG[piece.unit] for piece in pieces), 7)
    if not mass_kg > 0:
        raise MassProblem("A mass must be more than nothing.")
    return mass_kg


def _pieces(text: str) -> list[_Piece]:
    plain, typed = _plain(text), text.strip()
    found: list[_Piece] = []
    at = 0
    while at < len(plain):
        match = _PIECE.match(plain, at)
        if match is None or len(found) == 2:
            raise _not_a_mass(typed)
        found.append(_piece(match, typed))
        at = match.end()
        if (between := _BETWEEN.match(plain, at)) and between.end() < len(plain):
            at = between.end()
    return found


def _plain(text: str) -> str:
    """Lower case, one kind of dash, fractions and wide figures spelled out."""
    if len(text) > LONGEST_TEXT:
        raise MassProblem("That is too much for one mass.")
    spelled = "".join(amounts.spelled(character) for character in text)
    plain = " ".join(spelled.translate(_SIGNS).lower().split())
    if not plain:
        raise MassProblem("Type a mass, such as 42 kg, 2850 g or 6 lb 4 oz.")
    if plain.startswith("-"):
        raise MassProblem("A mass cannot be less than nothing.")
    return plain


def _piece(match: re.Match[str], typed: str) -> _Piece:
    word = match["unit"] or ""
    if word and word not in _UNIT_OF:
        raise MassProblem(f"“{word}” is not a unit of mass here: use {_UNITS_IN_WORDS}.")
    unit = _UNIT_OF.get(word, "")
    if match["decimal"]:
        return _Piece(_decimal(match["decimal"], typed), unit, match["decimal"].rstrip(".,"))
    whole, top, bottom = int(match["whole"] or 0), int(match["top"]), int(match["bottom"])
    if bottom == 0 or top >= bottom:
        raise MassProblem(f"In “{typed}” the fraction is a whole or more: please check it.")
    shown = f"{match['whole']} {top}/{bottom}" if match["whole"] else f"{top}/{bottom}"
    return _Piece(whole + top / bottom, unit, shown)


def _decimal(figures: str, typed: str) -> float:
    number = amounts.decimal(figures)
    if number is None:
        raise _not_a_mass(typed)
    return number


def _with_units(pieces: list[_Piece], bare_unit: str) -> list[_Piece]:
    """Every piece with its unit: what was typed, ounces after pounds, or what a bare one means."""
    if len(pieces) == 1 and not pieces[0].unit:
        return [_Piece(pieces[0].number, bare_unit, pieces[0].text)]
    if len(pieces) == 2 and pieces[0].unit == "lb" and not pieces[1].unit:
        pieces = [pieces[0], _Piece(pieces[1].number, "oz", pieces[1].text)]
    for piece in pieces:
        if not piece.unit:
            raise MassProblem(f"Say the unit of {piece.text}: {_UNITS_IN_WORDS}.")
    return pieces


def _refuse_two_readings(piece: _Piece) -> None:
    """2,850 kg and 2.850 g could each be read in two ways; 2.850 kg is what a scale shows."""
    both = amounts.two_readings(piece.text)
    if both and ("," in piece.text or piece.unit == "g"):
        figures, point = both
        raise MassProblem(
            f"“{piece.text}” could be {figures} or {point:g}: write it without the mark."
        )


def _refuse_odd_pair(larger: _Piece, smaller: _Piece) -> None:
    """6 lb 4 oz is a mass; 4 oz 6 lb, 6.5 lb 4 oz and 6 lb 20 oz are slips."""
    pair = larger.unit, smaller.unit
    if (smaller.unit, larger.unit) in _FOLLOWS:
        raise MassProblem(f"Write the {smaller.unit} before the {larger.unit}.")
    if pair not in _FOLLOWS:
        raise MassProblem(f"{larger.unit} and {smaller.unit} do not go together in one mass.")
    if larger.number != int(larger.number):
        raise MassProblem(
            f"Write {larger.text} {larger.unit} alone, or a whole number of {larger.unit} "
            f"before the {smaller.unit}."
        )
    if smaller.number >= _FOLLOWS[pair]:
        raise MassProblem(
            f"{smaller.text} {smaller.unit} is a whole {larger.unit} or more: please check it."
        )


def _not_a_mass(typed: str) -> MassProblem:
    return MassProblem(f"“{typed}” is not a mass: try 42 kg, 2850 g or 6 lb 4 oz.")


def format_mass_fine(mass_kg: float, system: str) -> str:
    """As a good scale shows it: `2850 g`, `1652.2 g`, `41.75 kg`; `3.1 oz`, `6.28 lb`, `92.5 lb`.

    Fine enough to be typed again; numbers joined to units by non-breaking spaces.
    """
    if system == "metric":
        number, unit, places = (mass_kg * 1000.0, "g", 1) if mass_kg < 10.0 else (mass_kg, "kg", 2)
    elif mass_kg < KG_PER_LB:
        number, unit, places = mass_kg / KG_PER_OZ, "oz", 2
    else:
        number, unit, places = mass_kg / KG_PER_LB, "lb", 3 if mass_kg < 10.0 else 1
    text = f"{number:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{text}\N{NO-BREAK SPACE}{unit}"
