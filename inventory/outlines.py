"""A slab's traced outlines: kept, superseded, taken back. Each is in the ledger, and the slab's
figures follow in the same transaction.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import numpy as np
import numpy.typing as npt
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from inventory import derive, ledger, parcels
from inventory.models import FaceSide, LedgerEntry, LedgerKind, Outline, Person, Photo, Slab
from inventory.photos.doubts import Floats, still_doubted, stretches
from inventory.photos.scale import Scale
from inventory.photos.trace import Judged, carried
from inventory.slab_words import millimetres

Points = npt.ArrayLike
MM2_PER_M2 = 1e6
THICKEST_BARK_MM = 100.0


@dataclass(frozen=True, eq=False)
class Traced:
    """One face as it was traced and judged, before it is kept.

    `clicks`, `traced` and `traced_holes` are in the straightened picture's mm, `judged` in the
    slab's. `raised_mm` is how far the face lies above the sheets; `bark_mm` the thickness of the
    bark inside the line; `corrected_points` how many points of the draft the person changed;
    `weak` the places where the draft's edge hardly showed, in the picture's mm.
    """

    side: str
    photo: Photo | None
    scale: Scale | None
    judged: Judged
    raised_mm: float = 0.0
    clicks: Points = ()
    traced: Points = ()
    traced_holes: Sequence[Points] = ()
    is_bark_inside: bool = False
    bark_mm: float = 0.0
    corrected_points: int = 0
    weak: Points = ()


def current(slab: Slab) -> dict[str, Outline]:
    """The outline each side has now, by side; a side never traced or taken back is not in it."""
    rows = Outline.objects.current().filter(slab=slab).select_related("photo", "by")
    return {row.side: row for row in rows if not row.is_withdrawn}


def doubts(outline: Outline) -> tuple[Floats, ...]:
    """Stretches (m, 2) of a kept outline, in the slab's mm, whose edge hardly showed in its picture
    and which nobody has moved; the longest first."""
    if outline.is_withdrawn or not outline.doubtful:
        return ()
    step = np.array(outline.to_slab, dtype=np.float64)
    return stretches(carried(step, outline.doubtful), outline.ring)


def keep(
    slab: Slab,
    *,
    side: str,
    photo: Photo | None,
    scale: Scale | None,
    raised_mm: float,
    clicks: Points,
    traced: Points,
    traced_holes: Sequence[Points],
    judged: Judged,
    is_bark_inside: bool,
    bark_mm: float,
    corrected_points: int,
    weak: Points = (),
    by: Person | None,
    now: datetime,
) -> Outline:
    """Keep an outline of one face; it supersedes the one that face has. See `Traced`.

    Raises:
        ValidationError: by field (`photo`, `bark_mm`, `traced`), where it cannot be kept.
    """
    face = Traced(
        side=side,
        photo=photo,
        scale=scale,
        judged=judged,
        raised_mm=raised_mm,
        clicks=clicks,
        traced=traced,
        traced_holes=traced_holes,
        is_bark_inside=is_bark_inside,
        bark_mm=bark_mm,
        corrected_points=corrected_points,
        weak=weak,
    )
    return keep_many([(slab, face)], by=by, now=now)[0]


@transaction.atomic
def keep_many(
    traced: Sequence[tuple[Slab, Traced]],
    *,
    by: Person | None,
    now: datetime,
    settles: bool = True,
) -> list[Outline]:
    """The same for many, one of each face at most, in a number of queries that does not grow.

    Whoever loads a whole history at once says `settles=False`, and derives when all is written.
    """
    slabs = _locked([slab for slab, _ in traced])
    before = _latest(slabs)
    rows = [_row(slab, face, before.get((slab.pk, face.side)), by, now) for slab, face in traced]
    Outline.objects.bulk_create(rows)
    ledger.write_many(_kept_entry(row, before.get((row.slab_id, row.side))) for row in rows)
    if settles:
        _refresh(slabs, _day(now))
    return rows


@transaction.atomic
def withdraw(slab: Slab, side: str, by: Person | None, now: datetime) -> Outline:
    """Take a face's outline back: the slab has its other face's shape, or that of its widths.

    Raises:
        ValidationError: that face has no outline.
    """
    slabs = _locked([slab])
    last = _latest(slabs).get((slab.pk, side))
    if last is None or last.is_withdrawn:
        raise ValidationError("This face has no outline to take back.")
    row = Outline.objects.create(slab=slab, side=side, supersedes=last, by=by, at=now)
    ledger.write(slab, LedgerKind.UNTRACED, by=by, at=now, before=words(last), after="")
    _refresh(slabs, _day(now))
    return row


def words(outline: Outline) -> str:
    """`Upper face, 2410 mm long, 1.69 m² of wood, 1 hole`, as the ledger says it."""
    ring = np.array(outline.ring, dtype=np.float64)
    wood_mm2 = outline.face.wood.area
    said = f"{outline.get_side_display()}, {millimetres(float(np.ptp(ring[:, 0])))} long"
    said += f", {wood_mm2 / MM2_PER_M2:.3f} m² of wood"
    if outline.holes:
        said += f", {len(outline.holes)} hole{'s' if len(outline.holes) > 1 else ''}"
    return said + (", bark taken off" if outline.bark_mm else "")


# --- rows --------------------------------------------------------------------------------


def _locked(slabs: Sequence[Slab]) -> list[Slab]:
    """Queue behind anybody changing the same slabs; the callers' own objects, each once."""
    mine = {slab.pk: slab for slab in slabs}
    rows = Slab.objects.select_for_update(of=("self",)).filter(pk__in=list(mine)).order_by("pk")
    for row in rows:
        for name in ("length_mm", "thickness_mm", "widths", "are_widths_unplaced"):
            setattr(mine[row.pk], name, getattr(row, name))
        mine[row.pk].parcel_id = row.parcel_id
    return list(mine.values())


