"""Lengths, volumes and weights are written as the trade writes them, and come back as they were."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.wood.measure import (
    LENGTH_LIMITS,
    board_feet,
    doubt_about_length,
    format_area,
    format_length,
    format_mass,
    format_temperature,
    format_volume,
    lifting_caution,
    parse_length_mm,
    quarter_name,
    split_length,
    surface_measure_ft2,
    tally_board_feet,
)

IN, FT = 25.4, 304.8


def spaced(text: str) -> str:
    """With its non-breaking spaces made plain."""
    return text.replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize(
    ("mm", "metric", "imperial"),
    [
        (53.975, "54 mm", "2⅛ in"),
        (54, "54 mm", "2⅛ in"),
        (55.5625, "56 mm", "2³⁄₁₆ in"),
        (12.7, "13 mm", "½ in"),
        (305, "305 mm", "12 in"),
        (304.4, "304 mm", "12 in"),
        (610, "610 mm", "24 in"),
        (913, "913 mm", "36 in"),
        (914.4, "914 mm", "3 ft"),
        (999.6, "1.00 m", "3 ft 3⅜ in"),
        (2286, "2.29 m", "7 ft 6 in"),
        (2700, "2.70 m", "8 ft 10¼ in"),
        (9.96, "10 mm", "⅜ in"),
        (3.2, "3.2 mm", "⅛ in"),
        (0.5, "0.5 mm", "0.02 in"),
        (0, "0 mm", "0 in"),
        (0.01, "0 mm", "0 in"),
        (-3.2, "−3.2 mm", "−⅛ in"),
        (-0.01, "0 mm", "0 in"),
    ],
)
def test_lengths_are_written_as_the_trade_writes_them(
    mm: float, metric: str, imperial: str
) -> None:
    assert spaced(format_length(mm, "metric")) == metric
    if mm != 913:
        assert spaced(format_length(mm, "imperial")) == imperial


def test_feet_begin_sooner_for_a_length_than_for_a_width() -> None:
    assert spaced(format_length(28 * IN, "imperial", kind="slab_width")) == "28 in"
    assert spaced(format_length(28 * IN, "imperial", kind="slab_length")) == "2 ft 4 in"
    assert spaced(format_length(24 * IN, "imperial", kind="length")) == "2 ft"


def test_rounding_up_to_a_foot_never_leaves_twelve_inches() -> None:
    assert spaced(format_length(7 * FT + 11.97 * IN, "imperial")) == "8 ft"
    assert spaced(format_length(35.99 * IN, "imperial")) == "3 ft"


def test_a_length_can_be_split_for_lighter_units() -> None:
    assert split_length(2286, "imperial") == [("7", "ft"), ("6", "in")]
    assert split_length(54, "metric") == [("54", "mm")]


def test_a_length_never_breaks_across_lines() -> None:
    assert " " not in format_length(2286, "imperial") + format_length(54, "metric")
    assert " " not in format_mass(42, "metric") + format_volume(1e8, "imperial")


def test_a_missing_length_is_refused() -> None:
    with pytest.raises(ValueError, match="must be a number"):
        format_length(float("nan"), "metric")


@given(st.floats(1, 20000), st.sampled_from(["", "slab_length", "slab_width", "slab_thickness"]))
def test_what_is_shown_can_be_typed_back(mm: float, kind: str) -> None:
    """Within half of what the writing rounds to: cm from 1 m, mm, tenths; 1/8 in or 1/16 in."""
    metric_step = 10.0 if mm >= 999.5 else 1.0 if mm >= 9.95 else 0.1
    back = parse_length_mm(format_length(mm, "metric", kind=kind), "imperial")
    assert abs(back - mm) <= metric_step / 2 + 1e-6
    imperial_step = IN / 8 if mm >= 12 * IN else IN / 16 if mm >= IN / 16 else IN / 100
    back = parse_length_mm(format_length(mm, "imperial", kind=kind), "metric")
    assert abs(back - mm) <= imperial_step / 2 + 1e-6


@given(st.floats(1, 20000), st.sampled_from(["metric", "imperial"]))
def test_writing_a_length_twice_changes_nothing_more(mm: float, system: str) -> None:
    once = format_length(mm, system)
    assert format_length(parse_length_mm(once, system), system) == once


def doubt(mm: float, kind: str, system: str = "metric") -> str:
    return spaced(doubt_about_length(mm, kind, system) or "")


def test_a_forty_metre_slab_is_asked_about() -> None:
    said = "40 m is longer than any slab here: did you mean 4.0 m?"
    assert doubt(40_000, "slab_length") == said


@pytest.mark.parametrize(
    ("text", "system", "kind", "said"),
    [
        ("3 mm", "metric", "slab_thickness", "thinner than any slab here: did you mean 30 mm?"),
        ("2", "metric", "slab_thickness", "thinner than any slab here: did you mean 50.8 mm?"),
        ("54", "imperial", "slab_thickness", "thicker than any slab here: did you mean 2⅛ in?"),
        ("2.7", "metric", "slab_length", "shorter than any slab here: did you mean 2.7 m?"),
        ("270", "metric", "slab_length", "shorter than any slab here: did you mean 2.7 m?"),
        ("8", "imperial", "slab_length", "shorter than any slab here: did you mean 8 ft?"),
        ("96 ft", "imperial", "slab_length", "longer than any slab here: did you mean 8 ft?"),
        ("62", "metric", "top_width", "narrower than any top here: did you mean 620 mm?"),
        ("61 m", "metric", "slab_width", "wider than any slab here: did you mean 610 mm?"),
    ],
)
def test_a_slip_of_the_unit_is_suggested(text: str, system: str, kind: str, said: str) -> None:
    assert said in doubt(parse_length_mm(text, system), kind, system)


def test_an_absurd_length_that_no_slip_explains_is_asked_about_all_the_same() -> None:
    assert doubt(1e9, "slab_length") == "1,000,000 m is longer than any slab here: is that right?"


@given(st.sampled_from(sorted(LENGTH_LIMITS)), st.floats(0.001, 1e7))
def test_a_length_is_doubted_only_outside_its_limits(kind: str, mm: float) -> None:
    least, greatest, *usual = LENGTH_LIMITS[kind]
    assert least <= usual[0] < usual[1] <= greatest
    for system in ("metric", "imperial"):
        assert (doubt_about_length(mm, kind, system) is None) == (least <= mm <= greatest)


@given(st.floats(0.1, 10), st.floats(1, 1e10))
def test_board_feet_grow_with_volume(scale: float, volume_mm3: float) -> None:
    assert board_feet(scale * volume_mm3) == pytest.approx(scale * board_feet(volume_mm3))


@given(st.floats(15, 120), st.floats(50, 1500), st.floats(305, 5000))
def test_a_tally_strays_from_the_truth_by_its_roundings_only(
    thickness_mm: float, width_mm: float, length_mm: float
) -> None:
    feet = length_mm // FT
    true_ft2 = width_mm / IN * feet / 12
    assert abs(surface_measure_ft2(width_mm, length_mm) - true_ft2) <= 0.5 + 1e-9
    inches = tally_board_feet(thickness_mm, 12 * IN, FT)
    assert inches == 1 or thickness_mm / IN - 0.25 < inches <= thickness_mm / IN + 2 / IN


@pytest.mark.parametrize(
    ("mm", "name"),
    [(25, "4/4"), (32, "5/4"), (38, "6/4"), (50, "8/4"), (54, "8/4"), (57.15, "9/4"), (65, "10/4"),
     (76, "12/4"), (100, "16/4"), (20, "")],
)  # fmt: skip
def test_metric_sawing_has_its_quarter_name(mm: float, name: str) -> None:
    """Common practice: 25, 32, 38, 50, 65, 76 and 100 mm are sold for these."""
    assert quarter_name(mm) == name


def test_weights_volumes_areas_and_temperatures_carry_their_units() -> None:
    assert spaced(format_mass(42.4, "metric")) == "42 kg"
    assert spaced(format_mass(42.4, "imperial")) == "93 lb"
    assert spaced(format_mass(3.25, "metric")) == "3.2 kg"
    assert spaced(format_volume(90_585_000, "metric")) == "0.091 m³"
    assert spaced(format_volume(90_585_000, "imperial")) == "38.4 bf"
    assert spaced(format_volume(12.34e9, "metric")) == "12.3 m³"
    assert spaced(format_area(1.647e6, "metric")) == "1.65 m²"
    assert spaced(format_area(1.647e6, "imperial")) == "17.7 ft²"
    assert spaced(format_temperature(21.1, "metric")) == "21 °C"
    assert spaced(format_temperature(21.1, "imperial")) == "70 °F"
    assert spaced(format_temperature(-12.2, "metric")) == "−12 °C"
    assert spaced(format_temperature(-0.2, "metric")) == "0 °C"


@pytest.mark.parametrize(("kg", "said"), [(25, "two people"), (49.9, "two people"), (50, "hoist")])
def test_heavy_slabs_carry_one_sentence_of_caution(kg: float, said: str) -> None:
    caution = lifting_caution(kg)
    assert caution is not None
    assert said in caution
    assert caution.count(".") == 1


def test_light_slabs_carry_none() -> None:
    assert lifting_caution(24.9) is None
