"""Which faces of the invented yard's slabs were traced on their photographs, by whom and when.

The camera hangs square over the bench, and what it sees was measured once: so the scale of each
picture comes from its own corners. The outlines are those the pictures were drawn with.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from catalogue.demo.clock import chance
from catalogue.demo.stock import Piece, Yard
from inventory import outlines
from inventory.demo.traced import TrueFace, true_face
from inventory.models import FaceSide, Photo, PhotoRole, Slab
from inventory.outlines import Traced
from inventory.photos.scale import Scale, scale_from_rectangle
from inventory.photos.trace import TypedSizes, judge

WHOLE_LOGS, SOME_SLABS = 0.42, 0.33
"""Share of the logs traced slab for slab as they came off the saw; of the others' slabs."""
_PHOTOGRAPHED = {PhotoRole.FACE_DRY: FaceSide.UPPER, PhotoRole.OTHER_FACE: FaceSide.LOWER}
_BARKY = 0.02
Face = tuple[Slab, Traced]


@dataclass(frozen=True, eq=False)
class _Sitting:
    """The faces of one log, traced by one person on one day."""

    log: str
    pieces: list[tuple[Piece, Photo]]


def load(yard: Yard, photos: Sequence[Photo]) -> None:
    """Trace about six slabs in ten; their lower faces too where they were photographed."""
    workers = yard.of_role("worker")
    for order, sitting in enumerate(_sittings(yard, photos)):
        faces = [_traced(yard, piece, photo) for piece, photo in sitting.pieces]
        day = max(sitting.pieces[0][0].log.sawn_days_ago - 2, 0)
        outlines.keep_many(
            faces, by=workers[(order + 1) % len(workers)], now=yard.clock.at(day, 14, order)
        )


def _sittings(yard: Yard, photos: Sequence[Photo]) -> Iterator[_Sitting]:
    by_slab: dict[int, list[Photo]] = {}
    for photo in photos:
        if photo.role in _PHOTOGRAPHED:
            by_slab.setdefault(photo.slab_id, []).append(photo)
    for row in yard.source.logs:
        chosen = [piece for piece in yard.of_log(row.code) if _is_traced(yard, piece)]
        pairs = [(piece, photo) for piece in chosen for photo in by_slab.get(piece.slab.pk, [])]
        if pairs:
            yield _Sitting(row.code, pairs)


def _is_traced(yard: Yard, piece: Piece) -> bool:
    log = float(chance(yard.seed, "traced", piece.log.code, 0).random())
    slab = float(chance(yard.seed, "traced", piece.log.code, piece.number).random())
    return log < WHOLE_LOGS or slab < SOME_SLABS


def _traced(yard: Yard, piece: Piece, photo: Photo) -> Face:
    rng = chance(yard.seed, "traced how", piece.log.code, piece.number)
    with_bark = bool(rng.random() < _BARKY)
    side = _PHOTOGRAPHED[PhotoRole(photo.role)]
    face = true_face(
        piece.shape,
        yard.source.looks[piece.log.species],
        max(photo.width_px, photo.height_px),
        with_bark=with_bark,
        is_turned_over=side == FaceSide.LOWER,
    )
    scale = _scale(face, photo)
    ring, holes = scale.mm(face.ring_px), [scale.mm(hole) for hole in face.holes_px]
    # The tape said the length; widths were taped inside the bark, so they do not judge this line.
    judged = judge(ring, holes, TypedSizes(length_mm=piece.slab.length_mm))
    traced = Traced(
        side=side,
        photo=photo,
        scale=scale,
        judged=judged,
        clicks=ring[:: max(1, len(ring) // 12)],
        traced=ring,
        traced_holes=holes,
        is_bark_inside=with_bark,
        bark_mm=round(face.bark_mm, 1),
        corrected_points=int(rng.integers(0, 9)),
    )
    return piece.slab, traced


def _scale(face: TrueFace, photo: Photo) -> Scale:
    """From the corners of the picture itself."""
    wide, high = photo.width_px - 1.0, photo.height_px - 1.0
    corners = [(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high)]
    found = scale_from_rectangle(corners, *face.picture_mm, (photo.width_px, photo.height_px))
    assert isinstance(found, Scale)
    return found
