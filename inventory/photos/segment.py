"""A slab's outline drafted from a few rough clicks round it.

The clicks say roughly where the edge runs. Well inside them is wood, well outside is not; between
the two GrabCut (colour models of both sides and a cut that follows edges) decides on a straightened
picture of about 1,000 pixels. Then the line is moved, within a few millimetres, onto the sharpest
change of colour across it on a finer picture. The draft is always shown to be corrected: wood on
wood, bark in shade and sawdust deceive it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.ndimage import gaussian_filter1d
from shapely import Polygon
from shapely.geometry.polygon import orient

from inventory.photos.problems import Problem, Trouble
from inventory.photos.rectify import Rectified, around, rectify
from inventory.photos.scale import Floats, Pixels, Scale
from inventory.photos.trace import largest_part, least_side_mm

DRAFT_PX = 1000
BAND_MM = 45.0
MARGIN_MM = 80.0
ROUNDS = 2
SIMPLER_MM = 0.8
LEAST_OVERLAP = 0.85
ROUGH_MM = 8.0
_REACH_MM = 32.0
_SEEK_MM = 22.0
_FINE_MM = 1.25
_STEP_MM = 4.0
_WHOLE_MM, _LOCAL_MM, _LOCAL_REACH_MM = 6.0, 8.0, 200.0
_SLACK_MM = 3.0
_EDGE_WEIGHT = 1.0
_PLAIN = 25.0
_MOST_STEP = 2
_STEP_PRICE = 0.1
_WEAK = 0.3
_WEAK_SHARE = 0.1
_KERNEL_MM = 9.0
_ALIKE, _FLAT = 4.0, 8.0  # of 255
_BAND_SHARE = 0.2


@dataclass(frozen=True, eq=False)
class Draft:
    """An outline, (n, 2) mm on the face, for a person to correct.

    `is_automatic` is False where it is only the clicks joined up. `weak_mm` are (k, 2) places along
    it where the edge hardly shows, to be looked at first.
    """

    outline_mm: Floats
    is_automatic: bool
    weak_mm: Floats
    problems: tuple[Problem, ...] = ()


def draft_outline(image: Pixels, scale: Scale, clicks_mm: npt.ArrayLike) -> Draft:
    """The outline that clicks round a slab suggest, on a picture of (rows, columns, 3) bytes."""
    clicks = np.asarray(clicks_mm, dtype=np.float64).reshape(-1, 2)
    rough = Polygon(clicks) if len(clicks) >= 3 else Polygon()
    if rough.is_empty or not rough.is_valid:
        return _by_hand(clicks, "The clicks cross one another: put them in order round the slab.")
    cut = _grab(image, scale, rough)
    if cut is None:
        return _by_hand(clicks, _NO_DRAFT)
    outline, strength = _sharpened(image, scale, cut, clicks)
    if not _agrees(outline, rough):
        return _by_hand(clicks, _NO_DRAFT)
    return _draft(outline, strength)


_NO_DRAFT = (
    "The slab’s edge could not be told from what lies round it, so the line joins your clicks. "
    "Drag it to the edge, or add points."
)


def _by_hand(clicks: Floats, sentence: str) -> Draft:
    return Draft(clicks, False, np.empty((0, 2)), (Problem(Trouble.NO_DRAFT, sentence),))


def _grab(image: Pixels, scale: Scale, rough: Polygon) -> Polygon | None:
    """GrabCut on a small straightened picture; None when what it gives is no slab."""
    import cv2

    window = around(np.asarray(rough.exterior.coords), MARGIN_MM)
    per_mm = DRAFT_PX / max(window.width_mm, window.height_mm)
    picture = rectify(image, scale, per_mm, window)
    mask = _seeds(picture, rough)
    if _looks_alike(picture.pixels[mask == cv2.GC_FGD], picture.pixels[mask == cv2.GC_BGD]):
        return None
    pixels = _without_paper(picture, scale, mask)
    cv2.setRNGSeed(1)
    models = np.zeros((1, 65)), np.zeros((1, 65))
    cv2.grabCut(pixels, mask, (0, 0, 0, 0), *models, ROUNDS, cv2.GC_INIT_WITH_MASK)
    wood = ((mask == cv2.GC_FGD) | (mask == cv2.GC_PR_FGD)).astype(np.uint8)
    return _one_piece(wood, picture)


def _seeds(picture: Rectified, rough: Polygon) -> npt.NDArray[np.uint8]:
    """Where wood is sure, where it is sure not to be, and the band between."""
    import cv2

    band = min(BAND_MM, _BAND_SHARE * least_side_mm(rough))
    mask = np.full(picture.pixels.shape[:2], cv2.GC_BGD, dtype=np.uint8)
    for polygon, kind in (
        (rough.buffer(band), cv2.GC_PR_BGD),
        (rough, cv2.GC_PR_FGD),
        (rough.buffer(-band), cv2.GC_FGD),
    ):
        _fill(mask, polygon, picture, kind)
    return mask


def _looks_alike(wood: Pixels, ground: Pixels) -> bool:
    """Whether there is nothing to tell by: one side missing, or both the same flat colour.

    Where nothing is to be told GrabCut takes ten times as long to say so.
    """
    if not (wood.size and ground.size):
        return True
    apart = np.abs(wood.mean(axis=0) - ground.mean(axis=0)).max()
    return bool(apart < _ALIKE and max(wood.std(axis=0).max(), ground.std(axis=0).max()) < _FLAT)


def _fill(mask: npt.NDArray[np.uint8], shape: Polygon, picture: Rectified, kind: int) -> None:
    import cv2

    for part in getattr(shape, "geoms", (shape,)):
        if not part.is_empty:
            ring = picture.px(np.asarray(part.exterior.coords))
            cv2.fillPoly(mask, [np.round(ring).astype(np.int32)], kind)


def _without_paper(picture: Rectified, scale: Scale, mask: npt.NDArray[np.uint8]) -> Pixels:
    """The picture with its scale sheets covered by wood, lest white be taken for a wood colour."""
    import cv2

    paper = np.zeros(mask.shape, dtype=np.uint8)
    for sheet in scale.sheets:
        _fill(paper, Polygon(sheet.paper_mm(6.0)), picture, 1)
    wood = np.flatnonzero((mask == cv2.GC_FGD) & (paper == 0))
    covered = np.flatnonzero(paper & (mask != cv2.GC_BGD))
    pixels = picture.pixels.copy()
    if wood.size and covered.size:
        flat = pixels.reshape(-1, 3)
        flat[covered] = flat[np.random.default_rng(1).choice(wood, covered.size)]
        mask.ravel()[covered] = cv2.GC_FGD
    return pixels


def _one_piece(wood: npt.NDArray[np.uint8], picture: Rectified) -> Polygon | None:
    """The largest piece of a mask, without whiskers and holes, in mm."""
    import cv2

    across = max(3, round(_KERNEL_MM * picture.px_per_mm) | 1)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (across, across))
    smooth = cv2.morphologyEx(wood, cv2.MORPH_OPEN, kernel)
    rings, _ = cv2.findContours(smooth, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    largest = max(rings, key=cv2.contourArea, default=None)
    if largest is None or len(largest) < 8:
        return None
    # A contour runs through the middles of the outermost pixels: half a pixel inside the edge.
    shape = Polygon(picture.mm(largest.reshape(-1, 2))).buffer(0.5 / picture.px_per_mm)
    return largest_part(shape)


def _sharpened(image: Pixels, scale: Scale, cut: Polygon, clicks: Floats) -> tuple[Floats, Floats]:
    """The outline moved across itself onto a sharp edge near it, as the clicks would have it.

    Returns its places, (n, 2) mm, and how plainly the edge shows at each.
    """
    places, outward = _stations(cut)
    offsets = np.arange(-_REACH_MM, _REACH_MM + 1e-9, _FINE_MM)
    strip = _strip(image, scale, places, outward, offsets)
    contrast = _contrast(strip)
    middle, spread = _where_clicked(places, outward, clicks)
    seek = np.abs(offsets) <= _SEEK_MM
    cost = -_EDGE_WEIGHT * np.minimum(contrast[:, seek] / _PLAIN, 1.5)
    cost += (offsets[seek] - middle[:, None]) ** 2 / (2 * spread[:, None] ** 2)
    best = _least_path(cost)
    moved = places + outward * offsets[seek][best][:, None]
    return moved, contrast[:, seek][np.arange(len(best)), best] / _PLAIN


def _stations(cut: Polygon) -> tuple[Floats, Floats]:
    """Places every few mm round a polygon, and the outward direction at each."""
    line = orient(largest_part(cut.simplify(2.0))).exterior
    count = max(int(line.length / _STEP_MM), 32)
    steps = np.linspace(0, line.length, count, endpoint=False)
    places = np.array([line.interpolate(step).coords[0] for step in steps])
    ahead = np.roll(places, -1, axis=0) - np.roll(places, 1, axis=0)
    outward = np.column_stack([ahead[:, 1], -ahead[:, 0]])
    outward = gaussian_filter1d(outward, 2.5, axis=0, mode="wrap")
    return places, outward / np.maximum(np.linalg.norm(outward, axis=1, keepdims=True), 1e-9)


def _strip(image: Pixels, scale: Scale, places: Floats, outward: Floats, offsets: Floats) -> Floats:
    """Colours (L*a*b*) across the outline: (stations, offsets, 3)."""
    import cv2

    fine = rectify(image, scale, 1 / _FINE_MM, around(places, _REACH_MM + 5))
    lab = cv2.cvtColor(cv2.GaussianBlur(fine.pixels, (0, 0), 0.8), cv2.COLOR_RGB2LAB)
    at = places[:, None, :] + outward[:, None, :] * offsets[None, :, None]
    px = fine.px(at.reshape(-1, 2)).reshape(at.shape).astype(np.float32)
    found = cv2.remap(lab, px[..., 0], px[..., 1], cv2.INTER_LINEAR)
    return gaussian_filter1d(np.asarray(found, dtype=np.float64), 1.5, axis=0, mode="wrap")


def _contrast(strip: Floats) -> Floats:
    """How much the colour changes across every offset, over a few mm and over two, beside how
    much it varies on its own there."""
    wide, narrow = (_step_across(strip, round(mm / _FINE_MM)) for mm in (7.5, 2.5))
    return np.asarray(0.5 * wide + 0.8 * narrow)


def _step_across(strip: Floats, window: int) -> Floats:
    """Distance between the mean colours of `window` samples inside and outside each offset."""
    total = np.cumsum(
        np.pad(strip, ((0, 0), (window + 1, window + 1), (0, 0)), mode="edge"), axis=1
    )
    means = (total[:, window:] - total[:, :-window]) / window
    count = strip.shape[1]
    inside, outside = means[:, :count], means[:, window + 1 : window + 1 + count]
    return np.asarray(np.linalg.norm((outside - inside) * (0.8, 1.0, 1.0), axis=2))


def _where_clicked(places: Floats, outward: Floats, clicks: Floats) -> tuple[Floats, Floats]:
    """How far out from the outline the clicks put the edge at every station, and how surely (mm).

    A Gaussian process of the clicks' distances from the outline: each is off by `ROUGH_MM`, the
    outline itself may be off by some mm everywhere and by some more from stretch to stretch.
    """
    nearest = np.linalg.norm(places[None] - clicks[:, None], axis=2).argmin(axis=1)
    off = ((clicks - places[nearest]) * outward[nearest]).sum(axis=1).clip(-_SEEK_MM, _SEEK_MM)
    round_mm = _STEP_MM * len(places)
    along = _STEP_MM * np.arange(len(places), dtype=np.float64)

    def alike(a: Floats, b: Floats) -> Floats:
        apart = np.abs(a[:, None] - b[None, :])
        apart = np.minimum(apart, round_mm - apart)
        return np.asarray(
            _WHOLE_MM**2 + _LOCAL_MM**2 * np.exp(-0.5 * (apart / _LOCAL_REACH_MM) ** 2)
        )

    clicked = along[nearest]
    known = alike(clicked, clicked) + ROUGH_MM**2 * np.eye(len(clicks))
    towards = alike(along, clicked)
    weights = np.linalg.solve(known, towards.T).T
    left = _WHOLE_MM**2 + _LOCAL_MM**2 - (weights * towards).sum(axis=1)
    return weights @ off, np.sqrt(np.maximum(left, 0.0) + _SLACK_MM**2)


def _least_path(cost: Floats) -> npt.NDArray[np.intp]:
    """The cheapest state at every station, neighbours at most two states apart, round and round."""
    lap = min(60, len(cost) // 2)
    long = np.vstack([cost[-lap:], cost, cost[:lap]])
    count = long.shape[1]
    moves = np.arange(-_MOST_STEP, _MOST_STEP + 1)
    price = _STEP_PRICE * np.abs(moves)[:, None]
    came = np.zeros(long.shape, dtype=np.intp)
    best = long[0]
    states = np.arange(count)
    for at in range(1, len(long)):
        padded = np.pad(best, _MOST_STEP, constant_values=np.inf)
        ways = np.stack([padded[_MOST_STEP + m : _MOST_STEP + m + count] for m in moves]) + price
        chosen = ways.argmin(axis=0)
        came[at] = states + moves[chosen]
        best = ways[chosen, states] + long[at]
    path = np.empty(len(long), dtype=np.intp)
    path[-1] = best.argmin()
    for at in range(len(long) - 1, 0, -1):
        path[at - 1] = came[at, path[at]]
    return path[lap:-lap]


def _agrees(outline: Floats, rough: Polygon) -> bool:
    shape = Polygon(outline).buffer(0)
    both = shape.intersection(rough).area
    return bool(both > LEAST_OVERLAP * max(shape.area, rough.area))


def _draft(outline: Floats, strength: Floats) -> Draft:
    """The line with no more points than it needs, and where to look at it first."""
    whole = largest_part(largest_part(Polygon(outline)).simplify(SIMPLER_MM))
    simple = np.asarray(whole.exterior.coords)[:-1]
    smooth = gaussian_filter1d(strength, 3.0, mode="wrap")
    weak = outline[smooth < _WEAK]
    if len(weak) < _WEAK_SHARE * len(outline):
        return Draft(simple, True, weak)
    told = Problem(
        Trouble.WEAK_EDGE,
        f"The edge hardly shows along {100 * len(weak) / len(outline):.0f} % of the line: look at "
        "the marked stretches first.",
    )
    return Draft(simple, True, weak, (told,))
