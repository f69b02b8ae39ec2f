"""Which photographs were taken of each invented slab, and keeping them once they are drawn."""

import hashlib
from collections.abc import Iterable, Sequence
from itertools import groupby

from django.core.files.base import ContentFile
from django.core.files.storage import Storage

from catalogue.demo.clock import chance
from catalogue.demo.courses import gone_days_ago
from catalogue.demo.stock import Piece, Yard
from catalogue.demo.studio import Drawn, Sitter
from inventory import derive
from inventory.models import Photo, PhotoRole
from inventory.photos.intake import Intake

FOLDER = "photos/demo"
"""Apart from real uploads. Names repeat, so an interrupted load leaves no file without a row."""
_ORDER = (
    PhotoRole.FACE_DRY,
    PhotoRole.FACE_WET,
    PhotoRole.EDGE,
    PhotoRole.DETAIL,
    PhotoRole.OTHER_FACE,
)
_SHARES = {
    PhotoRole.FACE_WET: 0.07,
    PhotoRole.EDGE: 0.58,
    PhotoRole.DETAIL: 0.27,
    PhotoRole.OTHER_FACE: 0.06,
}
_FIGURED = 1.6


def stacks(yard: Yard) -> list[list[Sitter]]:
    """Every slab with the pictures taken of it, by log; keys are places in `yard.pieces`."""
    gone = gone_days_ago(yard)
    sitters = [
        _sitter(yard, key, piece, (piece.log.code, piece.number) in gone)
        for key, piece in enumerate(yard.pieces)
    ]
    by_log = groupby(sitters, lambda sitter: yard.pieces[sitter.key].log.code)
    return [list(group) for _, group in by_log]


def count(stacks: Iterable[Sequence[Sitter]]) -> int:
    return sum(len(sitter.roles) for stack in stacks for sitter in stack)


def _sitter(yard: Yard, key: int, piece: Piece, is_gone: bool) -> Sitter:
    rng = chance(yard.seed, "photographed", piece.log.code, piece.number)
    figure = frozenset(piece.log.figure)
    more = _FIGURED if figure - {"plain"} else 1.0
    wanted = {role for role, share in _SHARES.items() if rng.random() < share * more}
    roles = [PhotoRole.FACE_DRY] if is_gone else [PhotoRole.FACE_DRY, *wanted]
    ordered = tuple(role.value for role in _ORDER if role in roles)
    return Sitter(key, piece.shape, yard.source.looks[piece.log.species], figure, ordered)


def keep(yard: Yard, drawn: Drawn) -> Photo:
    """Write the files of one picture; its row comes back unsaved."""
    piece = yard.pieces[drawn.key]
    intake, role = drawn.intake, PhotoRole(drawn.role)
    photo = Photo(
        slab=piece.slab,
        role=role,
        position=_ORDER.index(role),
        width_px=intake.width,
        height_px=intake.height,
        mean_colour=intake.dominant_hex,
        sha256=intake.sha256,
        uploaded_name=f"{piece.log.code} {piece.number:02} {role.label.lower()}.jpg",
        by=yard.of_role("worker")[piece.number % 2],
    )
    _write_files(photo, intake, f"{FOLDER}/{_stem(yard, drawn)}")
    return photo


def _stem(yard: Yard, drawn: Drawn) -> str:
    piece = yard.pieces[drawn.key]
    about = f"{yard.seed}/{piece.slab.code}/{drawn.role}"
    return hashlib.sha256(about.encode()).hexdigest()[:32]


def _write_files(photo: Photo, intake: Intake, stem: str) -> None:
    """A zoom that is no larger than the page is the page's own file."""
    storage = photo.master.storage
    master = _written(storage, f"{stem}-master{intake.original_ext}", intake.original)
    photo.master.name = master
    known: dict[bytes, str] = {}
    for derivative in intake.derivatives:
        name = known.get(derivative.data) or _written(
            storage, f"{stem}-{derivative.name}.webp", derivative.data
        )
        known[derivative.data] = name
        getattr(photo, derivative.name).name = name


def _written(storage: Storage, name: str, data: bytes) -> str:
    if storage.exists(name):
        storage.delete(name)
    return storage.save(name, ContentFile(data))


def store(yard: Yard, photos: Sequence[Photo]) -> None:
    """The rows, in the slabs' order whatever order they were drawn in, dated when taken."""
    ordered = sorted(photos, key=lambda photo: (photo.slab_id, photo.position))
    Photo.objects.bulk_create(ordered, batch_size=derive.AT_ONCE)
    taken = {piece.slab.pk: piece.log.sawn_days_ago for piece in yard.pieces}
    for photo in ordered:
        photo.at = yard.clock.at(max(taken[photo.slab_id] - 2, 0), 11, photo.position)
    Photo.objects.bulk_update(ordered, ["at"], batch_size=derive.AT_ONCE)
