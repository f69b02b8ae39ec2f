"""Scale sheets found in a photograph, and the one homography they give together.

Every sheet lies flat on the same face, but nobody measured where: the fit has the homography's
eight numbers, one for the inset, and, for every sheet beyond the first, its own place and turn on
the face (three numbers), all settled together by least squares on the marks' corners in pixels.

The inset is how far a picture draws every corner in toward its mark's middle: blur rounds a corner
off, and light creeps over black. Left out of the fit it makes areas about 0.3 % too large; marks
that stand apart tell it from the scale.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from inventory.photos.problems import Problem, Trouble, listed, sentence_start
from inventory.photos.scale import (
    Basis,
    Floats,
    Pixels,
    Scale,
    SheetPlace,
    cautions,
    homography,
    inverse,
    mapped,
    upright,
)
from inventory.photos.sheet import BAR_MM, MARK_MM, MARKS_A_SHEET, geometry, print_scale, sheet_of

CLEAN_PX = 0.06
"""Scatter of a clean picture's corners about the fit."""
POOR_PX = 0.05
POOR_MM = 0.1
"""Below either no sheet is doubted: one at another height gives 0.3 to 0.7 px in a picture of a
whole slab, and close by a sheet's own slight waves are many pixels but few tenths of a mm."""
DISPUTE_F = 12.0
BENT_F = 5.0
"""How many times more than scatter a departure must explain before it is named."""
SQUASHED = 0.004
"""Most prints are truer than this one way to the other; a sheet bowed by 11 mm is as much shorter
(exact: 8/3 of the square of bow over length), and reads areas about 1 % wrong."""
SQUASHED_BY_TILT, SQUASHED_BY_TILT_UNKNOWN = 0.05, 0.2
"""What more is allowed, times sin² of the tilt: with the focal length known, and assumed."""
SURELY = 1.5
"""So many times the marks' own scatter is allowed on top."""
FEW_MARKS = 4
SMALL_MARK_PX = 28.0
LEAST_MARKS = 2


@dataclass(frozen=True, eq=False)
class SeenSheet:
    """One sheet's marks in a picture: (n, 2) corners on the sheet in true mm, and in pixels."""

    number: int
    marks: int
    corners_mm: Floats
    corners_px: Floats

    @property
    def mark_px(self) -> float:
        """Least side of its marks in the picture."""
        squares = self.corners_px.reshape(-1, 4, 2)
        return float(np.linalg.norm(np.roll(squares, -1, axis=1) - squares, axis=2).min())

    @property
    def doubted_px(self) -> float:
        """The least misfit at which this sheet can be doubted."""
        return max(POOR_PX, POOR_MM * self.mark_px / MARK_MM)


@dataclass(frozen=True, eq=False)
class SheetFit:
    """The sheets fitted together. `poses` are (x mm, y mm, angle) of each on the face."""

    sheets: tuple[SeenSheet, ...]
    to_px: Floats
    poses: Floats
    residuals: tuple[Floats, ...]
    covariance: Floats

    @property
    def residual_px(self) -> float:
        """Root mean square of all corners' distances along x and y, in pixels."""
        return _rms(np.concatenate(self.residuals))


@dataclass(frozen=True)
class Reading:
    """What a photograph's sheets say: its scale, if any, and what to tell the person.

    A scale beside a problem that stops serves to show the picture, not to save sizes from it.
    """

    scale: Scale | None
    problems: tuple[Problem, ...]


def scale_from_sheets(
    image: Pixels, *, bar_measures_mm: float = BAR_MM, focal_px: float | None = None
) -> Reading:
    """The scale of a photograph, (rows, columns[, 3]) bytes at full resolution, from its sheets.

    Raises ValueError, in words for the person, when no print's bar could measure that much.
    """
    share = print_scale(bar_measures_mm)
    seen = sheets_in(find_marks(image), share)
    return read_sheets(seen, (image.shape[1], image.shape[0]), focal_px)


def find_marks(image: Pixels) -> dict[int, Floats]:
    """Every mark of our dictionary in a picture: number → (4, 2) corners in pixels."""
    import cv2

    grey = image if image.ndim == 2 else cv2.cvtColor(image, cv2.COLOR_RGB2GRAY)
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    # Half a cell or so: less scatters five times as much on small marks, more reaches the next
    # cell's corner (measured).
    settings.relativeCornerRefinmentWinSize = 0.55
    settings.cornerRefinementWinSize = 7
    settings.cornerRefinementMinAccuracy = 0.01
    settings.minMarkerPerimeterRate = 0.015
    settings.adaptiveThreshWinSizeMin = 5
    settings.adaptiveThreshWinSizeMax = 45
    settings.adaptiveThreshWinSizeStep = 20
    marks = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_50)
    corners, ids, _ = cv2.aruco.ArucoDetector(marks, settings).detectMarkers(grey)
    numbers = [] if ids is None else [int(id_) for id_ in np.asarray(ids).ravel()]
    found: dict[int, Floats] = {}
    for number, four in zip(numbers, corners, strict=True):
        if numbers.count(number) == 1:  # one seen twice is not to be trusted
            found[number] = np.asarray(four, dtype=np.float64).reshape(4, 2)
    return found


