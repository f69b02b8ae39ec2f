"""Outlines drafted from rough clicks: near the truth, or the clicks themselves and a sentence."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Polygon

from inventory.photos.marks import scale_from_sheets
from inventory.photos.problems import Trouble
from inventory.photos.scale import Basis, Floats, Scale
from inventory.photos.segment import draft_outline
from tests.bench.hand import clicks_round, corrected
from tests.bench.photographs import Shot, photograph

PLAIN = Scale(np.diag([0.4, 0.4, 1.0]), Basis.TWO_POINTS, (1000, 600))
ROUND = np.array([(300, 300), (1200, 280), (2200, 320), (2200, 1110), (1200, 1085), (300, 1100)])


def overlap(one: Floats, other: Floats) -> float:
    a, b = Polygon(one).buffer(0), Polygon(other).buffer(0)
    return float(a.intersection(b).area / a.union(b).area)


@pytest.mark.parametrize(("seed", "species"), [(521, "Walnut, black"), (522, "Oak, white")])
def test_a_draft_is_nearer_the_slab_than_the_clicks_were(seed: int, species: str) -> None:
    picture = photograph(Shot(seed, 8.0, size_px=(1600, 1200), species=species, has_bark=False))
    scale = scale_from_sheets(picture.pixels).scale
    assert scale is not None
    truth = scale.mm(picture.camera.px(picture.slab_mm))
    clicks = clicks_round(truth, np.random.default_rng(seed), rough_mm=12.0)
    draft = draft_outline(picture.pixels, scale, clicks)
    assert draft.is_automatic
    assert overlap(draft.outline_mm, truth) > max(overlap(clicks, truth), 0.96)
    assert Polygon(draft.outline_mm).area == pytest.approx(Polygon(truth).area, rel=0.025)
    assert len(draft.outline_mm) < 700


def test_the_same_clicks_give_the_same_draft() -> None:
    board = np.full((600, 1000, 3), 90, dtype=np.uint8)
    board[120:440, 120:880] = (190, 150, 100)
    drafts = [draft_outline(board, PLAIN, ROUND) for _ in range(2)]
    assert np.array_equal(drafts[0].outline_mm, drafts[1].outline_mm)


def test_a_plain_board_is_found_to_a_millimetre_or_two() -> None:
    board = np.full((600, 1000, 3), 90, dtype=np.uint8)
    board[120:440, 120:880] = (190, 150, 100)
    draft = draft_outline(board, PLAIN, ROUND)
    assert draft.is_automatic
    assert not draft.problems
    # Pixels 120 to 879 and 120 to 439, each 2.5 mm: the board is 1,900 × 800 mm.
    assert Polygon(draft.outline_mm).area == pytest.approx(1900 * 800, rel=0.005)


def test_nothing_to_see_leaves_the_clicks() -> None:
    noise = np.random.default_rng(0).normal(120, 3, (600, 1000, 3)).clip(0, 255)
    draft = draft_outline(noise.astype(np.uint8), PLAIN, ROUND)
    assert not draft.is_automatic
    assert np.array_equal(draft.outline_mm, ROUND)
    assert "joins your clicks" in str(draft.problems[0])


def test_an_edge_that_fades_is_marked_where_it_hardly_shows() -> None:
    board = np.full((600, 1000, 3), 90, dtype=np.uint8)
    board[120:440, 120:880] = (190, 150, 100)
    board[300:, 500:] = np.random.default_rng(0).normal(120, 10, (300, 500, 3)).clip(0, 255)
    draft = draft_outline(board, PLAIN, ROUND)
    assert [told.trouble for told in draft.problems] == [Trouble.WEAK_EDGE]
    # What was painted over lies beyond pixel 500 across and 300 down, 2.5 mm each.
    assert np.median(draft.weak_mm, axis=0) == pytest.approx((1700, 1000), abs=500)


def test_when_the_cut_fails_the_clicks_are_the_trace(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("inventory.photos.segment._grab", lambda *_: None)
    draft = draft_outline(np.full((600, 1000, 3), 120, dtype=np.uint8), PLAIN, ROUND)
    assert not draft.is_automatic
    assert np.array_equal(draft.outline_mm, ROUND)
    assert "joins your clicks" in str(draft.problems[0])


@pytest.mark.parametrize("clicks", [ROUND[[0, 3, 1, 4, 2, 5]], ROUND[:2]])
def test_clicks_that_make_no_shape_are_kept_and_said(clicks: Floats) -> None:
    draft = draft_outline(np.full((600, 1000, 3), 120, dtype=np.uint8), PLAIN, clicks)
    assert not draft.is_automatic
    assert np.array_equal(draft.outline_mm, clicks)
    assert [told.trouble for told in draft.problems] == [Trouble.NO_DRAFT]


def test_a_persons_correction_comes_within_what_they_allow() -> None:
    truth = np.array([(0, 0), (2000, 0), (2000, 500), (0, 500)], dtype=np.float64)
    draft = truth + np.array([(-30, -30), (30, 0), (0, 3), (0, 0)])
    right = corrected(draft, truth, 4.0, np.random.default_rng(3))
    assert Polygon(right).area == pytest.approx(1_000_000, rel=0.01)
    assert Polygon(right).hausdorff_distance(Polygon(truth)) < 9
