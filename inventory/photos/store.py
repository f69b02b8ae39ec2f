"""Keeping a slab's pictures: files and rows come and go together.

Files have names nobody can guess, are written before the row is and taken away again when the
transaction fails; those of a removed picture go only once the removal is certain.
"""

import secrets
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import PurePath
from typing import BinaryIO

from django.core.files.base import ContentFile
from django.core.files.storage import Storage
from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils import timezone

from inventory import derive, ledger
from inventory.models import LedgerKind, Person, Photo, PhotoRole, PhotoSize, Slab
from inventory.photos.intake import Intake, PhotoRefused, take_in

SIZES = tuple(str(size) for size in PhotoSize)
KNOWN = "This picture is with the slab already."
TRACED_ON = (
    "An outline of the slab was traced on this picture, so it stays: "
    "without it nobody could look whether the outline is right."
)


def add_upload(slab: Slab, file: BinaryIO, name: str, role: str, by: Person | None) -> Photo:
    """Take in one uploaded file and keep it.

    Raises:
        PhotoRefused: with one sentence and a status; 409 when the slab has the same picture.
    """
    return add_photo(slab, take_in(file, name), role, by, name)


def add_photo(
    slab: Slab, intake: Intake, role: PhotoRole | str, by: Person | None, name: str
) -> Photo:
    """Keep a picture that was taken in, last in the slab's order. `name` is what it was called.

    Call it outside any other transaction: only then does the failure of the whole take the files
    away again.

    Raises:
        PhotoRefused: with status 409, when the slab has the same picture already.
    """
    if slab.photos.filter(sha256=intake.sha256).exists():
        raise PhotoRefused(KNOWN, 409)
    photo = Photo(
        slab=slab,
        role=role,
        width_px=intake.width,
        height_px=intake.height,
        mean_colour=intake.dominant_hex,
        sha256=intake.sha256,
        uploaded_name=PurePath(name.replace("\\", "/")).name[-120:],
        by=by,
    )
    try:
        with _files_unless_failing(photo), transaction.atomic():
            _write_files(photo, intake)
            _append(photo)
    except IntegrityError as clash:
        if slab.photos.filter(sha256=intake.sha256).exists():
            raise PhotoRefused(KNOWN, 409) from clash
        raise
    return photo


def put_in_order(slab: Slab, photo_pks: Sequence[int], on: date) -> None:
    """Show the slab's pictures in this order; those not named follow in the order they had."""
    with transaction.atomic():
        photos = {photo.pk: photo for photo in _locked_photos(slab)}
        named = [pk for pk in dict.fromkeys(photo_pks) if pk in photos]
        ordered = [*named, *(pk for pk in photos if pk not in named)]
        for position, pk in enumerate(ordered):
            photos[pk].position = position
        Photo.objects.bulk_update(photos.values(), ["position"])
        derive.write(slab, on, "cover")


def shift(slab: Slab, photo: Photo, by: int, on: date) -> None:
    """Move a picture up (`by` -1) or down (1) in the slab's order, as far as there is room."""
    ordered = list(slab.photos.order_by("position", "pk").values_list("pk", flat=True))
    here = ordered.index(photo.pk)
    there = min(max(here + by, 0), len(ordered) - 1)
    ordered.insert(there, ordered.pop(here))
    put_in_order(slab, ordered, on)


@transaction.atomic
def remove(photo: Photo, by: Person | None, now: datetime) -> None:
    """Take a picture off the record: its files go once that is certain, the ledger keeps a note.

    Raises:
        PhotoRefused: with status 409, when an outline was ever traced on it.
    """
    slab = Slab.objects.select_for_update(of=("self",)).get(pk=photo.slab_id)
    if photo.outlines.exists():
        raise PhotoRefused(TRACED_ON, 409)
    files = _file_names(photo)
    storage = photo.master.storage
    before = f"{photo.get_role_display()}, {photo.uploaded_name or 'a picture'}"
    photo.delete()
    derive.write(slab, timezone.localtime(now).date(), "cover")
    ledger.write(slab, LedgerKind.CORRECTED, by=by, at=now, before=before, after="Picture removed")
    transaction.on_commit(lambda: _delete_files(storage, files))


def _append(photo: Photo) -> None:
    slab = Slab.objects.select_for_update(of=("self",)).get(pk=photo.slab_id)
    last = slab.photos.aggregate(last=Max("position"))["last"]
    photo.position = 0 if last is None else last + 1
    photo.save()
    derive.write(photo.slab, timezone.localdate(), "cover")


def _locked_photos(slab: Slab) -> list[Photo]:
    Slab.objects.select_for_update(of=("self",)).get(pk=slab.pk)
    return list(slab.photos.order_by("position", "pk"))


def _write_files(photo: Photo, intake: Intake) -> None:
    stem = secrets.token_urlsafe(24)
    master = ContentFile(intake.original)
    photo.master.save(f"{stem}-master{intake.original_ext}", master, save=False)
    for derivative in intake.derivatives:
        name = f"{stem}-{derivative.name}.webp"
        getattr(photo, derivative.name).save(name, ContentFile(derivative.data), save=False)


@contextmanager
def _files_unless_failing(photo: Photo) -> Iterator[None]:
    """Whatever happens inside, a failure leaves no file that no row names."""
    try:
        yield
    except BaseException:
        _delete_files(photo.master.storage, _file_names(photo))
        raise


def _file_names(photo: Photo) -> list[str]:
    return [name for size in SIZES if (name := getattr(photo, size).name)]


def _delete_files(storage: Storage, names: Iterable[str]) -> None:
    for name in names:
        storage.delete(name)