def sheets_in(marks: Mapping[int, Floats], print_share: float = 1.0) -> tuple[SeenSheet, ...]:
    """Marks gathered by the sheets they are printed on, ordered by number."""
    by_sheet: dict[int, list[int]] = {}
    for id_ in sorted(marks):
        number = sheet_of(id_)
        if number is not None:
            by_sheet.setdefault(number, []).append(id_)
    return tuple(_seen(number, ids, marks, print_share) for number, ids in by_sheet.items())


def _seen(
    number: int, ids: Sequence[int], marks: Mapping[int, Floats], print_share: float
) -> SeenSheet:
    drawn = {mark.id: mark.corners_mm for mark in geometry(number).marks}
    on_sheet = np.vstack([drawn[id_] for id_ in ids]) - geometry(number).middle_mm
    in_picture = np.vstack([marks[id_] for id_ in ids])
    return SeenSheet(number, len(ids), on_sheet * print_share, in_picture)


def read_sheets(
    seen: Sequence[SeenSheet], picture_px: tuple[int, int], focal_px: float | None = None
) -> Reading:
    """The scale that sheets give together, each sheet judged alone and against the others."""
    problems, usable = _judge_alone(seen)
    if not usable:
        return Reading(None, tuple(problems))
    fit = fit_together(usable)
    if is_disputed(fit):
        told, fit = _settle_dispute(fit)
        problems.append(told)
    scale = upright(_scale_of(fit, picture_px))
    if is_squashed(scale, focal_px):
        problems.append(_squashed(scale, focal_px))
    return Reading(scale, (*problems, *cautions(scale, focal_px)))


def _judge_alone(seen: Sequence[SeenSheet]) -> tuple[list[Problem], list[SeenSheet]]:
    """What each sheet alone has wrong with it, and those that can be used."""
    if not seen:
        return [_no_sheet()], []
    usable = [sheet for sheet in seen if sheet.marks >= LEAST_MARKS]
    problems = [_few_marks(sheet, stops=not usable) for sheet in seen if sheet.marks < FEW_MARKS]
    bent = [sheet for sheet in usable if is_bent(sheet)]
    flat = [sheet for sheet in usable if sheet not in bent]
    problems += [_bent(sheet, stops=not flat) for sheet in bent]
    problems += [_small(sheet) for sheet in flat if sheet.mark_px < SMALL_MARK_PX]
    return problems, flat


def fit_together(sheets: Sequence[SeenSheet]) -> SheetFit:
    """One homography and a pose for each sheet, by least squares on the corners (px)."""
    first = max(sheets, key=lambda sheet: (sheet.marks, sheet.mark_px))
    ordered = (first, *(sheet for sheet in sheets if sheet is not first))
    middle = np.vstack([sheet.corners_px for sheet in ordered]).mean(axis=0)
    size = float(np.abs(first.corners_px - middle).max())
    reach = float(np.abs(first.corners_mm).max())
    problem = _Problem(ordered, middle, size, reach)
    return problem.solved()