def _latest(slabs: Sequence[Slab]) -> dict[tuple[int, str], Outline]:
    """The last row of each face, withdrawn or not: what a new one supersedes."""
    rows = Outline.objects.current().filter(slab__in=[slab.pk for slab in slabs])
    return {(row.slab_id, row.side): row for row in rows}


def _row(
    slab: Slab, face: Traced, before: Outline | None, by: Person | None, now: datetime
) -> Outline:
    _refuse(slab, face)
    row = Outline(
        slab=slab,
        side=face.side,
        supersedes=before,
        photo=face.photo,
        scale={} if face.scale is None else face.scale.record(),
        raised_mm=float(face.raised_mm),
        clicks=_listed(face.clicks),
        traced=_listed(face.traced),
        traced_holes=[_listed(hole) for hole in face.traced_holes],
        doubtful=_listed(still_doubted(face.weak, face.traced)),
        to_slab=face.judged.to_slab.tolist(),
        ring=face.judged.outline_mm.tolist(),
        holes=[hole.tolist() for hole in face.judged.holes_mm],
        is_bark_inside=face.is_bark_inside,
        bark_mm=float(face.bark_mm) if face.is_bark_inside else 0.0,
        corrected_points=face.corrected_points,
        cautions=[str(problem) for problem in face.judged.problems],
        by=by,
        at=now,
    )
    if row.face.wood.is_empty:
        raise ValidationError({"bark_mm": "With so much bark no wood is left inside the line."})
    return row


def _refuse(slab: Slab, face: Traced) -> None:
    problems: dict[str, str] = {}
    if face.side not in FaceSide.values:
        problems["side"] = "Say which face was traced."
    if face.judged.is_refused or not len(face.judged.outline_mm):
        problems["traced"] = " ".join(str(problem) for problem in face.judged.problems) or (
            "An outline needs at least three points round the slab."
        )
    if face.photo is not None and face.photo.slab_id != slab.pk:
        problems["photo"] = "That picture is of another slab."
    if face.is_bark_inside and not 0 < face.bark_mm <= THICKEST_BARK_MM:
        problems["bark_mm"] = "Say how thick the bark inside the line is, up to 100 mm."
    if problems:
        raise ValidationError(dict(problems))


def _listed(points: Any) -> list[list[float]]:
    """What was traced, to a hundredth of a millimetre: finer than any camera, short to keep."""
    flat = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    return [[float(x), float(y)] for x, y in np.round(flat, 2)]


def _kept_entry(row: Outline, before: Outline | None) -> LedgerEntry:
    was = "" if before is None or before.is_withdrawn else words(before)
    return ledger.entry(
        row.slab, LedgerKind.OUTLINED, by=row.by, at=row.at, before=was, after=words(row)
    )


def _refresh(slabs: Sequence[Slab], on: date) -> None:
    """The shapes, then what each parcel's slabs carry by them."""
    derive.write_many(slabs, on, "shape")
    for parcel in {slab.parcel_id: slab.parcel for slab in slabs if slab.parcel_id}.values():
        if parcel is not None:
            parcels.refresh_parcel(parcel)
    derive.write_many(slabs, on, "cost")


def _day(now: datetime) -> date:
    return timezone.localtime(now).date()
