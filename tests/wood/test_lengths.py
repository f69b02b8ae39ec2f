"""Lengths are read as people type them, in either system, and what is doubtful is asked about."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.wood.measure import LengthProblem, parse_length_mm

IN, FT = 25.4, 304.8
SYSTEMS = ("metric", "imperial")

SAID = {
    "2 1/8": 2.125 * IN,
    "2⅛": 2.125 * IN,
    '2⅛"': 2.125 * IN,
    "2-1/8 in": 2.125 * IN,
    "2 - 1/8 in": 2.125 * IN,
    "2.125in": 2.125 * IN,
    "2.125 inches": 2.125 * IN,
    "2³⁄₁₆ in": 2.1875 * IN,
    "2\N{NO-BREAK SPACE}3⁄16″": 2.1875 * IN,
    "½": 0.5 * IN,
    "1 / 2": 0.5 * IN,
    "3/8": 0.375 * IN,
    "¾ in.": 0.75 * IN,
    ".5 in": 0.5 * IN,
    "6''": 6 * IN,
    "8/4": 2 * IN,
    "5/4": 1.25 * IN,
    "16/4": 4 * IN,
    "4/4": 1 * IN,
    "7'6\"": 90 * IN,
    "7′6″": 90 * IN,
    "7’6”": 90 * IN,
    "7'6": 90 * IN,
    "7' 6 1/2\"": 90.5 * IN,
    "7'-6\"": 90 * IN,
    "7 ft 6 in": 90 * IN,
    "7 ft. 6 in.": 90 * IN,
    "7 feet and 6 inches": 90 * IN,
    "7 ft, 6½ in": 90.5 * IN,
    "7FT6": 90 * IN,
    "7ft": 7 * FT,
    "7'": 7 * FT,
    "7.5 ft": 7.5 * FT,
    "7 1/2 ft": 7.5 * FT,
    "54 mm": 54,
    "54mm": 54,
    " 54  MM ": 54,
    "５４ｍｍ": 54,
    "54 millimetres": 54,
    "5.4 cm": 54,
    "5,4 cm": 54,
    "1.2 m": 1200,
    "1,2 m": 1200,
    "1,25 m": 1250,
    "0,250 m": 250,
    ",5 m": 500,
    "1.250 m": 1250,
    "1 m 20 cm": 1200,
    "1 m 205 mm": 1205,
    "1,250.5 mm": 1250.5,
    "1.250,5 mm": 1250.5,
}


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("text", SAID)
def test_what_people_say_means_the_same_in_either_system(text: str, system: str) -> None:
    assert parse_length_mm(text, system) == pytest.approx(SAID[text], abs=1e-6)


@pytest.mark.parametrize(
    ("text", "metric_mm", "imperial_mm"),
    [("54", 54, 54 * IN), ("2.5", 2.5, 2.5 * IN), ("54.", 54, 54 * IN), ("2,5", 2.5, 2.5 * IN)],
)
def test_a_bare_number_takes_the_systems_usual_unit(
    text: str, metric_mm: float, imperial_mm: float
) -> None:
    assert parse_length_mm(text, "metric") == pytest.approx(metric_mm)
    assert parse_length_mm(text, "imperial") == pytest.approx(imperial_mm)


def test_inches_come_out_without_binary_dust() -> None:
    assert parse_length_mm("2 1/8", "imperial") == 53.975


REFUSED = {
    "": "Type a length",
    "   ": "Type a length",
    "abc": "is not a length",
    "m": "is not a length",
    '"': "is not a length",
    "nan": "is not a length",
    "inf": "is not a length",
    "--": "cannot be less than nothing",
    "-3": "cannot be less than nothing",
    "−54 mm": "cannot be less than nothing",
    "0": "more than nothing",
    "0 mm": "more than nothing",
    "0/4": "more than nothing",
    "99999999999": "longer than anything in a yard",
    "101 m": "longer than anything in a yard",
    "1,250": "could be 1250 or 1.25",
    "1,250 m": "could be 1250 or 1.25",
    "1.250 mm": "could be 1250 or 1.25",
    "21/4": "could be 5 1/4 or 2 1/4",
    "13/4 in": "could be 3 1/4 or 1 3/4",
    "9/8": "write 1 1/8",
    "8/8": "write 1 if",
    "2 9/8": "the fraction is a whole or more",
    "12/3": "Say the unit",
    "1/0": "is not a length",
    "2x4": "“x” is not a unit",
    "1e5": "“e” is not a unit",
    "5 km": "“km” is not a unit",
    "54 mm -": "is not a length",
    "54 mm 3": "Say the unit of 3",
    "7 6": "Say the unit of 7",
    "7-6": "Say the unit of 7",
    "7.5 ft 6 in": "Write 7.5 ft alone",
    "7 ft 14 in": "14 in is a whole ft or more",
    "1 m 120 cm": "120 cm is a whole m or more",
    "6 in 7 ft": "Write the ft before the in",
    "5 m 3 ft": "do not go together",
    "7 ft 6 ft": "do not go together",
    "1.2.3": "is not a length",
    "1,2,3": "is not a length",
    "12,34,567": "is not a length",
    "2²": "is not a length",
    "٣ mm": "is not a length",
    "54 mm; drop": "is not a length",
    "<b>54</b>": "is not a length",
    "1" * 61: "too much for one length",
}


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("text", REFUSED)
def test_what_cannot_be_read_one_way_is_asked_about(text: str, system: str) -> None:
    with pytest.raises(LengthProblem, match=REFUSED[text]) as caught:
        parse_length_mm(text, system)
    assert str(caught.value)[-1] in ".?"


def test_an_unknown_system_is_our_own_slip_and_not_the_typists() -> None:
    with pytest.raises(ValueError, match="Unknown system") as caught:
        parse_length_mm("54", "roman")
    assert not isinstance(caught.value, LengthProblem)


def assert_length_or_sentence(text: str, system: str) -> None:
    said = ""
    try:
        length_mm = parse_length_mm(text, system)
    except LengthProblem as problem:
        length_mm, said = 0.0, str(problem)
    assert length_mm > 0 or said


@given(st.text(max_size=20), st.sampled_from(SYSTEMS))
def test_any_text_at_all_is_a_length_or_a_sentence(text: str, system: str) -> None:
    assert_length_or_sentence(text, system)


@given(st.text(alphabet="0123456789 .,/-'\"⅛½²⁄mcftin", max_size=14), st.sampled_from(SYSTEMS))
def test_any_jumble_of_a_lengths_own_signs_is_a_length_or_a_sentence(
    text: str, system: str
) -> None:
    assert_length_or_sentence(text, system)


@given(st.integers(0, 40), st.integers(0, 11), st.integers(0, 15))
def test_feet_inches_and_sixteenths_add_up(feet: int, inches: int, sixteenths: int) -> None:
    fraction = Fraction(sixteenths, 16)
    exact = float((feet * 12 + inches + fraction) * Fraction(254, 10))
    if exact > 0:
        typed = f"{feet}' {inches} {fraction}\"" if sixteenths else f"{feet}'{inches}\""
        assert parse_length_mm(typed, "metric") == pytest.approx(exact, abs=1e-6)


@given(st.floats(0.01, 20000))
def test_point_and_comma_mean_the_same(mm: float) -> None:
    typed = f"{mm:.2f}"
    if float(typed) > 0:
        with_comma = parse_length_mm(typed.replace(".", ",") + " mm", "imperial")
        assert with_comma == parse_length_mm(typed, "metric") == pytest.approx(float(typed))
