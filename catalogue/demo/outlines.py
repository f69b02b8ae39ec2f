"""Which faces of the invented yard's slabs were traced on their photographs, by whom and when.

The camera hangs square over the bench, and what it sees was measured once: so the scale of each
picture comes from its own corners. The outlines are those the pictures were drawn with.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

from catalogue.demo.clock import chance
from catalogue.demo.stock import Piece, Yard
from inventory import outlines
from inventory.demo.traced import TrueFace, true_face
from inventory.demo.yard import Log
from inventory.models import FaceSide, Photo, PhotoRole, Slab
from inventory.outlines import Traced
from inventory.photos.scale import Scale, scale_from_rectangle
from inventory.photos.trace import TypedSizes, judge

WHOLE_LOGS, SOME_SLABS = 0.42, 0.33
"""Share of the logs traced slab for slab as they came off the saw; of the others' slabs."""
_PHOTOGRAPHED = {PhotoRole.FACE_DRY: FaceSide.UPPER, PhotoRole.OTHER_FACE: FaceSide.LOWER}
_BARKY = 0.02
Face = tuple[Slab, Traced]


@dataclass(eq=False)
class Tracer:
    """Traces each face as its photograph comes, while others are still drawn."""

    yard: Yard
    faces: dict[int, list[tuple[Photo, Traced]]] = field(default_factory=dict)

    def look_at(self, piece: Piece, photo: Photo) -> None:
        """Trace it if it is a face, and of a slab that somebody traced."""
        if photo.role in _PHOTOGRAPHED and _is_traced(self.yard, piece):
            found = self.faces.setdefault(piece.slab.pk, [])
            found.append((photo, _traced(self.yard, piece, photo)))

    def of(self, piece: Piece) -> list[Face]:
        """What was traced of a slab, the upper face first."""
        found = sorted(self.faces.get(piece.slab.pk, ()), key=lambda one: one[0].position)
        return [(piece.slab, traced) for _, traced in found]


def load(tracer: Tracer) -> None:
    """Keep what was traced: about six slabs in ten, those of one log by one person on one day.

    The slabs' figures are the caller's to derive when all is written.
    """
    yard = tracer.yard
    workers = yard.of_role("worker")
    for order, (row, faces) in enumerate(_sittings(tracer)):
        day = max(row.sawn_days_ago - 2, 0)
        by, now = workers[(order + 1) % len(workers)], yard.clock.at(day, 14, order)
        outlines.keep_many(faces, by=by, now=now, settles=False)


def _sittings(tracer: Tracer) -> Iterator[tuple[Log, list[Face]]]:
    for row in tracer.yard.source.logs:
        faces = [face for piece in tracer.yard.of_log(row.code) for face in tracer.of(piece)]
        if faces:
            yield row, faces


def _is_traced(yard: Yard, piece: Piece) -> bool:
    log = float(chance(yard.seed, "traced", piece.log.code, 0).random())
    slab = float(chance(yard.seed, "traced", piece.log.code, piece.number).random())
    return log < WHOLE_LOGS or slab < SOME_SLABS


def _traced(yard: Yard, piece: Piece, photo: Photo) -> Traced:
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
    return Traced(
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


def _scale(face: TrueFace, photo: Photo) -> Scale:
    """From the corners of the picture itself."""
    wide, high = photo.width_px - 1.0, photo.height_px - 1.0
    corners = [(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high)]
    found = scale_from_rectangle(corners, *face.picture_mm, (photo.width_px, photo.height_px))
    assert isinstance(found, Scale)
    return found
