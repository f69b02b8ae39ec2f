"""The scale of a photograph: which millimetres of a slab's face fall on which pixels.

A flat face and its picture are related by one homography. It comes from scale sheets (see
`marks.py`), from the four corners of a known rectangle, or, as scale alone, from two points a taped
distance apart. Millimetres count x to the right and y downward, turned so that the picture is not
turned; pixels count from the middle of the top left one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

import numpy as np
import numpy.typing as npt

from inventory.photos.problems import Problem, Trouble
from inventory.photos.sheet import Paper

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

TILT_CAUTION_DEG = 15.0
LENGTH_DIFFERS = 0.015
UNSURE_AREA_PCT = 1.0
FOCAL_SHARE = 0.75
"""Focal length over the long side where the camera's own is not known: about that of the main
camera of a telephone, 26 mm on the 36 mm frame (from memory)."""
_LEAST_CORNER_PX = 40.0
_DRAWS = 64


class Basis(StrEnum):
    """Where a scale came from."""

    SHEETS = "sheets"
    RECTANGLE = "rectangle"
    TWO_POINTS = "two points"


@dataclass(frozen=True)
class SheetPlace:
    """A sheet that the scale rests on: where it lies on the face and how well it fitted.

    `turn_rad` is how far the sheet's own x axis is turned from the face's.
    """

    number: int
    middle_mm: tuple[float, float]
    turn_rad: float
    marks: int
    residual_px: float

    def paper_mm(self, margin_mm: float = 0.0) -> Floats:
        """(4, 2) corners of the largest paper it may be printed on, with a margin all round."""
        half = np.array([Paper.LETTER.size_mm[0], Paper.A4.size_mm[1]]) / 2 + margin_mm
        corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * half
        return np.asarray(corners @ _turning(self.turn_rad).T + self.middle_mm)


@dataclass(frozen=True, eq=False)
class Scale:
    """One picture's scale.

    `to_px` is the (3, 3) homography from mm on the face to pixels, with 1 in its last place.
    `covariance` is the (8, 8) covariance of its other numbers, row by row, where it is known.
    `raised_mm` is how far above the sheets the plane lies that it was carried to.
    """

    to_px: Floats
    basis: Basis
    picture_px: tuple[int, int]
    sheets: tuple[SheetPlace, ...] = ()
    residual_px: float | None = None
    covariance: Floats | None = None
    raised_mm: float = 0.0

    def px(self, points_mm: npt.ArrayLike) -> Floats:
        """(n, 2) places on the face as pixels."""
        return mapped(self.to_px, points_mm)

    def mm(self, points_px: npt.ArrayLike) -> Floats:
        """(n, 2) pixels as places on the face."""
        return mapped(inverse(self.to_px), points_px)

    def px_per_mm(self) -> float:
        """Pixels a millimetre in the middle of the picture."""
        middle = np.array(self.picture_px, dtype=np.float64) / 2
        about = self.mm(np.array([(0, 0), (1, 0), (0, 1)]) + middle)
        sides = about[1:] - about[0]
        return float(abs(np.linalg.det(sides)) ** -0.5)

    def tilt_deg(self, focal_px: float | None = None) -> float:
        """Angle between the line of sight and the face's normal; 0 is square on.

        Without the camera's focal length (px) a usual one is assumed: then it is an estimate.
        """
        turned = _pose(self, focal_px)[0]
        return float(np.degrees(np.arccos(np.clip(turned[2, 2], -1.0, 1.0))))

    def squashed_by(self, focal_px: float | None = None) -> float:
        """How much shorter the face's mm come out one way than the other, beyond what the tilt
        explains, as a share; 0 for a flat sheet, whatever the camera.

        A bowed sheet seen square on looks like a flat one that is shorter, and nothing else.
        """
        return float(_squash(_inner(self, focal_px), self.to_px))

    def squash_spread(self, focal_px: float | None = None) -> float:
        """How much of that the marks' own scatter makes, root mean square; 0 if not known."""
        if self.covariance is None:
            return 0.0
        flat = self.to_px.ravel()[:8] + _draws(self.covariance, _DRAWS)
        ways = np.column_stack([flat, np.ones(len(flat))]).reshape(-1, 3, 3)
        off = _squash(_inner(self, focal_px), ways) - self.squashed_by(focal_px)
        return float(np.sqrt(np.mean(off**2)))

    def raised(self, height_mm: float, focal_px: float | None = None) -> Scale:
        """The scale of a plane that much nearer the camera than the one that was measured.

        For sheets that lay on the floor under a slab of known thickness. The camera's distance
        follows from the focal length; a usual one is assumed when it is not known.
        """
        turned, strength, inner = _pose(self, focal_px)
        to_px = self.to_px.copy()
        to_px[:, 2] -= height_mm * strength * (inner @ turned[:, 2])
        raised_mm = self.raised_mm + height_mm
        return replace(self, to_px=to_px / to_px[2, 2], covariance=None, raised_mm=raised_mm)

    def area_spread_pct(self, outline_px: npt.ArrayLike) -> float | None:
        """One standard deviation of the area of an outline, % of it, from the marks' own scatter.

        Says what a sheet small in the picture, or far from the slab, costs. None when not known.
        """
        if self.covariance is None:
            return None
        flat = self.to_px.ravel()[:8]
        steps = _draws(self.covariance, _DRAWS)
        ways = [np.append(flat + step, 1.0).reshape(3, 3) for step in steps]
        areas = [_area(mapped(inverse(way), outline_px)) for way in ways]
        whole = _area(self.mm(outline_px))
        return float(100 * np.sqrt(np.mean((np.array(areas) / whole - 1) ** 2)))

    def record(self) -> dict[str, Any]:
        """The scale as plain values, to be kept beside the photograph."""
        return {
            "to_px": [float(value) for value in self.to_px.ravel()],
            "basis": self.basis.value,
            "picture_px": list(self.picture_px),
            "sheets": [
                [sheet.number, *sheet.middle_mm, sheet.turn_rad, sheet.marks, sheet.residual_px]
                for sheet in self.sheets
            ],
            "residual_px": self.residual_px,
            "raised_mm": self.raised_mm,
            "covariance": None
            if self.covariance is None
            else [float(value) for value in self.covariance.ravel()],
        }


