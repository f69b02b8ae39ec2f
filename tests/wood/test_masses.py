"""Masses are read as people type them, and what could be read in two ways is asked about.

The pound is 0.45359237 kg exactly (international yard and pound agreement, 1959), 16 ounces each.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.wood.masses import MassProblem, parse_mass_kg

LB = 0.45359237

SAID = {
    "2850 g": 2.85,
    "2850g": 2.85,
    "2,850.5 g": 2.8505,
    "2.850,5 g": 2.8505,
    "1652.2 grams": 1.6522,
    "2.85 kg": 2.85,
    "2,85 kg": 2.85,
    "2.850 kg": 2.85,
    "2 kg 850 g": 2.85,
    "41 kilos": 41.0,
    ".5 kg": 0.5,
    "1.2 t": 1200.0,
    "6 lb 4 oz": 6.25 * LB,
    "6 lb. 4 oz.": 6.25 * LB,
    "6 pounds, 4 ounces": 6.25 * LB,
    "6 lbs and 4 oz": 6.25 * LB,
    "6lb4": 6.25 * LB,
    "6 lb 4½ oz": (6 + 4.5 / 16) * LB,
    "92 lb": 92 * LB,
    "92#": 92 * LB,
    "92½ lb": 92.5 * LB,
    "92 1/2 lb": 92.5 * LB,
    "３２ ｋｇ": 32.0,
    " 12  OZ ": 0.75 * LB,
}

REFUSED = {
    "": "Type a mass",
    "heavy": "is not a mass",
    "-3 kg": "less than nothing",
    "0 kg": "more than nothing",
    "3 stone": "“stone” is not a unit of mass",
    "3 kg of oak": "is not a mass",
    "2,850 g": "could be 2850 or 2.85",
    "2.850 g": "could be 2850 or 2.85",
    "2,850 kg": "could be 2850 or 2.85",
    "4 oz 6 lb": "Write the lb before the oz.",
    "6 lb 20 oz": "a whole lb or more",
    "6.5 lb 4 oz": "Write 6.5 lb alone",
    "6 lb 200 g": "do not go together",
    "6 4 oz": "Say the unit of 6",
    "1 lb 2 oz 3": "is not a mass",
    "4/2 lb": "a whole or more",
    "1/0 lb": "a whole or more",
    "9" * 50: "too much",
}


@pytest.mark.parametrize("text", SAID)
def test_masses_as_people_type_them(text: str) -> None:
    assert parse_mass_kg(text, "kg") == pytest.approx(SAID[text], abs=1e-6)


@pytest.mark.parametrize("text", REFUSED)
def test_what_is_no_mass_gets_a_sentence(text: str) -> None:
    with pytest.raises(MassProblem, match=REFUSED[text]):
        parse_mass_kg(text, "kg")


def test_a_bare_number_is_in_the_fields_own_unit() -> None:
    assert parse_mass_kg("92", "lb") == pytest.approx(92 * LB)
    assert parse_mass_kg("92", "kg") == 92
    assert parse_mass_kg("2850", "g") == 2.85
    with pytest.raises(ValueError, match="Unknown unit"):
        parse_mass_kg("92", "stone")


@given(st.integers(1, 100_000), st.sampled_from(["kg", "lb", "g"]))
def test_whole_numbers_come_back_as_they_went_in(number: int, unit: str) -> None:
    assert parse_mass_kg(f"{number} {unit}", "kg") == parse_mass_kg(str(number), unit)


@given(st.text(max_size=30))
def test_nothing_typed_ends_in_a_traceback(text: str) -> None:
    try:
        said = str(parse_mass_kg(text, "kg") > 0)
    except MassProblem as problem:
        said = str(problem)
    assert said == "True" or said.endswith(".")
