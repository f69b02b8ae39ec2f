"""The outline by stations against shapely and against dense trial of every place."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import scale, translate
from shapely.geometry import Point, Polygon, box

from inventory.wood.outline import (
    Fit,
    WidthAt,
    ellipse_fits,
    from_least_middle_greatest,
    mean_width_mm,
    plan_area_mm2,
    rectangle_fits,
    silhouette,
    stations_from,
    svg_path,
    widest_rectangle_mm,
)

Stations = tuple[WidthAt, ...]
LENGTH = 2700.0
WAVY = stations_from([620, 480, 655, 585, 560])
WAIST = stations_from([700, 420, 700])
BELLY = (WidthAt(0.1, 400), WidthAt(0.55, 760), WidthAt(0.9, 380))
EVEN = stations_from([600, 600])
SLABS = (WAVY, WAIST, BELLY, EVEN)

widths = st.lists(st.floats(60, 1200), min_size=2, max_size=7).map(stations_from)
lengths = st.floats(500, 5000)


def polygon(length_mm: float, stations: Stations) -> Polygon:
    return Polygon(silhouette(length_mm, stations))


def test_equally_spaced_widths_run_from_end_to_end() -> None:
    assert [s.along for s in stations_from([1, 2, 3, 4, 5])] == [0, 0.25, 0.5, 0.75, 1]
    assert stations_from([500]) == (WidthAt(0.5, 500.0),)


def test_three_widths_become_an_even_taper() -> None:
    assert [s.width_mm for s in from_least_middle_greatest(400, 500, 700)] == [700, 500, 400]
    with pytest.raises(ValueError, match="between the least and the greatest"):
        from_least_middle_greatest(500, 400, 700)


def test_area_beyond_the_outermost_stations_keeps_their_width() -> None:
    assert plan_area_mm2(1000, (WidthAt(0.5, 600),)) == pytest.approx(600_000)
    area = plan_area_mm2(1000, (WidthAt(0.2, 400), WidthAt(0.8, 600)))
    assert area == pytest.approx(200 * 400 + 600 * 500 + 200 * 600)


def test_stations_may_come_in_any_order() -> None:
    assert plan_area_mm2(1000, tuple(reversed(BELLY))) == plan_area_mm2(1000, BELLY)


@given(lengths, widths)
def test_area_is_that_of_the_silhouette(length_mm: float, stations: Stations) -> None:
    area = plan_area_mm2(length_mm, stations)
    assert polygon(length_mm, stations).area == pytest.approx(area)
    assert mean_width_mm(length_mm, stations) * length_mm == pytest.approx(area)


@given(lengths, widths, st.floats(0.1, 5))
def test_area_grows_with_length_and_with_width(
    length_mm: float, stations: Stations, factor: float
) -> None:
    area = plan_area_mm2(length_mm, stations)
    wider = tuple(WidthAt(s.along, s.width_mm * factor) for s in stations)
    assert plan_area_mm2(length_mm * factor, stations) == pytest.approx(area * factor)
    assert plan_area_mm2(length_mm, wider) == pytest.approx(area * factor)


@given(lengths, widths)
def test_silhouette_is_closed_valid_and_symmetric(length_mm: float, stations: Stations) -> None:
    points = silhouette(length_mm, stations)
    assert points[0] == points[-1]
    assert polygon(length_mm, stations).is_valid
    assert {(x, -y) for x, y in points} == set(points)


def test_svg_path_closes_and_rounds() -> None:
    assert (
        svg_path(silhouette(900, stations_from([240, 190.04]))) == "M0 120L900 95L900 -95L0 -120Z"
    )
    assert svg_path([(0.04, -0.04), (1.25, 2), (3, 4)]) == "M0 0L1.2 2L3 4Z"
    assert svg_path([]) == ""


@pytest.mark.parametrize(
    ("length_mm", "stations"),
    [
        (0, EVEN),
        (float("nan"), EVEN),
        (1000, ()),
        (1000, (WidthAt(0.5, 0),)),
        (1000, (WidthAt(0.5, float("nan")),)),
        (1000, (WidthAt(1.1, 500),)),
        (1000, (WidthAt(0.5, 500), WidthAt(0.5, 600))),
    ],
)
def test_a_slab_that_cannot_be_is_refused(length_mm: float, stations: Stations) -> None:
    with pytest.raises(ValueError, match=r"\.$"):
        plan_area_mm2(length_mm, stations)


def densely_widest(length_mm: float, stations: Stations, rect_length_mm: float) -> float:
    """Every 1 mm: the least width over the stretch, at the stations too."""
    x = np.array([0.0, *(s.along * length_mm for s in stations), length_mm])
    w = np.array([stations[0].width_mm, *(s.width_mm for s in stations), stations[-1].width_mm])
    best = 0.0
    for begin in np.arange(0.0, length_mm - rect_length_mm + 1e-9, 1.0):
        inside = x[(x > begin) & (x < begin + rect_length_mm)]
        places = np.concatenate([[begin, begin + rect_length_mm], inside])
        best = max(best, float(np.interp(places, x, w).min()))
    return best


@pytest.mark.parametrize("stations", SLABS)
@pytest.mark.parametrize("rect_length_mm", [200.0, 900.0, 1350.0, 1800.0, 2699.5])
def test_widest_rectangle_is_that_of_dense_trial(stations: Stations, rect_length_mm: float) -> None:
    ours = widest_rectangle_mm(LENGTH, stations, rect_length_mm)
    dense = densely_widest(LENGTH, stations, rect_length_mm)
    assert dense - 1e-6 <= ours <= dense + 0.6


def test_a_rectangle_longer_than_the_slab_has_no_width() -> None:
    assert widest_rectangle_mm(LENGTH, WAVY, LENGTH + 1) == 0
    assert widest_rectangle_mm(LENGTH, WAVY, LENGTH) == 480
    with pytest.raises(ValueError, match="longer than nothing"):
        widest_rectangle_mm(LENGTH, WAVY, 0)


@given(lengths, widths, st.floats(0.05, 0.95), st.floats(0.05, 0.95))
def test_a_shorter_rectangle_is_never_narrower(
    length_mm: float, stations: Stations, one: float, other: float
) -> None:
    short, long = sorted((one * length_mm, other * length_mm))
    assert (
        widest_rectangle_mm(length_mm, stations, short)
        >= widest_rectangle_mm(length_mm, stations, long) - 1e-9
    )


@given(lengths, widths, st.floats(0.05, 0.99))
def test_the_widest_rectangle_just_fits_and_a_wider_one_does_not(
    length_mm: float, stations: Stations, share: float
) -> None:
    rect = share * length_mm
    widest = widest_rectangle_mm(length_mm, stations, rect)
    found = rectangle_fits(length_mm, stations, rect, widest)
    assert found.fits
    assert found.margin_mm == pytest.approx(0, abs=0.005)
    assert not rectangle_fits(length_mm, stations, rect, widest + 0.01).fits
    assert_inside(length_mm, stations, rect, widest - 1e-3, found, rectangle)


def rectangle(length_mm: float, width_mm: float) -> Polygon:
    """Begins at x = 0, its middle on the centre line."""
    return box(0, -width_mm / 2, length_mm, width_mm / 2)


def ellipse(length_mm: float, width_mm: float) -> Polygon:
    """As a polygon of 720 sides drawn inside the true ellipse."""
    round_one = Point(0, 0).buffer(1, quad_segs=180)
    return translate(scale(round_one, length_mm / 2, width_mm / 2), length_mm / 2)


Shape = Callable[[float, float], Polygon]


def assert_inside(
    length_mm: float, stations: Stations, long: float, wide: float, found: Fit, shape: Shape
) -> None:
    """At the offset given, shapely finds the shape within the silhouette."""
    laid = translate(shape(long, wide), found.offset_mm)
    assert polygon(length_mm, stations).buffer(1e-3).covers(laid)


def densely_fits(
    length_mm: float, stations: Stations, long: float, wide: float, shape: Shape
) -> bool:
    """Shapely, trying every 5 mm along the slab."""
    slab, laid = polygon(length_mm, stations).buffer(1e-6), shape(long, wide)
    begins = np.linspace(0, length_mm - long, math.ceil((length_mm - long) / 5) + 1)
    return any(slab.covers(translate(laid, begin)) for begin in begins)


CASES = [(900, 500), (1800, 470), (1200, 650), (700, 620), (2000, 400), (500, 300)]


@pytest.mark.parametrize("stations", SLABS)
@pytest.mark.parametrize(("long", "wide"), CASES)
@pytest.mark.parametrize(("fits", "shape"), [(rectangle_fits, rectangle), (ellipse_fits, ellipse)])
def test_margins_agree_with_dense_trial_by_shapely(
    stations: Stations, long: float, wide: float, fits: Callable[..., Fit], shape: Shape
) -> None:
    """2 mm inside the margin there is a place every 5 mm finds; 1 mm beyond, there is none."""
    found = fits(LENGTH, stations, long, wide, 10.0)
    grown = found.margin_mm + 10.0
    assert found.fits == (found.margin_mm >= -1e-6)
    within, beyond = 2 * (grown - 2.0), 2 * (grown + 1.0)
    assert densely_fits(LENGTH, stations, long + within, wide + within, shape)
    if long + beyond < LENGTH:
        assert not densely_fits(LENGTH, stations, long + beyond, wide + beyond, shape)


@settings(max_examples=60)
@given(lengths, widths, st.floats(0.1, 0.9), st.floats(30, 800), st.floats(0, 40))
def test_what_is_said_to_fit_lies_inside_with_its_clearance(
    length_mm: float, stations: Stations, share: float, wide: float, clearance: float
) -> None:
    long = share * length_mm
    for fits, shape in ((rectangle_fits, rectangle), (ellipse_fits, ellipse)):
        found = fits(length_mm, stations, long, wide, clearance)
        if found.fits:
            assert_inside(length_mm, stations, long, wide, found, shape)
            cut = translate(
                shape(long + 2 * clearance, wide + 2 * clearance), found.offset_mm - clearance
            )
            assert polygon(length_mm, stations).buffer(1e-3).covers(cut)


@given(lengths, widths, st.floats(0.1, 0.9), st.floats(30, 800))
def test_an_ellipse_fits_wherever_its_rectangle_does(
    length_mm: float, stations: Stations, share: float, wide: float
) -> None:
    square = rectangle_fits(length_mm, stations, share * length_mm, wide)
    oval = ellipse_fits(length_mm, stations, share * length_mm, wide)
    assert oval.margin_mm >= square.margin_mm - 1e-3


def test_clearance_comes_off_the_margin() -> None:
    free = rectangle_fits(LENGTH, EVEN, 2000, 500)
    assert free.margin_mm == pytest.approx(50, abs=0.005)
    assert rectangle_fits(LENGTH, EVEN, 2000, 500, 20).margin_mm == pytest.approx(30, abs=0.005)
    assert not rectangle_fits(LENGTH, EVEN, 2000, 500, 51).fits


def test_a_free_shape_is_laid_in_the_middle() -> None:
    assert rectangle_fits(LENGTH, EVEN, 2000, 500).offset_mm == pytest.approx(350)


def test_what_is_too_long_says_by_how_much_it_must_shrink() -> None:
    found = rectangle_fits(LENGTH, EVEN, 2900, 500)
    assert not found.fits
    assert found.margin_mm == pytest.approx(-100, abs=0.005)
    assert ellipse_fits(LENGTH, EVEN, 9000, 5000).margin_mm == pytest.approx(-3150, abs=0.005)


def test_a_round_top_sits_in_the_belly() -> None:
    found = ellipse_fits(LENGTH, BELLY, 650, 650)
    assert found.fits
    assert abs(found.offset_mm + 325 - 0.55 * LENGTH) < 60


def test_a_grown_ellipse_stays_within_a_fiftieth_of_the_true_parallel_curve() -> None:
    """The claim of ellipse_fits, by shapely's own buffer, at 3 : 2 and a clearance of 10 mm."""
    true = ellipse(1200, 800).buffer(10, quad_segs=90)
    grown = translate(ellipse(1220, 820), -10)
    assert true.buffer(0.05).covers(grown)
    assert grown.buffer(0.2 + 0.05).covers(true)


def test_a_shape_of_no_size_is_refused() -> None:
    for long, wide, clearance in ((0, 500, 0), (500, 0, 0), (500, 500, -1), (float("nan"), 5, 0)):
        with pytest.raises(ValueError, match="larger than nothing"):
            rectangle_fits(LENGTH, EVEN, long, wide, clearance)
