"""A top laid on one slab or two: whether it lies on wood, and where, what is left, how much resin.

Pure geometry in plan, mm and mm². The top's centre is the origin, its length runs along x with the
grain. A slab is symmetric about a straight centre line (see inventory/wood/outline.py), which is
laid parallel to x. In a pair the first slab lies on the side of positive y.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from shapely import Polygon, affinity, box, unary_union
from shapely.geometry.base import BaseGeometry

from inventory.wood import outline
from inventory.wood.outline import WidthAt

Floats = npt.NDArray[np.float64]
ROUNDED = ("round", "oval")
# Places along the top at which a curved edge is compared with the slab's; between two of them the
# arc rises above its chord by no more than this share of the half width, which is allowed for.
PLACES = np.cos(np.linspace(np.pi, 0.0, 65))
ARC_RISE = 1.0 - float(np.cos(np.pi / 128))
CENTRES = 61
CURVE_POINTS = 180
FAR_MM = 1e5


@dataclass(frozen=True)
class Allowances:
    """What the shop takes off and allows; each is shown where it decides."""

    # Common practice: 3 to 6 mm a face on a flat slab, more where it cups or twists.
    face_mm: float = 3.0
    # Straightening an edge that is glued or cast against.
    joint_mm: float = 3.0
    # Two slabs of one bookmatch: thicknesses may differ by this much.
    pair_thickness_mm: float = 3.0
    # Resin between two slabs, at its widest, as a share of the top's width.
    resin_gap_share: float = 0.30
    # A narrower gap is hard to pour full.
    least_gap_mm: float = 10.0


ALLOWANCES = Allowances()


@dataclass(frozen=True)
class Top:
    """A finished top in plan: "rectangle", "round" or "oval"; a round's length is its diameter."""

    shape: str
    length_mm: float
    width_mm: float

    def half_width_at(self, place: Floats) -> Floats:
        """Half the width (mm) at places from −1 (one end) to 1 (the other)."""
        if self.shape in ROUNDED:
            return np.asarray(self.width_mm / 2 * np.sqrt(np.clip(1 - place**2, 0, None)))
        return np.full_like(place, self.width_mm / 2)

    @cached_property
    def polygon(self) -> Polygon:
        """The top's edge; a curve by points on it, so the polygon lies just inside the curve."""
        length, width = self.length_mm / 2, self.width_mm / 2
        if self.shape not in ROUNDED:
            return box(-length, -width, length, width)
        turn = np.linspace(0.0, 2 * np.pi, CURVE_POINTS, endpoint=False)
        return Polygon(np.column_stack([length * np.cos(turn), width * np.sin(turn)]))

    @property
    def area_mm2(self) -> float:
        whole = self.length_mm * self.width_mm
        return whole * np.pi / 4 if self.shape in ROUNDED else whole


@dataclass(frozen=True)
class Piece:
    """A slab as the geometry needs it: length (mm) and its widths."""

    length_mm: float
    stations: tuple[WidthAt, ...]

    def half_width_at(self, x_mm: Floats) -> Floats:
        """Half the width (mm) at places from the first end."""
        ordered = sorted(self.stations, key=lambda station: station.along)
        places = [station.along * self.length_mm for station in ordered]
        return np.asarray(np.interp(x_mm, places, [s.width_mm / 2 for s in ordered]))

    @cached_property
    def polygon(self) -> Polygon:
        return Polygon(outline.silhouette(self.length_mm, self.stations))


@dataclass(frozen=True)
class Placed:
    """Where a slab lies: its first end at `x_mm`, its centre line at `y_mm`; perhaps turned."""

    piece: Piece
    x_mm: float
    y_mm: float
    is_turned: bool = False

    @cached_property
    def polygon(self) -> Polygon:
        shape = self.piece.polygon
        if self.is_turned:
            shape = affinity.scale(shape, xfact=-1, origin=(self.piece.length_mm / 2, 0))
        return affinity.translate(shape, self.x_mm, self.y_mm)


