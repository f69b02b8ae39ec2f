"""Tops laid on slabs: against known solids, and against shapely's own arithmetic on random ones."""

import math
import random

import pytest
from shapely import affinity, box, unary_union

from catalogue import layout
from catalogue.layout import Allowances, Piece, Top
from inventory.wood.outline import WidthAt

NO_JOINT = Allowances(joint_mm=0.0)


def level(length_mm: float, width_mm: float) -> Piece:
    return Piece(length_mm, (WidthAt(0.0, width_mm), WidthAt(1.0, width_mm)))


def wavy(rng: random.Random, width_mm: float = 600.0) -> Piece:
    stations = [WidthAt(i / 6, width_mm * rng.uniform(0.85, 1.15)) for i in range(7)]
    return Piece(rng.uniform(1900, 2600), tuple(stations))


def test_a_top_of_the_slabs_own_size_just_fits() -> None:
    laid = layout.on_one_slab(Top("rectangle", 2000, 600), level(2000, 600))
    assert laid.fits
    assert laid.margin_mm == pytest.approx(0.0, abs=1e-6)
    assert laid.left_over_mm2() == [pytest.approx(0.0, abs=1.0)]


def test_a_millimetre_too_wide_does_not_fit() -> None:
    assert not layout.on_one_slab(Top("rectangle", 2000, 601), level(2000, 600)).fits


def test_a_round_leaves_the_corners_of_its_square() -> None:
    laid = layout.on_one_slab(Top("round", 600, 600), level(600, 600))
    # Exact: a circle has π/4 of its square.
    assert laid.fits
    assert laid.left_over_mm2()[0] == pytest.approx(600**2 * (1 - math.pi / 4), rel=0.002)


@pytest.mark.parametrize("shape", ["rectangle", "oval"])
def test_what_is_said_to_fit_lies_wholly_on_wood(shape: str) -> None:
    rng = random.Random(11)
    top = Top(shape, 1700, 560)
    laid = [layout.on_one_slab(top, wavy(rng)) for _ in range(150)]
    fitting = [one for one in laid if one.fits]
    assert 20 < len(fitting) < 140
    for one in fitting:
        assert one.placed[0].polygon.buffer(0.01).contains(top.polygon)


@pytest.mark.parametrize("shape", ["rectangle", "oval"])
def test_what_is_refused_fits_nowhere_along_the_middle(shape: str) -> None:
    """Brute force: the top slid along in steps of 5 mm, 1 mm smaller on every side."""
    rng = random.Random(12)
    top, smaller = Top(shape, 1700, 560), Top(shape, 1698, 558)
    pieces = [wavy(rng) for _ in range(80)]
    refused = [piece for piece in pieces if not layout.on_one_slab(smaller, piece).fits]
    assert len(refused) > 10
    for piece in refused:
        slides = range(850, int(piece.length_mm) - 849, 5)
        lies = [affinity.translate(top.polygon, x, 0) for x in slides]
        assert not any(piece.polygon.contains(one) for one in lies)


def test_the_cheap_figure_agrees_with_the_exact_layout() -> None:
    rng = random.Random(13)
    for shape in ("rectangle", "oval"):
        top = Top(shape, 1700, 560)
        for piece in (wavy(rng) for _ in range(100)):
            spare = layout.spare_half_width_mm(top, piece)
            assert spare is not None
            if abs(spare) > 1.0:
                assert (spare > 0) == layout.on_one_slab(top, piece).fits


def test_a_slab_too_short_has_no_spare_width() -> None:
    assert layout.spare_half_width_mm(Top("rectangle", 2000, 300), level(1999, 600)) is None


def test_two_level_neighbours_make_a_top_of_their_two_widths_less_the_joint() -> None:
    rules = Allowances(joint_mm=4.0)
    pair = (level(2000, 400), level(2000, 400))
    fits = layout.as_bookmatch(Top("rectangle", 1800, 792), *pair, rules)
    assert fits.fits
    assert fits.margin_mm == pytest.approx(0.0, abs=1e-6)
    assert not layout.as_bookmatch(Top("rectangle", 1800, 793), *pair, rules).fits


@pytest.mark.parametrize("shape", ["rectangle", "oval"])
def test_a_bookmatch_that_fits_is_all_wood(shape: str) -> None:
    rng = random.Random(14)
    top = Top(shape, 1700, 1050)
    laid = [layout.as_bookmatch(top, wavy(rng), wavy(rng)) for _ in range(120)]
    fitting = [one for one in laid if one.fits]
    assert 10 < len(fitting) < 119
    assert max(one.resin_mm2 for one in fitting) < 1.0


