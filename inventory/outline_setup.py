"""What a photograph is measured by: sheets, a known rectangle or a taped distance, and its scale.

The whole of it stands in the page's address, so that a page can be left, reloaded or opened by two
people at once; nothing is kept between pages, and everything in the address is judged anew.
"""

from __future__ import annotations

import hashlib
import io
import json
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Any
from urllib.parse import urlencode

import numpy as np
from django.core.cache import cache
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import models
from django.utils import timezone
from PIL import Image

from inventory.models import Outline, Photo
from inventory.outline_drawn import places_text
from inventory.photos import scale as scales
from inventory.photos.intake import GROUND
from inventory.photos.marks import Reading, scale_from_sheets
from inventory.photos.problems import Problem, Trouble, stopping
from inventory.photos.rectify import Window, rectify, whole_picture
from inventory.photos.scale import Pixels, Scale
from inventory.photos.sheet import BAR_MM

LONG_SIDE_PX = 3200
QUALITY = 84
FOLDER = "straight"
KEEP_FOR = timedelta(days=2)
_CACHE_SECONDS = 24 * 3600


class Way(models.TextChoices):
    """What gives the picture its scale."""

    SHEETS = "sheets", "Scale sheets in the picture"
    RECTANGLE = "rectangle", "A rectangle of known size: I will click its four corners"
    POINTS = "points", "Two points a taped distance apart: I will click both"


MARKS_OF = {Way.SHEETS: 0, Way.RECTANGLE: 4, Way.POINTS: 2}


@dataclass(frozen=True)
class Asked:
    """What the person said of a picture; lengths in mm, `marks` in the master's pixels."""

    photo: Photo
    side: str
    way: Way = Way.SHEETS
    bar_mm: float = BAR_MM
    rectangle_mm: tuple[float, float] | None = None
    apart_mm: float | None = None
    marks: tuple[tuple[float, float], ...] = ()
    raised_mm: float = 0.0
    taped_mm: float | None = None

    @property
    def wants_marks(self) -> bool:
        return len(self.marks) < MARKS_OF[self.way]

    @property
    def marks_text(self) -> str:
        return places_text(self.marks)

    @property
    def query(self) -> str:
        """The address's part after the question mark: the same again for whoever opens it."""
        return urlencode(self.fields)

    @property
    def fields(self) -> dict[str, str]:
        wide, high = self.rectangle_mm or (None, None)
        lengths = {
            "bar": self.bar_mm if self.way == Way.SHEETS else None,
            "wide": wide,
            "high": high,
            "apart": self.apart_mm,
            "raised": self.raised_mm or None,
            "taped": self.taped_mm,
        }
        said = {name: f"{value:g} mm" for name, value in lengths.items() if value}
        marks = {"marks": self.marks_text} if self.marks else {}
        return {
            "photo": str(self.photo.pk),
            "side": self.side,
            "way": self.way.value,
            **said,
            **marks,
        }


@dataclass(frozen=True, eq=False)
class Setup:
    """A picture with its scale, ready to be traced; `query` leads back to it.

    `of` is the outline that is corrected, where one is.
    """

    photo: Photo
    side: str
    scale: Scale
    problems: tuple[Problem, ...]
    query: str
    taped_mm: float | None = None
    of: Outline | None = None

    @property
    def raised_mm(self) -> float:
        return self.scale.raised_mm


def set_up(asked: Asked) -> Setup | tuple[Problem, ...]:
    """The picture with its scale; or why it has none that sizes can be taken by."""
    reading = _reading(asked)
    if reading.scale is None or stopping(reading.problems):
        return stopping(reading.problems)
    scale, problems = reading.scale, reading.problems
    if asked.raised_mm:
        scale = scale.raised(asked.raised_mm)
        problems = (*problems, _raised())
    return Setup(asked.photo, asked.side, scale, problems, asked.query, asked.taped_mm)