@dataclass(frozen=True)
class Layout:
    """A top on its slab or slabs.

    `margin_mm`: spare wood. One slab: how much the top could grow on every side; a bookmatched
    pair: how much wider each half could be; a resin pair: how much wider the gap could be. Where
    the top does not fit it is negative, by what is missing.
    """

    top: Top
    placed: tuple[Placed, ...]
    margin_mm: float
    joint: str = ""
    gap_mm: tuple[float, float] | None = None

    @property
    def fits(self) -> bool:
        return self.margin_mm >= -outline.TOUCHING_MM

    @cached_property
    def wood(self) -> list[BaseGeometry]:
        """The part of the top that each slab gives."""
        return [self.top.polygon.intersection(part) for part in self._cut]

    @property
    def _cut(self) -> list[BaseGeometry]:
        """The slabs, cut along the middle where they are glued edge to edge."""
        if self.joint != "glued":
            return [placed.polygon for placed in self.placed]
        far = FAR_MM
        sides = (box(-far, 0, far, far), box(-far, -far, far, 0))
        return [p.polygon.intersection(s) for p, s in zip(self.placed, sides, strict=True)]

    @cached_property
    def resin_mm2(self) -> float:
        """Top that no wood covers: resin in a resin pair, nothing otherwise."""
        return float(self.top.polygon.difference(unary_union(self.wood)).area)

    def left_over_mm2(self) -> list[float]:
        """Face of each slab that the top leaves."""
        both = zip(self.placed, self.wood, strict=True)
        return [float(placed.polygon.area - wood.area) for placed, wood in both]


def on_one_slab(top: Top, piece: Piece) -> Layout:
    """The top wholly on one slab, its length along the grain, as near the middle as it goes."""
    fits = outline.ellipse_fits if top.shape in ROUNDED else outline.rectangle_fits
    fit = fits(piece.length_mm, piece.stations, top.length_mm, top.width_mm)
    first_end = -top.length_mm / 2 - fit.offset_mm
    return Layout(top, (Placed(piece, first_end, 0.0),), fit.margin_mm)


def spare_half_width_mm(top: Top, piece: Piece) -> float | None:
    """About how much wider each half of the top could be on one slab; None when it is too short.

    Cheap, for looking through many slabs: it is below the truth by less than a millimetre where
    the width is what limits, and takes no account of spare length.
    """
    centres = _centres(top, piece.length_mm, (piece,))
    return -float(_room(top, piece, centres)[0].min()) if centres.size else None


def as_bookmatch(top: Top, first: Piece, second: Piece, rules: Allowances = ALLOWANCES) -> Layout:
    """Half the top on each of two neighbours, cut from the same place along both."""
    shared_mm = min(first.length_mm, second.length_mm)
    centres = _centres(top, shared_mm, (first, second))
    if not centres.size:
        return Layout(top, (), shared_mm - top.length_mm, "glued")
    rooms = [_room(top, piece, centres) for piece in (first, second)]
    spare = np.minimum(*[edge - rules.joint_mm - least for least, edge in rooms])
    best = int(_middlemost_best(spare, centres - shared_mm / 2))
    offsets = [float(edge[best]) - rules.joint_mm for _, edge in rooms]
    placed = (
        Placed(first, -float(centres[best]), offsets[0]),
        Placed(second, -float(centres[best]), -offsets[1]),
    )
    return Layout(top, placed, float(spare[best]), "glued")


@dataclass(frozen=True)
class Side:
    """One slab laid along the outside of a resin top, as far out as the top's edge allows.

    `centre_mm` from its first end, `least_y_mm` for its centre line, and its inner edge (y, mm)
    at PLACES: the less, the more of the top it covers.
    """

    piece: Piece
    centre_mm: float
    least_y_mm: float
    inner_mm: Floats


def side_of(top: Top, piece: Piece) -> Side | None:
    """The slab along one side of the top, where it covers most; None when it is too short."""
    centres = _centres(top, piece.length_mm, (piece,))
    if not centres.size:
        return None
    least, _ = _room(top, piece, centres)
    best = int(_middlemost_best(-least, centres - piece.length_mm / 2))
    centre, y_mm = float(centres[best]), float(least[best])
    half = piece.half_width_at(centre + PLACES * top.length_mm / 2)
    return Side(piece, centre, y_mm, y_mm - half)


def greatest_gaps_mm(top: Top, sides: Sequence[Side], rules: Allowances = ALLOWANCES) -> Floats:
    """Greatest gap (mm) of every slab with every other, as they lie and with the second turned.

    Returns an array [turned 0/1, first, second].
    """
    inner = np.array([side.inner_mm for side in sides])
    arc = top.half_width_at(PLACES)
    gaps = []
    for other in (inner, inner[:, ::-1]):
        lift = np.maximum(0.0, rules.least_gap_mm - _least_sum(inner, other)) / 2
        gaps.append(_greatest_sum(inner, other, lift, arc))
    return np.array(gaps)