def test_a_half_oval_needs_less_than_its_rectangle() -> None:
    tapering = Piece(2000, (WidthAt(0.0, 300.0), WidthAt(0.5, 460.0), WidthAt(1.0, 300.0)))
    assert layout.as_bookmatch(Top("oval", 1700, 760), tapering, tapering).fits
    assert not layout.as_bookmatch(Top("rectangle", 1700, 760), tapering, tapering).fits


def test_resin_fills_what_two_level_slabs_leave() -> None:
    top = Top("rectangle", 1800, 1000)
    laid = layout.best_with_resin(top, level(2000, 400), level(2000, 450))
    assert laid is not None
    assert list(laid.gap_mm or ()) == pytest.approx([150, 150])
    assert laid.resin_mm2 == pytest.approx(1800 * 150)
    assert laid.margin_mm == pytest.approx(1000 * 0.30 - 150)


def test_a_gap_over_the_share_allowed_does_not_fit() -> None:
    top = Top("rectangle", 1800, 1000)
    laid = layout.best_with_resin(top, level(2000, 349), level(2000, 350))
    assert laid is not None
    assert not laid.fits
    half = Allowances(resin_gap_share=0.31)
    wider = layout.best_with_resin(top, level(2000, 349), level(2000, 350), half)
    assert wider is not None
    assert wider.fits


def test_wide_slabs_are_cut_back_to_leave_room_for_the_pour() -> None:
    laid = layout.best_with_resin(Top("rectangle", 1800, 600), level(2000, 500), level(2000, 500))
    assert laid is not None
    assert list(laid.gap_mm or ()) == pytest.approx([10, 10])


@pytest.mark.parametrize("shape", ["rectangle", "oval"])
def test_wood_and_resin_make_up_the_top_and_the_gap_is_as_wide_as_said(shape: str) -> None:
    """The gap measured anew: shapely's uncovered part, cut into strips 2 mm wide."""
    rng = random.Random(15)
    top = Top(shape, 1700, 1000)
    for _ in range(12):
        laid = layout.best_with_resin(top, wavy(rng, 420), wavy(rng, 420))
        assert laid is not None
        wood = unary_union(laid.wood).area
        assert wood + laid.resin_mm2 == pytest.approx(top.polygon.area)
        assert laid.gap_mm is not None
        strips = [box(x, -600, x + 2, 600) for x in range(-840, 838, 2)]
        open_part = top.polygon.difference(unary_union([p.polygon for p in laid.placed]))
        widest = max(strip.intersection(open_part).area / 2 for strip in strips)
        assert widest <= laid.gap_mm[1] + 1.0
        assert widest >= laid.gap_mm[1] - 4.0


@pytest.mark.parametrize("shape", ["rectangle", "oval"])
def test_the_outside_of_a_resin_top_is_always_wood(shape: str) -> None:
    rng = random.Random(16)
    top = Top(shape, 1700, 1000)
    for _ in range(20):
        laid = layout.best_with_resin(top, wavy(rng, 420), wavy(rng, 420))
        assert laid is not None
        if not laid.fits:
            continue
        uncovered = top.polygon.difference(unary_union(laid.wood).buffer(0.01))
        edge_y = [
            abs(y)
            for part in getattr(uncovered, "geoms", [uncovered])
            for _, y in part.exterior.coords
            if part.geom_type == "Polygon"
        ]
        assert max(edge_y, default=0.0) < 500 * 0.99


def test_the_table_of_gaps_agrees_with_each_pair_laid_out() -> None:
    rng = random.Random(17)
    top = Top("oval", 1700, 1000)
    sides = [side for side in (layout.side_of(top, wavy(rng, 430)) for _ in range(8)) if side]
    gaps = layout.greatest_gaps_mm(top, sides)
    for way in (0, 1):
        for i, first in enumerate(sides):
            for j, second in enumerate(sides):
                laid = layout.with_resin(top, first, second, is_turned=bool(way))
                assert laid.gap_mm is not None
                assert gaps[way, i, j] == pytest.approx(laid.gap_mm[1], abs=15.0)


def test_a_larger_top_never_fits_where_a_smaller_did_not() -> None:
    rng = random.Random(18)
    for piece in (wavy(rng) for _ in range(40)):
        fits = [layout.on_one_slab(Top("oval", 1700, w), piece).fits for w in range(480, 700, 20)]
        assert fits == sorted(fits, reverse=True)