def set_up_again(outline: Outline) -> Setup | None:
    """The picture an outline was traced on, to correct it; None when it was not on a picture."""
    if outline.photo is None or outline.is_withdrawn or not outline.traced:
        return None
    try:
        scale = scales.from_record(outline.scale)
    except (KeyError, ValueError, TypeError):
        return None
    problems = scales.cautions(scale) + ((_raised(),) if scale.raised_mm else ())
    query = urlencode({"from": outline.pk})
    return Setup(outline.photo, outline.side, scale, problems, query, of=outline)


def _raised() -> Problem:
    return Problem(
        Trouble.RAISED,
        "The scale was carried up from the floor to the slab’s face. That rests on how far away "
        "the camera was, which is only estimated: check one length with a tape.",
    )


def _reading(asked: Asked) -> Reading:
    if asked.way == Way.SHEETS:
        return _read_sheets(asked.photo, asked.bar_mm)
    size = (asked.photo.width_px, asked.photo.height_px)
    found: Scale | Problem
    if asked.way == Way.RECTANGLE:
        wide, high = asked.rectangle_mm or (0.0, 0.0)
        try:
            found = scales.scale_from_rectangle(asked.marks, wide, high, size)
        except ValueError as lined_up:
            found = Problem(Trouble.BAD_CORNERS, str(lined_up), stops=True)
    else:
        first, second = asked.marks[:2]
        found = scales.scale_from_two_points(first, second, asked.apart_mm or 0.0, size)
    if isinstance(found, Problem):
        return Reading(None, (found,))
    return Reading(found, scales.cautions(found))


def _read_sheets(photo: Photo, bar_mm: float) -> Reading:
    """Reading a picture takes some tenths of a second: once a day is enough for each."""
    key = f"scale-sheets:{photo.sha256}:{bar_mm:.3f}"
    reading: Reading | None = cache.get(key)
    if reading is None:
        reading = scale_from_sheets(pixels_of(photo), bar_measures_mm=bar_mm)
        cache.set(key, reading, _CACHE_SECONDS)
    return reading


def pixels_of(photo: Photo) -> Pixels:
    """The master at its full size: (rows, columns, 3) bytes, RGB."""
    with photo.master.open("rb") as opened:
        return np.asarray(Image.open(opened).convert("RGB"))


# --- the straightened picture ------------------------------------------------------------


@dataclass(frozen=True)
class Straight:
    """The straightened picture: the window of the face it shows, and px a mm."""

    window: Window
    px_per_mm: float


def straight_of(scale: Scale) -> Straight:
    """How the picture is shown for tracing: whole, its long side at most `LONG_SIDE_PX`."""
    window = whole_picture(scale)
    fits = LONG_SIDE_PX / max(window.width_mm, window.height_mm)
    return Straight(window, min(fits, scale.px_per_mm()))


def straight_file(setup: Setup) -> str:
    """Where the straightened picture is kept (JPEG), made first when it is not there.

    Those made days ago are taken away then: they are made again in under a second.
    """
    name = f"{FOLDER}/{setup.photo.pk}-{_mark(setup)}.jpg"
    if not default_storage.exists(name):
        _sweep()
        default_storage.save(name, ContentFile(_made(setup)))
    return name


def _mark(setup: Setup) -> str:
    """Tells apart the pictures of one photograph under different scales."""
    kept: dict[str, Any] = {"photo": setup.photo.sha256, "scale": setup.scale.record()}
    return hashlib.sha256(json.dumps(kept, sort_keys=True).encode()).hexdigest()[:24]


def _made(setup: Setup) -> bytes:
    straight = straight_of(setup.scale)
    plain = replace(setup.scale, sheets=(), covariance=None)
    pixels = pixels_of(setup.photo)
    picture = rectify(pixels, plain, straight.px_per_mm, straight.window, beyond=GROUND)
    kept = io.BytesIO()
    Image.fromarray(picture.pixels).save(kept, "JPEG", quality=QUALITY)
    return kept.getvalue()


def _sweep() -> None:
    if not default_storage.exists(FOLDER):
        return
    oldest = timezone.now() - KEEP_FOR
    for file in default_storage.listdir(FOLDER)[1]:
        name = f"{FOLDER}/{file}"
        try:
            if default_storage.get_modified_time(name) < oldest:
                default_storage.delete(name)
        except FileNotFoundError:
            continue  # somebody else's sweep took it