class _Problem:
    """The least-squares problem in numbers of about unit size.

    Pixels are counted from `middle` in units of `size`, mm in units of `reach`.
    """

    def __init__(
        self, sheets: Sequence[SeenSheet], middle: Floats, size: float, reach: float
    ) -> None:
        self.sheets = tuple(sheets)
        self.middle, self.size, self.reach = middle, size, reach
        self.on_sheet = [sheet.corners_mm / reach for sheet in sheets]
        self.in_picture = [(sheet.corners_px - middle) / size for sheet in sheets]

    def solved(self) -> SheetFit:
        from scipy.optimize import least_squares

        found = least_squares(self.misses, self.start(), method="lm", x_scale="jac")
        misses = np.asarray(found.fun, dtype=np.float64) * self.size
        free = max(misses.size - found.x.size, 1)
        noise = max(float(misses @ misses) / free, CLEAN_PX**2 / 4) / self.size**2
        slopes = np.asarray(found.jac, dtype=np.float64)
        spread = np.asarray(np.linalg.pinv(slopes.T @ slopes)[:8, :8] * noise, dtype=np.float64)
        poses = self.poses(np.asarray(found.x, dtype=np.float64))
        poses[:, :2] *= self.reach
        to_px, carried = self.in_pixels(np.append(found.x[:8], 1.0).reshape(3, 3), spread)
        cuts = np.cumsum([part.size for part in self.in_picture])[:-1]
        return SheetFit(self.sheets, to_px, poses, tuple(np.split(misses, cuts)), carried)

    def start(self) -> Floats:
        """From the first sheet alone, the others laid where it sees them."""
        alone = homography(self.on_sheet[0], self.in_picture[0])
        poses = [
            _pose(on_sheet, mapped(inverse(alone), in_picture))
            for on_sheet, in_picture in zip(self.on_sheet[1:], self.in_picture[1:], strict=True)
        ]
        return np.concatenate([alone.ravel()[:8], [0.0], *poses])

    def poses(self, numbers: Floats) -> Floats:
        return np.vstack([np.zeros((1, 3)), numbers[9:].reshape(-1, 3)])

    def misses(self, numbers: Floats) -> Floats:
        to_px = np.append(numbers[:8], 1.0).reshape(3, 3)
        parts = [
            _drawn_in(mapped(to_px, placed(on_sheet, pose)), numbers[8]) - in_picture
            for on_sheet, in_picture, pose in zip(
                self.on_sheet, self.in_picture, self.poses(numbers), strict=True
            )
        ]
        return np.concatenate([part.ravel() for part in parts])

    def in_pixels(self, small: Floats, spread: Floats) -> tuple[Floats, Floats]:
        """The homography in px and mm, and its covariance carried with it."""
        after = np.array(
            [[self.size, 0, self.middle[0]], [0, self.size, self.middle[1]], [0, 0, 1.0]]
        )
        before = np.diag([1 / self.reach, 1 / self.reach, 1.0])
        to_px = after @ small @ before
        # The last number stays 1, so the step is linear in the other eight.
        linear = np.kron(after, before)[:8, :8]
        return np.asarray(to_px / to_px[2, 2]), np.asarray(linear @ spread @ linear.T)


def _drawn_in(corners: Floats, inset: float) -> Floats:
    """Corners of marks, four by four, moved in by that much along both sides."""
    squares = corners.reshape(-1, 4, 2)
    inward = squares.mean(axis=1, keepdims=True) - squares
    half_side = np.sqrt((inward**2).sum(axis=2).mean(axis=1) / 2)
    return np.asarray((squares + inset * inward / half_side[:, None, None]).reshape(-1, 2))


def placed(points: Floats, pose: Floats) -> Floats:
    """(n, 2) points of a sheet laid on the face: turned, then moved."""
    x, y, angle = pose
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return np.asarray(points @ turn.T + (x, y))


def _pose(on_sheet: Floats, on_face: Floats) -> Floats:
    """The turn and move that bring a sheet's points nearest to places on the face."""
    from_middle, to_middle = on_sheet.mean(axis=0), on_face.mean(axis=0)
    a, b = on_sheet - from_middle, on_face - to_middle
    angle = float(np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum()))
    moved = to_middle - placed(from_middle[None, :], np.array([0.0, 0.0, angle]))[0]
    return np.array([*moved, angle])


def is_bent(sheet: SeenSheet) -> bool:
    """Whether a sheet's corners stray from a plane in a smooth pattern, more than they scatter.

    The misses left by a homography are fitted by squares and cubes of the place on the sheet; an
    F ratio tells a curve from scatter.
    """
    if sheet.marks < FEW_MARKS:
        return False
    misses = fit_together([sheet]).residuals[0].reshape(-1, 2)
    if _rms(misses) < sheet.doubted_px:
        return False
    x, y = (sheet.corners_mm / np.abs(sheet.corners_mm).max()).T
    curve = np.column_stack([x**i * y**j for i in range(4) for j in range(4 - i)])
    left = misses - curve @ np.linalg.lstsq(curve, misses, rcond=None)[0]
    free = misses.size - 2 * curve.shape[1]
    explained = float((misses**2).sum() - (left**2).sum()) / (2 * curve.shape[1] - 9)
    return bool(explained > BENT_F * float((left**2).sum()) / free)


def is_squashed(scale: Scale, focal_px: float | None = None) -> bool:
    """Whether the sheets come out shorter one way than the other, beyond a print's own truth.

    Tells a bowed sheet seen square on, whose corners keep to a plane as nearly as a flat one's.
    """
    by_tilt = SQUASHED_BY_TILT if focal_px else SQUASHED_BY_TILT_UNKNOWN
    tilt = np.radians(scale.tilt_deg(focal_px))
    allowed = SQUASHED + by_tilt * float(np.sin(tilt)) ** 2
    return scale.squashed_by(focal_px) > allowed + SURELY * scale.squash_spread(focal_px)