def from_record(record: Mapping[str, Any]) -> Scale:
    """The scale that `Scale.record` wrote. Raises KeyError or ValueError on anything else."""
    spread = record["covariance"]
    width, height = record["picture_px"]
    return Scale(
        np.array(record["to_px"], dtype=np.float64).reshape(3, 3),
        Basis(record["basis"]),
        (int(width), int(height)),
        tuple(SheetPlace(n, (x, y), *rest) for n, x, y, *rest in record["sheets"]),
        record["residual_px"],
        None if spread is None else np.array(spread, dtype=np.float64).reshape(8, 8),
        float(record["raised_mm"]),
    )


def mapped(homography: Floats, points: npt.ArrayLike) -> Floats:
    """(n, 2) points through a (3, 3) homography."""
    flat = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    carried = np.column_stack([flat, np.ones(len(flat))]) @ homography.T
    return np.asarray(carried[:, :2] / carried[:, 2:])


def inverse(homography: Floats) -> Floats:
    """The way back."""
    return np.asarray(np.linalg.inv(homography), dtype=np.float64)


def homography(from_points: npt.ArrayLike, to_points: npt.ArrayLike) -> Floats:
    """The (3, 3) homography that carries four or more (n, 2) points, by least squares.

    Raises ValueError when the points do not settle it (three of four on one line, say).
    """
    first, to_first = _centred(from_points)
    second, to_second = _centred(to_points)
    x, y = first.T
    u, v = second.T
    one, none = np.ones_like(x), np.zeros_like(x)
    rows_u = np.column_stack([x, y, one, none, none, none, -u * x, -u * y, -u])
    rows_v = np.column_stack([none, none, none, x, y, one, -v * x, -v * y, -v])
    _, strengths, ways = np.linalg.svd(np.vstack([rows_u, rows_v]))
    if strengths[7] < 1e-9 * strengths[0]:
        raise ValueError("These points lie on one line.")
    found = np.linalg.inv(to_second) @ ways[8].reshape(3, 3) @ to_first
    if abs(found[2, 2]) < 1e-12 * np.abs(found).max():
        raise ValueError("These points lie on one line.")
    return np.asarray(found / found[2, 2])


