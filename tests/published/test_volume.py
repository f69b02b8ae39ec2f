"""Board feet, cubic metres and the trade's tally against published worked examples."""

from __future__ import annotations

import pytest

from inventory.wood.measure import (
    board_feet,
    cubic_metres,
    quarter_name,
    surface_measure_ft2,
    tally_board_feet,
)
from inventory.wood.outline import mean_width_mm, stations_from

IN, FT = 25.4, 304.8


def test_a_board_foot_is_144_cubic_inches() -> None:
    """One foot by one foot by one inch: definition, NHLA rules and AHEC's measurement guide."""
    assert board_feet(FT * FT * IN) == pytest.approx(1.0, rel=1e-12)
    assert cubic_metres(FT * FT * IN) == pytest.approx(0.002359737216, rel=1e-12)


def test_a_cubic_metre_is_423_776_board_feet() -> None:
    """Common practice; NIST SP 811 gives 1 board foot = 2.359737 E-03 m³ (from memory)."""
    assert board_feet(1e9) == pytest.approx(423.776, abs=5e-4)


def test_the_unrounded_example_of_the_export_council() -> None:
    """AHEC, *Grading sawn lumber – measurement*: 2 in × 6 1/4 in × 8 ft is 8.33 board feet."""
    assert board_feet(2 * IN * 6.25 * IN * 8 * FT) == pytest.approx(8.33, abs=0.005)


@pytest.mark.parametrize(
    ("width_in", "length_ft", "tallied"),
    [(6.25, 8, 4), (6.5, 8, 4), (8, 12, 8), (10, 13, 11)],
)
def test_surface_measure_rounds_as_the_guide_does(
    width_in: float, length_ft: float, tallied: int
) -> None:
    """AHEC, *Grading sawn lumber – measurement*, after the NHLA rules: its worked examples."""
    assert surface_measure_ft2(width_in * IN, length_ft * FT) == tallied


def test_tally_is_surface_measure_times_thickness() -> None:
    """The same guide: 2 in × 6 1/4 in × 8 ft tallies 4 × 2 = 8 board feet."""
    assert tally_board_feet(2 * IN, 6.25 * IN, 8 * FT) == 8


def test_tally_counts_whole_feet_of_length() -> None:
    """The same guide: a board of 8 1/2 ft tallies as 8 ft."""
    assert tally_board_feet(1 * IN, 12 * IN, 8.5 * FT) == 8


def test_thin_lumber_counts_as_a_full_inch() -> None:
    """The same guide: a 3/4 in board is considered a full inch."""
    assert tally_board_feet(0.75 * IN, 12 * IN, 8 * FT) == 8


def test_exact_halves_go_to_the_even_number() -> None:
    """NHLA has them go up and down by turns (from memory); so do these, over a tally."""
    assert [surface_measure_ft2(w * IN, 12 * FT) for w in (4.5, 5.5, 6.5, 7.5)] == [4, 6, 6, 8]


def test_the_live_edge_example_by_five_widths() -> None:
    """The reference's worked example (calculated there): the plain mean of five widths, 23.2 in,
    gives 39.15 board feet, and tallied 17 × 2.25 = 38.25. By the trapezoid the mean is 23.19."""
    widths_in = (24.5, 20.0, 26.5, 23.0, 22.0)
    plain = sum(widths_in) / 5
    assert board_feet(2.25 * IN * plain * IN * 9 * FT) == pytest.approx(39.15, abs=0.005)
    assert tally_board_feet(2.25 * IN, plain * IN, 9 * FT) == 38.25
    stations = stations_from([width * IN for width in widths_in])
    assert mean_width_mm(9 * FT, stations) / IN == pytest.approx(23.19, abs=0.005)


def test_the_metric_slab_example() -> None:
    """The reference's: 55 mm × 610 mm × 2.70 m is 0.090585 m³, 38.39 board feet."""
    volume = 55.0 * 610.0 * 2700.0
    assert cubic_metres(volume) == pytest.approx(0.090585, rel=1e-9)
    assert board_feet(volume) == pytest.approx(38.39, abs=0.005)


@pytest.mark.parametrize(
    ("name", "inches"),
    [("4/4", 1), ("5/4", 1.25), ("6/4", 1.5), ("8/4", 2), ("10/4", 2.5), ("12/4", 3), ("16/4", 4)],
)
def test_quarter_names_are_quarters_of_an_inch(name: str, inches: float) -> None:
    """Common practice."""
    assert quarter_name(inches * IN) == name
