"""A slip of the pen is asked about; an ordinary change never is."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.wood.moisture import doubtful


def test_the_question_of_the_design() -> None:
    doubt = doubtful(92, last_pct=9.4, others=[])
    assert doubt is not None
    assert doubt.question == "92? The last was 9.4 — did you mean 9.2?"
    assert doubt.suggestion_pct == 9.2


@pytest.mark.parametrize(
    ("raw", "last", "meant"),
    [
        (92, 9.4, 9.2),  # the point left out
        (0.92, 9.4, 9.2),  # the point too early
        (1.2, 12.4, 12.0),
        (2.9, 9.4, 9.2),  # figures swapped
        (144, 14.0, 14.4),
        (99.4, 9.4, 9.4),  # one key twice
        (920, 9.1, 9.2),  # beyond any wood
        (75, 18.0, None),  # wild, and nothing explains it
        (30, 9.4, None),
        (2.1, 14.0, None),
    ],
)
def test_slips_against_the_last_check(raw: float, last: float, meant: float | None) -> None:
    doubt = doubtful(raw, last_pct=last, others=[])
    assert doubt is not None
    assert doubt.suggestion_pct == meant
    assert doubt.question.endswith("?")


@pytest.mark.parametrize(
    ("raw", "others", "meant"),
    [(92, [9.4], 9.2), (92, [9.1, 9.4, 9.9], 9.2), (0.9, [9.1, 9.4], 9.0), (61, [9.1, 9.4], None)],
)
def test_slips_against_the_others_of_the_visit(
    raw: float, others: list[float], meant: float | None
) -> None:
    doubt = doubtful(raw, last_pct=None, others=others)
    assert doubt is not None
    assert doubt.suggestion_pct == meant
    assert "other" in doubt.question


def test_the_others_show_a_slip_that_the_last_check_hides() -> None:
    doubt = doubtful(92, last_pct=60, others=[9.1, 9.4, 9.2])
    assert doubt is not None
    assert doubt.suggestion_pct == 9.2


def test_the_same_slip_made_twice_is_still_asked_about() -> None:
    assert doubtful(94, last_pct=9.4, others=[92]) is not None


@pytest.mark.parametrize("raw", [0, -3, 251, 1e9, float("nan"), float("inf")])
def test_numbers_no_wood_has_are_asked_about(raw: float) -> None:
    doubt = doubtful(raw, last_pct=None, others=[])
    assert doubt is not None
    assert doubt.question


@pytest.mark.parametrize(
    ("raw", "last", "others"),
    [
        (9.2, 9.4, []),
        (14, 60, []),  # two years later
        (6.5, 60, []),  # out of the kiln
        (7, 14, []),
        (14, 7, []),  # a damp summer
        (13, 31, []),
        (12, 28, []),  # dried a year, though 21 would be nearer
        (80, 35, []),  # above fibre saturation meters jump
        (60, 90, []),
        (45, None, [12, 12.5]),  # the core of a wet slab after its shell
        (13.5, 35, [40.2, 38]),  # the shell after its core
        (12, None, [31, 33]),
        (9.1, None, [92]),  # the one before was the slip
        (31, 9.4, [30, 29]),  # rained on: asked once, then believed
        (92, None, []),
        (100, 100, [250, 20]),
    ],
)
def test_ordinary_changes_are_never_asked_about(
    raw: float, last: float | None, others: list[float]
) -> None:
    assert doubtful(raw, last_pct=last, others=others) is None


@given(st.floats(5, 120), st.floats(0.05, 1.0))
def test_drying_by_any_amount_down_to_air_dry_is_ordinary(last: float, share: float) -> None:
    now = max(5.0, round(last * share, 1))
    assert doubtful(now, last_pct=last, others=[]) is None


@given(st.floats(5, 250), st.floats(0, 6))
def test_a_change_of_six_points_is_ordinary(last: float, step: float) -> None:
    now = min(last + step, 250.0)
    assert doubtful(now, last_pct=last, others=[]) is None


@given(st.integers(50, 250))
def test_every_left_out_point_is_caught(tenths: int) -> None:
    right = tenths / 10
    doubt = doubtful(float(tenths), last_pct=right, others=[])
    assert doubt is not None
    assert doubt.suggestion_pct == right