def _centred(points: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Points about their mean at unit size, and the (3, 3) step that made them so."""
    flat = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    middle = flat.mean(axis=0)
    size = float(np.abs(flat - middle).mean()) or 1.0
    step = np.array([[1 / size, 0, -middle[0] / size], [0, 1 / size, -middle[1] / size], [0, 0, 1]])
    return (flat - middle) / size, step


def scale_from_rectangle(
    corners_px: Sequence[tuple[float, float]],
    width_mm: float,
    height_mm: float,
    picture_px: tuple[int, int],
) -> Scale | Problem:
    """The scale from the four corners of a rectangle lying on the face.

    Corners go round it, `width_mm` the side from the first to the second. A door, a board cut
    square, a sheet of paper: the larger the better.
    """
    corners = np.asarray(corners_px, dtype=np.float64).reshape(-1, 2)
    if len(corners) != 4 or not _is_convex(corners):
        return Problem(
            Trouble.BAD_CORNERS,
            "Click the rectangle’s four corners in order round it, none twice.",
            stops=True,
        )
    if np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1).min() < _LEAST_CORNER_PX:
        return Problem(
            Trouble.BAD_CORNERS,
            "The rectangle is too small in the picture to measure by: take a larger one.",
            stops=True,
        )
    sides = np.array([(0, 0), (width_mm, 0), (width_mm, height_mm), (0, height_mm)])
    if _turns(corners)[0] < 0:
        sides = sides * (1, -1)
    return upright(Scale(homography(sides, corners), Basis.RECTANGLE, picture_px))


def scale_from_two_points(
    first_px: tuple[float, float],
    second_px: tuple[float, float],
    taped_mm: float,
    picture_px: tuple[int, int],
) -> Scale | Problem:
    """Scale alone, the same everywhere in the picture: right only when it was taken square on."""
    apart = float(np.hypot(second_px[0] - first_px[0], second_px[1] - first_px[1]))
    if apart < _LEAST_CORNER_PX:
        return Problem(
            Trouble.BAD_CORNERS,
            "The two points are too near each other to measure by: take two far apart.",
            stops=True,
        )
    per_mm = apart / taped_mm
    return Scale(np.diag([per_mm, per_mm, 1.0]), Basis.TWO_POINTS, picture_px)


def cautions(scale: Scale, focal_px: float | None = None) -> tuple[Problem, ...]:
    """What to know before trusting a scale, whatever it came from."""
    if scale.basis is Basis.TWO_POINTS:
        return (
            Problem(
                Trouble.SCALE_ONLY,
                "Two points give the size only where they lie: if the camera was more than a few "
                "degrees out of square, widths and lengths elsewhere are wrong. Check one with a "
                "tape.",
            ),
        )
    tilt = scale.tilt_deg(focal_px)
    if tilt <= TILT_CAUTION_DEG:
        return ()
    return (
        Problem(
            Trouble.TILTED,
            f"The camera looked at the slab from about {tilt:.0f}° out of square; beyond "
            f"{TILT_CAUTION_DEG:.0f}° the far end is read less surely. Take it again square on, or "
            "check one length with a tape.",
        ),
    )


def compare_length(measured_mm: float, taped_mm: float) -> Problem | None:
    """A taped length against the same length in the picture; None within 1.5 %."""
    share = measured_mm / taped_mm - 1
    if abs(share) <= LENGTH_DIFFERS:
        return None
    more = "longer" if share > 0 else "shorter"
    return Problem(
        Trouble.LENGTH,
        f"The picture makes this length {100 * abs(share):.1f} % {more} than the tape does "
        f"({measured_mm:.0f} mm against {taped_mm:.0f} mm). Measure again, see that the sheets lie "
        "flat on the slab’s face, and that the bar’s length is right.",
    )


def upright(scale: Scale) -> Scale:
    """The same scale with mm turned so that x runs along the picture's rows at its middle."""
    middle = np.array(scale.picture_px, dtype=np.float64) / 2
    here, along = scale.mm(np.array([(0, 0), (1, 0)]) + middle)
    angle = float(np.arctan2(*(along - here)[::-1]))
    turn = _turning(angle)
    step = np.eye(3)
    step[:2, :2] = turn
    step[:2, 2] = here
    to_px = scale.to_px @ step
    places = tuple(
        replace(
            sheet,
            middle_mm=_pair(turn.T @ (np.array(sheet.middle_mm) - here)),
            turn_rad=sheet.turn_rad - angle,
        )
        for sheet in scale.sheets
    )
    return replace(
        scale,
        to_px=to_px / to_px[2, 2],
        sheets=places,
        covariance=_carried(scale.covariance, scale.to_px, step),
    )


def _carried(covariance: Floats | None, to_px: Floats, step: Floats) -> Floats | None:
    """The covariance of a homography after `step` is put before it, by small differences."""
    if covariance is None:
        return None
    flat = to_px.ravel()[:8]
    sizes = 1e-4 * np.sqrt(np.maximum(np.diag(covariance), 1e-30))
    slopes = np.empty((8, 8))
    for at in range(8):
        nudge = np.zeros(8)
        nudge[at] = sizes[at]
        ahead, behind = (_stepped(flat + sign * nudge, step) for sign in (1, -1))
        slopes[:, at] = (ahead - behind) / (2 * sizes[at])
    return np.asarray(slopes @ covariance @ slopes.T)


def _turning(angle: float) -> Floats:
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


def _draws(covariance: Floats, count: int) -> Floats:
    """(count, 8) steps of that covariance, the same ones every time."""
    sizes = np.sqrt(np.maximum(np.diag(covariance), 1e-300))
    strengths, ways = np.linalg.eigh(covariance / np.outer(sizes, sizes))
    even = np.random.default_rng(1).normal(size=(count, 8))
    return np.asarray((even * np.sqrt(np.maximum(strengths, 0.0))) @ ways.T * sizes)


def _stepped(flat: Floats, step: Floats) -> Floats:
    moved = np.append(flat, 1.0).reshape(3, 3) @ step
    return np.asarray((moved / moved[2, 2]).ravel()[:8])


def _pose(scale: Scale, focal_px: float | None) -> tuple[Floats, float, Floats]:
    """Rotation of the face to the camera, px strength of `to_px`, and the camera's inner matrix.

    The face's z points away from the camera.
    """
    inner = _inner(scale, focal_px)
    bare = np.linalg.inv(inner) @ scale.to_px
    strength = float(np.sqrt(np.linalg.norm(bare[:, 0]) * np.linalg.norm(bare[:, 1])))
    first, second = bare[:, 0] / strength, bare[:, 1] / strength
    left, _, right = np.linalg.svd(np.column_stack([first, second, np.cross(first, second)]))
    return np.asarray(left @ right), strength, inner


def _inner(scale: Scale, focal_px: float | None) -> Floats:
    width, height = scale.picture_px
    focal = focal_px or FOCAL_SHARE * max(width, height)
    return np.array([[focal, 0, (width - 1) / 2], [0, focal, (height - 1) / 2], [0, 0, 1.0]])


def _squash(inner: Floats, to_px: Floats) -> Floats:
    """Of homographies (…, 3, 3): how much longer the longest mm is than the shortest, less 1."""
    bare = np.linalg.inv(inner) @ to_px
    lengths = np.linalg.svd(bare[..., :2], compute_uv=False)
    return np.asarray(lengths[..., 0] / lengths[..., 1] - 1.0)


def _is_convex(corners: Floats) -> bool:
    turns = _turns(corners)
    return bool((turns > 1e-6).all() or (turns < -1e-6).all())


def _turns(corners: Floats) -> Floats:
    """Cross product of the sides at every corner; above 0 clockwise as seen in a picture."""
    sides = np.roll(corners, -1, axis=0) - corners
    after = np.roll(sides, -1, axis=0)
    return np.asarray(sides[:, 0] * after[:, 1] - sides[:, 1] * after[:, 0])


def _area(points: Floats) -> float:
    x, y = points.T
    return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2)


def _pair(values: Floats) -> tuple[float, float]:
    return float(values[0]), float(values[1])