def is_disputed(fit: SheetFit) -> bool:
    """Whether sheets fit worse together than each does alone, by more than they scatter.

    Alone each has nine numbers, together nine and three more for each sheet beyond the first.
    """
    fewer = 6 * (len(fit.sheets) - 1)
    if not fewer or fit.residual_px < min(sheet.doubted_px for sheet in fit.sheets):
        return False
    alone = [fit_together([sheet]).residuals[0] for sheet in fit.sheets]
    scatter, together = (_squares(misses) for misses in (alone, fit.residuals))
    free = sum(misses.size - 9 for misses in alone)
    if free <= 0:
        return fit.residual_px > 2 * POOR_PX
    least = free * CLEAN_PX**2 / 4
    return (together - scatter) / fewer > DISPUTE_F * max(scatter, least) / free


def _settle_dispute(fit: SheetFit) -> tuple[Problem, SheetFit]:
    """Sheets that do not lie on one plane: leave one out when three or more allow it."""
    others = [fit_together(some) for some in combinations(fit.sheets, len(fit.sheets) - 1)]
    best = min(others, key=lambda fewer: fewer.residual_px)
    if len(fit.sheets) < 3 or is_disputed(best):
        return _disagree(fit), fit
    left = {sheet.number for sheet in fit.sheets} - {sheet.number for sheet in best.sheets}
    return _left_out(left, best), best


def _scale_of(fit: SheetFit, picture_px: tuple[int, int]) -> Scale:
    places = tuple(
        SheetPlace(
            sheet.number,
            (float(pose[0]), float(pose[1])),
            float(pose[2]),
            sheet.marks,
            _rms(misses),
        )
        for sheet, pose, misses in zip(fit.sheets, fit.poses, fit.residuals, strict=True)
    )
    by_number = tuple(sorted(places, key=lambda place: place.number))
    return Scale(fit.to_px, Basis.SHEETS, picture_px, by_number, fit.residual_px, fit.covariance)


def _squares(parts: Sequence[Floats]) -> float:
    return float(sum((part**2).sum() for part in parts))


def _rms(misses: Floats) -> float:
    return float(np.sqrt(np.mean(misses**2)))


def _no_sheet() -> Problem:
    return Problem(
        Trouble.NO_SHEET,
        "No scale sheet can be read in this picture. If one is there, glare, blur or distance "
        "hides its marks: take it again nearer or in softer light, or measure by a known "
        "rectangle or a taped length.",
        stops=True,
    )


def _few_marks(sheet: SeenSheet, *, stops: bool) -> Problem:
    return Problem(
        Trouble.FEW_MARKS,
        f"Only {sheet.marks} of the {MARKS_A_SHEET} marks on sheet {sheet.number} can be read: "
        "glare, blur, a shadow or the picture’s edge hides the rest. Take it again with the whole "
        "sheet in even light.",
        stops=stops,
    )


def _small(sheet: SeenSheet) -> Problem:
    return Problem(
        Trouble.MARKS_SMALL,
        f"Sheet {sheet.number} is small in the picture (its marks {sheet.mark_px:.0f} px wide), so "
        "the size is read less surely. Go nearer, or send the picture at its full resolution.",
    )


def _bent(sheet: SeenSheet, *, stops: bool) -> Problem:
    return Problem(
        Trouble.BENT,
        f"Sheet {sheet.number} does not lie flat and was not used. Weigh its corners down, or "
        "glue it to a board, and take the picture again.",
        stops=stops,
    )


def _squashed(scale: Scale, focal_px: float | None) -> Problem:
    number = scale.sheets[0].number
    which = f"Sheet {number} looks" if len(scale.sheets) == 1 else "The sheets look"
    return Problem(
        Trouble.BENT,
        f"{which} {100 * scale.squashed_by(focal_px):.1f} % shorter one way than the other: bowed, "
        "or stretched by the printer. Lay it flat, its corners weighed down, and take the picture "
        "again; or check the slab’s length and a width with a tape.",
    )


def _disagree(fit: SheetFit) -> Problem:
    numbers = listed(sheet.number for sheet in fit.sheets)
    return Problem(
        Trouble.DISAGREE,
        f"{sentence_start(numbers)} do not agree (off by {fit.residual_px:.1f} px): one lies at "
        "another height, on the floor perhaps, is not flat, or was printed at another size. Lay "
        "them all flat on the slab’s face and take the picture again.",
        stops=True,
    )


def _left_out(numbers: set[int], fit: SheetFit) -> Problem:
    kept = listed(sheet.number for sheet in fit.sheets)
    return Problem(
        Trouble.LEFT_OUT,
        f"{sentence_start(listed(numbers))} does not agree with the others and was left out: it "
        "lies at another height, is not flat, or was printed at another size. "
        f"{sentence_start(kept)} agree.",
    )
