"""Reading a length as people type it: `2 1/8`, `2⅛"`, `7'6"`, `54 mm`, `1.2 m`, `8/4`.

The grammar: one or more numbers, each with its unit, from the larger unit to the smaller. A number
is whole, decimal (point or comma), a fraction, or a whole and a fraction.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from itertools import pairwise

from inventory.wood import amounts

MM_PER_IN = 25.4
MM_PER_FT = 304.8
LONGEST_TEXT = 60
LONGEST_MM = 100_000.0
"""Nothing in a yard is longer: more is a slip of the pen, or of the unit."""

_UNIT_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": MM_PER_IN, "ft": MM_PER_FT}
_UNIT_WORDS = {
    "mm": ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    "cm": ("cm", "centimetre", "centimetres", "centimeter", "centimeters"),
    "m": ("m", "metre", "metres", "meter", "meters"),
    "in": ('"', "in", "ins", "inch", "inches"),
    "ft": ("'", "ft", "foot", "feet"),
}
_UNIT_OF = {word: unit for unit, words in _UNIT_WORDS.items() for word in words}
# Which unit may follow which, and how many of it make one of the larger.
_FOLLOWS = {("ft", "in"): 12, ("m", "cm"): 100, ("m", "mm"): 1000, ("cm", "mm"): 10}

_SIGNS = str.maketrans(
    {
        "′": "'", "’": "'", "‘": "'", "ʹ": "'", "`": "'", "´": "'",
        "″": '"', "”": '"', "“": '"', "ʺ": '"', "〃": '"',
        "⁄": "/", "∕": "/", "−": "-", "–": "-", "‐": "-", "‑": "-", "—": "-",
    }
)  # fmt: skip
_PIECE = re.compile(rf"\s*{amounts.NUMBER}\s*(?P<unit>'|\"|[a-z]+)?\.?\s*", re.ASCII)
_BETWEEN = re.compile(r"\s*(?:and\s+|,?\s*-?\s*)")
# ³⁄₁₆ as the trade's printers set it: raised figures, a fraction bar, lowered figures.
_SET_FRACTION = re.compile("([⁰¹²³⁴-⁹]+)⁄([₀-₉]+)")
_SET_FIGURES = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹₀₁₂₃₄₅₆₇₈₉", "01234567890123456789")


class LengthProblem(ValueError):
    """A length that could not be read. Its text is a sentence for beside the field."""


@dataclass(frozen=True)
class _Piece:
    """One number with its unit ('' when none was typed), as typed and as read."""

    number: float
    unit: str
    text: str
    is_fraction: bool


def parse_length_mm(text: str, system: str) -> float:
    """The length in mm that `text` says; a bare number is in mm or inches, as `system` has it.

    `system` is 'metric' or 'imperial'. A bare fraction is inches in both; over 4 it is a quarter
    thickness (`8/4` = 2 in). Raises LengthProblem, with a sentence, for what is empty, nonsense,
    not above zero, over 100 m, or could be read in two ways.
    """
    if system not in ("metric", "imperial"):
        raise ValueError(f"Unknown system of units: {system!r}")
    pieces = _with_units(_pieces(text), "mm" if system == "metric" else "in")
    for piece in pieces:
        _refuse_two_readings(piece)
    for larger, smaller in pairwise(pieces):
        _refuse_odd_pair(larger, smaller)
    # To the millionth: 53.975, not the 53.974999999999994 that binary makes of 2 1/8 in.
    length_mm = round(sum(piece.number * _UNIT_MM[piece.unit] for piece in pieces), 6)
    if not length_mm > 0:
        raise LengthProblem("A length must be more than nothing.")
    if length_mm > LONGEST_MM:
        raise LengthProblem("That is longer than anything in a yard: look at the number and unit.")
    return length_mm


def _plain(text: str) -> str:
    """Lower case, one kind of prime and dash, and fractions spelled out."""
    if len(text) > LONGEST_TEXT:
        raise LengthProblem("That is too much for one length.")
    text = _SET_FRACTION.sub(lambda set_: f" {set_[1]}/{set_[2]}".translate(_SET_FIGURES), text)
    spelled = "".join(amounts.spelled(character) for character in text)
    plain = " ".join(spelled.translate(_SIGNS).lower().split()).replace("''", '"')
    if not plain:
        raise LengthProblem("Type a length, such as 54 mm or 2 1/8 in.")
    if plain.startswith("-"):
        raise LengthProblem("A length cannot be less than nothing.")
    return plain


def _pieces(text: str) -> list[_Piece]:
    plain, typed = _plain(text), text.strip()
    found: list[_Piece] = []
    at = 0
    while at < len(plain):
        match = _PIECE.match(plain, at)
        if match is None:
            raise _not_a_length(typed)
        found.append(_piece(match, typed))
        at = match.end()
        between = _BETWEEN.match(plain, at)
        if between and between.end() > at:
            at = between.end()
            if at == len(plain):
                raise _not_a_length(typed)
    return found


def _piece(match: re.Match[str], typed: str) -> _Piece:
    unit_word = match["unit"] or ""
    if unit_word and unit_word not in _UNIT_OF:
        raise LengthProblem(f"“{unit_word}” is not a unit of length here: use mm, cm, m, in or ft.")
    unit = _UNIT_OF.get(unit_word, "")
    if match["decimal"]:
        number = _decimal(match["decimal"], typed)
        return _Piece(number, unit, match["decimal"].rstrip(".,"), is_fraction=False)
    whole, top, bottom = int(match["whole"] or 0), int(match["top"]), int(match["bottom"])
    if bottom == 0:
        raise _not_a_length(typed)
    as_typed = f"{match['whole']} {top}/{bottom}" if match["whole"] else f"{top}/{bottom}"
    return _Piece(whole + top / bottom, unit, as_typed, is_fraction=True)


def _decimal(figures: str, typed: str) -> float:
    number = amounts.decimal(figures)
    if number is None:
        raise _not_a_length(typed)
    return number


def _with_units(pieces: list[_Piece], bare_unit: str) -> list[_Piece]:
    """Every piece with its unit: what was typed, inches after feet, or what a bare one means."""
    if len(pieces) == 1 and not pieces[0].unit:
        only = pieces[0]
        return [_bare_fraction(only) if only.is_fraction else replace(only, unit=bare_unit)]
    if len(pieces) > 1 and pieces[-2].unit == "ft" and not pieces[-1].unit:
        pieces = [*pieces[:-1], replace(pieces[-1], unit="in")]
    for piece in pieces:
        if not piece.unit:
            raise LengthProblem(f"Say the unit of {piece.text}: mm, cm, m, in or ft.")
    return pieces


def _bare_fraction(piece: _Piece) -> _Piece:
    bottom = int(piece.text.rpartition("/")[2])
    if bottom not in (2, 4, 8, 16, 32, 64):
        raise LengthProblem(f"Say the unit of {piece.text}: mm, cm, m, in or ft.")
    return replace(piece, unit="in")


def _refuse_two_readings(piece: _Piece) -> None:
    """Numbers that could be read in two ways are asked about, never guessed."""
    if piece.is_fraction:
        if piece.unit in ("in", "ft"):
            _refuse_top_heavy(piece.text)
        return
    both = amounts.two_readings(piece.text)
    if both and ("," in piece.text or piece.unit == "mm"):
        figures, point = both
        raise LengthProblem(
            f"“{piece.text}” could be {figures} or {point:g}: write it without the mark."
        )


def _refuse_top_heavy(text: str) -> None:
    """9/8 and 2 5/4 are slips; a quarter thickness (8/4) is not, but 21/4 may be 2 1/4."""
    whole, _, fraction = text.rpartition(" ")
    top, bottom = (int(part) for part in fraction.split("/"))
    if top < bottom:
        return
    proper = f"{top // bottom} {top % bottom}/{bottom}" if top % bottom else f"{top // bottom}"
    if whole:
        raise LengthProblem(f"In “{text}” the fraction is a whole or more: please check it.")
    if bottom != 4:
        raise LengthProblem(f"“{text}” is a whole or more: write {proper} if that is meant.")
    if top > 10 and str(top)[-1] in "13":
        spaced = f"{str(top)[:-1]} {str(top)[-1]}/4"
        raise LengthProblem(f"“{text}” could be {proper} or {spaced}: write the one you mean.")


def _refuse_odd_pair(larger: _Piece, smaller: _Piece) -> None:
    """7 ft 6 in is a length; 6 in 7 ft, 7.5 ft 6 in and 7 ft 14 in are slips."""
    one, other = larger.unit, smaller.unit
    if (other, one) in _FOLLOWS:
        raise LengthProblem(f"Write the {other} before the {one}.")
    if (one, other) not in _FOLLOWS:
        raise LengthProblem(f"{one} and {other} do not go together in one length.")
    if larger.number != int(larger.number):
        raise LengthProblem(
            f"Write {larger.text} {one} alone, or a whole number of {one} before the {other}."
        )
    if smaller.number >= _FOLLOWS[one, other]:
        raise LengthProblem(f"{smaller.text} {other} is a whole {one} or more: please check it.")


def _not_a_length(typed: str) -> LengthProblem:
    return LengthProblem(f"“{typed}” is not a length: try 54 mm, 2 1/8 in or 7 ft 6 in.")