def with_resin(
    top: Top, first: Side, second: Side, *, is_turned: bool, rules: Allowances = ALLOWANCES
) -> Layout:
    """Two slabs, live edges inward, resin between; their gap measured at every break of an edge."""
    places = _gap_places(top, first, second, is_turned)
    inner = first.least_y_mm - _half_under(top, first, places)
    other = second.least_y_mm - _half_under(top, second, -places if is_turned else places)
    lift = max(0.0, rules.least_gap_mm - float((inner + other).min())) / 2
    arc = top.half_width_at(places)
    gap = np.clip(inner + lift, -arc, arc) + np.clip(other + lift, -arc, arc)
    allowed = rules.resin_gap_share * top.width_mm
    placed = (_placed(first, lift, 1, False), _placed(second, lift, -1, is_turned))
    least, greatest = float((inner + other).min()) + 2 * lift, float(gap.max())
    return Layout(top, placed, allowed - greatest, "resin", (least, greatest))


def best_with_resin(
    top: Top, first: Piece, second: Piece, rules: Allowances = ALLOWANCES
) -> Layout | None:
    """The better of the second slab as it lies and turned end for end; None when one is short."""
    mine, theirs = side_of(top, first), side_of(top, second)
    if mine is None or theirs is None:
        return None
    ways = [with_resin(top, mine, theirs, is_turned=way, rules=rules) for way in (False, True)]
    return max(ways, key=lambda laid: laid.margin_mm)


def _placed(side: Side, lift_mm: float, sense: int, is_turned: bool) -> Placed:
    length = side.piece.length_mm
    first_end = -(length - side.centre_mm) if is_turned else -side.centre_mm
    return Placed(side.piece, first_end, sense * (side.least_y_mm + lift_mm), is_turned)


def _half_under(top: Top, side: Side, places: Floats) -> Floats:
    return side.piece.half_width_at(side.centre_mm + places * top.length_mm / 2)


def _gap_places(top: Top, first: Side, second: Side, is_turned: bool) -> Floats:
    """PLACES, and every place where either inner edge breaks."""
    mine = _breaks(top, first)
    theirs = _breaks(top, second)
    every = np.concatenate([PLACES, mine, -theirs if is_turned else theirs])
    return np.unique(every[(every >= -1) & (every <= 1)])


def _breaks(top: Top, side: Side) -> Floats:
    along = np.array([station.along for station in side.piece.stations])
    return (along * side.piece.length_mm - side.centre_mm) / (top.length_mm / 2)


def _least_sum(inner: Floats, other: Floats) -> Floats:
    least = np.array([(row + other).min(axis=1) for row in inner])
    return least.reshape(len(inner), len(other))


def _greatest_sum(inner: Floats, other: Floats, lift: Floats, arc: Floats) -> Floats:
    rows = []
    for row, raised in zip(inner, lift, strict=True):
        mine = np.clip(row + raised[:, None], -arc, arc)
        rows.append((mine + np.clip(other + raised[:, None], -arc, arc)).max(axis=1))
    return np.array(rows).reshape(len(inner), len(other))


def _centres(top: Top, length_mm: float, pieces: Sequence[Piece]) -> Floats:
    """Places of the top's centre along a slab: evenly, and where its ends meet a station."""
    half = top.length_mm / 2
    if length_mm < top.length_mm:
        return np.array([])
    ends = [s.along * p.length_mm for p in pieces for s in p.stations]
    met = np.array([end + step for end in ends for step in (-half, half)])
    every = np.concatenate([np.linspace(half, length_mm - half, CENTRES), met])
    return np.unique(np.clip(every, half, length_mm - half))


def _room(top: Top, piece: Piece, centres: Floats) -> tuple[Floats, Floats]:
    """How a slab can cover one half of the top, whose middle is a line on the slab.

    At each centre: the least distance of the slab's centre line from the top's middle at which the
    outer edge still lies on wood, and the greatest at which the whole middle does.
    """
    half_length = top.length_mm / 2
    sampled = centres[:, None] + PLACES * half_length
    stations = np.array([s.along for s in piece.stations]) * piece.length_mm
    x = np.hstack([sampled, np.broadcast_to(stations, (len(centres), len(stations)))])
    place = (x - centres[:, None]) / half_length
    inside = np.abs(place) <= 1.0
    half = piece.half_width_at(x)
    outside_by = np.where(inside, top.half_width_at(np.clip(place, -1, 1)) - half, -np.inf)
    rise_mm = ARC_RISE * top.width_mm / 2 if top.shape in ROUNDED else 0.0
    return outside_by.max(axis=1) + rise_mm, np.where(inside, half, np.inf).min(axis=1)


def _middlemost_best(values: Floats, off_middle: Floats) -> np.intp:
    """The greatest value; among equals the one nearest the slab's middle."""
    equal = values >= values.max() - outline.TOUCHING_MM
    return np.argmin(np.where(equal, np.abs(off_middle), np.inf))
