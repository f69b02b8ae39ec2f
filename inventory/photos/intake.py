"""A picture as it arrives → checked, upright, stripped of its story, and resized once.

Everything a photograph must survive before it is kept happens here, in this order: its
extension, its bytes, its real format and its pixels are checked, each with its own sentence,
and only then is it decoded, once. Nothing here knows of a database or a request.

The master is a JPEG, whatever came in. A JPEG that already stands upright (most do) keeps its
own picture data to the last bit: only the segments that tell about camera, place and person are
left out, which takes milliseconds and loses nothing. Everything else is encoded anew at quality
92 with full colour resolution. JPEG rather than WebP because it is about eight times as quick
to write, has no 16,383 pixel limit for long panoramas, and opens in every program a client owns.
"""

from __future__ import annotations

import hashlib
import re
import struct
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from io import BytesIO
from itertools import chain, product
from pathlib import PurePath
from typing import BinaryIO

from PIL import ExifTags, Image, ImageChops, ImageCms, UnidentifiedImageError
from pillow_heif import register_heif_opener

MAX_BYTES = 30 * 1024 * 1024
MAX_PIXELS = 100_000_000
MIN_LONG_SIDE_PX = 200
MAX_SIDE_PX = 65_500  # as far as the JPEG encoder reaches

# Thumbnails and depth maps inside a HEIC are of no use here and only widen what a file can attack.
register_heif_opener(thumbnails=False, depth_images=False, aux_images=False)
# Pillow warns above this and refuses above twice this, already while reading the header.
Image.MAX_IMAGE_PIXELS = MAX_PIXELS

FORMATS = ("JPEG", "PNG", "WEBP", "HEIF")
EXTENSIONS = (".jpg", ".jpeg", ".jpe", ".jfif", ".png", ".webp", ".heic", ".heif", ".hif")
LONG_SIDES_PX = {"zoom": 3200, "page": 1600, "grid": 480}
WEBP_QUALITY = 80
# Measured on 2 cores, 3200 × 2400: method 0 takes 174 ms, method 4 takes 651 ms for 10 % fewer
# bytes at the same fidelity. The grid picture is small and fetched by the dozen, so it may take
# longer: method 2 saves 20 % of its bytes for 1 ms, method 4 another 3 % for 4 ms.
WEBP_METHODS = {"zoom": 0, "page": 0, "grid": 2}
MASTER_QUALITY = 92
GROUND = (243, 240, 234)  # shows through where a picture is see-through: a quiet warm white

# Ten or so scans are usual in a progressive JPEG; a hostile one holds thousands, and every
# one costs a pass over the whole picture.
MAX_JPEG_SCANS = 50

TAKEN = "add a JPEG, PNG, WebP or HEIC picture"
DAMAGED = "This file is damaged or cut short and cannot be shown; copy it over again and add that."
TOO_LARGE_HERE = "This picture is too large to open here; save a smaller copy and add that."

# What the libraries are known to raise on files that are broken, by accident or design.
DECODING_FAILURES = (
    OSError,
    SyntaxError,
    ValueError,
    TypeError,
    IndexError,
    KeyError,
    EOFError,
    OverflowError,
    RuntimeError,
    struct.error,
    zlib.error,
)

KINDS_BY_EXTENSION = {
    ".gif": "a GIF",
    ".tif": "a TIFF",
    ".tiff": "a TIFF",
    ".bmp": "a BMP",
    ".svg": "an SVG drawing",
    ".pdf": "a PDF",
    ".avif": "an AVIF picture",
    ".mov": "a video",
    ".mp4": "a video",
    ".dng": "a camera's raw file",
    ".nef": "a camera's raw file",
    ".arw": "a camera's raw file",
    ".cr2": "a camera's raw file",
    ".cr3": "a camera's raw file",
}
KINDS_BY_OPENING = (
    (re.compile(rb"GIF8"), "a GIF"),
    (re.compile(rb"II\*\0|MM\0\*"), "a TIFF"),
    (re.compile(rb"BM"), "a BMP"),
    (re.compile(rb"%PDF"), "a PDF"),
    (re.compile(rb"\s*(\xef\xbb\xbf)?\s*<(\?xml|svg|!doctype svg)", re.I), "an SVG drawing"),
    (re.compile(rb".{4}ftypavi[fs]", re.S), "an AVIF picture"),
    (re.compile(rb".{4}ftyp(qt|isom|iso2|mp4|M4V)", re.S), "a video"),
)
OUR_OPENINGS = re.compile(
    rb"\xff\xd8|\x89PNG|RIFF.{4}WEBP|.{4}ftyp(hei|hev|mif1|msf1)",
    re.S,
)

# EXIF 2.32, tag 0x0112 (JEITA CP-3451): what turns each stored orientation upright.
TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


class PhotoRefused(ValueError):
    """A picture that cannot be kept. The message is one plain sentence for the person.

    `status` is the HTTP status that fits: 413 too big, 415 not a format taken, 422 unusable.
    """

    def __init__(self, sentence: str, status: int) -> None:
        super().__init__(sentence)
        self.status = status


@dataclass(frozen=True)
class Derivative:
    """One resized WebP, sRGB, without metadata. `name` is 'grid', 'page' or 'zoom'."""

    name: str
    data: bytes
    width: int
    height: int


@dataclass(frozen=True)
class Intake:
    """A picture taken in.

    `original` is the master: an upright JPEG (`original_ext` '.jpg') of `width` × `height`
    pixels without metadata, save for a working colour profile where its own data was kept.
    `format` is what the upload really was ('JPEG', 'PNG', 'WEBP' or 'HEIF') and `sha256` the
    digest of its bytes. `dominant_hex` ('#rrggbb') is the mean colour, to fill the picture's
    place until it has loaded. `derivatives` run from smallest to largest.
    """

    original: bytes
    original_ext: str
    width: int
    height: int
    format: str
    sha256: str
    derivatives: tuple[Derivative, ...]
    dominant_hex: str


def take_in(
    file: BinaryIO, name: str, *, max_bytes: int = MAX_BYTES, max_pixels: int = MAX_PIXELS
) -> Intake:
    """Check and develop one uploaded picture, read from where `file` stands.

    `name` is used for its extension only: an extension that is not a picture's is refused,
    but between picture formats the bytes decide (phones often save a JPEG as .heic or .png),
    and a name without extension claims nothing. Raises PhotoRefused, and nothing else, for a
    file that cannot be kept.
    """
    _check_extension(name)
    data = _read(file, max_bytes)
    with _failures_refused():
        image = _opened(data)
        _check_size(image.size, max_pixels)
        return _developed(data, image)


def from_image(picture: Image.Image) -> Intake:
    """Develop a picture drawn here, which needs no checks; its `sha256` is that of its master."""
    picture = _flat_srgb(picture)
    original = _encoded_master(picture)
    digest = hashlib.sha256(original).hexdigest()
    return _intake(picture, original, picture.size, "JPEG", digest)


# Checks, cheapest first


def _check_extension(name: str) -> None:
    extension = PurePath(name).suffix.lower()
    if extension and extension not in EXTENSIONS:
        raise _wrong_kind(KINDS_BY_EXTENSION.get(extension))


def _wrong_kind(kind: str | None) -> PhotoRefused:
    return PhotoRefused(f"This is {kind or 'not a photo we can read'}; {TAKEN}.", 415)


def _read(file: BinaryIO, max_bytes: int) -> bytes:
    data = file.read(max_bytes + 1)
    if not data:
        raise PhotoRefused("This file is empty; take or save the photo again.", 422)
    if len(data) > max_bytes:
        most = f"{max_bytes / 2**20:.3g} MB"
        raise PhotoRefused(
            f"This file is larger than {most}; save a smaller copy and add that.", 413
        )
    return data


@contextmanager
def _failures_refused() -> Iterator[None]:
    try:
        yield
    except PhotoRefused:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as bomb:
        raise _too_many_pixels(MAX_PIXELS) from bomb
    except MemoryError as failure:
        raise PhotoRefused(TOO_LARGE_HERE, 413) from failure
    except DECODING_FAILURES as failure:
        raise PhotoRefused(DAMAGED, 422) from failure


def _too_many_pixels(max_pixels: int) -> PhotoRefused:
    most = f"{max_pixels / 1e6:.3g} megapixels"
    return PhotoRefused(
        f"This picture has more than {most}; save a smaller copy and add that.", 413
    )


def _opened(data: bytes) -> Image.Image:
    """The image with its header read and no pixel decoded; only our formats are tried."""
    try:
        return Image.open(BytesIO(data), formats=FORMATS)
    except UnidentifiedImageError as unknown:
        if OUR_OPENINGS.match(data):
            raise
        kinds = (kind for opening, kind in KINDS_BY_OPENING if opening.match(data))
        raise _wrong_kind(next(kinds, None)) from unknown


def _check_size(size: tuple[int, int], max_pixels: int) -> None:
    width, height = size
    if width * height > max_pixels:
        raise _too_many_pixels(max_pixels)
    if max(size) > MAX_SIDE_PX:
        most = f"{MAX_SIDE_PX:,} pixels"
        raise PhotoRefused(f"This picture is longer than {most}; save a smaller copy.", 413)
    if max(size) < MIN_LONG_SIDE_PX:
        raise PhotoRefused(
            f"This picture is {width} × {height} pixels, too small to see a slab; "
            f"add one at least {MIN_LONG_SIDE_PX} pixels along its longer side.",
            422,
        )


# Developing: one decode serves the master and all derivatives


def _developed(data: bytes, image: Image.Image) -> Intake:
    found_as = "JPEG" if image.format == "MPO" else str(image.format)  # MPO: JPEG with extras
    size = image.size
    original = _kept_jpeg(data, image) if found_as == "JPEG" else None
    if original:
        image = _decoded_for_zoom(image)
    else:
        image.load()
    picture = _flat_srgb(_upright(image))
    digest = hashlib.sha256(data).hexdigest()
    if original is None:
        original, size = _encoded_master(picture), picture.size
    return _intake(picture, original, size, found_as, digest)


def _intake(
    picture: Image.Image, original: bytes, size: tuple[int, int], found_as: str, digest: str
) -> Intake:
    """What is kept of an upright sRGB picture, its master being written already."""
    pictures = _pictures(picture)
    return Intake(
        original=original,
        original_ext=".jpg",
        width=size[0],
        height=size[1],
        format=found_as,
        sha256=digest,
        derivatives=_derivatives(pictures),
        dominant_hex=_mean_hex(pictures["grid"]),
    )


def _decoded_for_zoom(jpeg: Image.Image) -> Image.Image:
    """Decode no finer than the zoom picture needs: half a 48-megapixel JPEG, not all of it."""
    jpeg.draft(None, _fitted(jpeg.size, LONG_SIDES_PX["zoom"]))
    return _shrunk(jpeg, LONG_SIDES_PX["zoom"])


def _fitted(size: tuple[int, int], long_side_px: int) -> tuple[int, int]:
    """The size with its longer side brought down to `long_side_px`; never enlarged."""
    scale = min(1.0, long_side_px / max(size))
    return max(1, round(size[0] * scale)), max(1, round(size[1] * scale))


def _shrunk(image: Image.Image, long_side_px: int) -> Image.Image:
    size = _fitted(image.size, long_side_px)
    return image if size == image.size else image.resize(size, Image.Resampling.LANCZOS)


def _upright(image: Image.Image) -> Image.Image:
    turn = TURNS.get(_orientation(image))
    return image if turn is None else image.transpose(turn)


def _orientation(image: Image.Image) -> int:
    """EXIF orientation, 1 to 8; 1 where the EXIF cannot be read, which is no reason to refuse."""
    try:
        return int(image.getexif().get(ExifTags.Base.Orientation, 1))
    except DECODING_FAILURES:
        return 1


def _pictures(picture: Image.Image) -> dict[str, Image.Image]:
    """Each size made from the next larger, so that the large one is read only once."""
    pictures = {}
    for name, long_side_px in LONG_SIDES_PX.items():
        picture = _shrunk(picture, long_side_px)
        pictures[name] = picture
    return pictures


def _derivatives(pictures: dict[str, Image.Image]) -> tuple[Derivative, ...]:
    """From smallest to largest; a picture no larger than a page is written once for both."""
    grid, page = (_derivative(name, pictures[name]) for name in ("grid", "page"))
    if pictures["zoom"] is pictures["page"]:
        return grid, page, replace(page, name="zoom")
    return grid, page, _derivative("zoom", pictures["zoom"])


def _derivative(name: str, picture: Image.Image) -> Derivative:
    out = BytesIO()
    picture.save(out, "WEBP", quality=WEBP_QUALITY, method=WEBP_METHODS[name], exif=b"", xmp=b"")
    return Derivative(name, out.getvalue(), picture.width, picture.height)


def _encoded_master(picture: Image.Image) -> bytes:
    out = BytesIO()
    picture.save(out, "JPEG", quality=MASTER_QUALITY, subsampling=0)
    return out.getvalue()


def _mean_hex(picture: Image.Image) -> str:
    return "#" + picture.resize((1, 1), Image.Resampling.BOX).tobytes().hex()


# Colour: whatever the mode and profile, plain sRGB on an opaque ground

_LEVELS = range(0, 256, 51)
_PROBE = Image.frombytes("RGB", (36, 6), bytes(chain(*product(_LEVELS, repeat=3))))


def _flat_srgb(image: Image.Image) -> Image.Image:
    """An RGB picture in sRGB, with nothing left in its `info` that a save would write out."""
    picture = _in_srgb(_in_plain_mode(image), image.info.get("icc_profile"))
    if picture.mode == "RGBA":
        ground = Image.new("RGB", picture.size, GROUND)
        ground.paste(picture, mask=picture)
        picture = ground
    picture = picture.convert("RGB")
    picture.info = {}
    return picture


def _in_plain_mode(image: Image.Image) -> Image.Image:
    """One of L, RGB, RGBA or CMYK."""
    if image.mode.startswith("I"):  # 16 bits of grey, which convert() would clip at 255
        return image.point(lambda value: value * (1 / 256)).convert("L")
    if image.has_transparency_data:
        return image.convert("RGBA")
    return image if image.mode in ("L", "RGB", "CMYK") else image.convert("RGB")


def _in_srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    """Converted by the profile; as it is where there is none or it cannot be used."""
    transform = _transform_to_srgb(profile, image.mode)
    if transform is None or _changes_nothing(transform, image.mode):
        return image
    converted = ImageCms.applyTransform(image, transform)
    return converted or image


def _transform_to_srgb(profile: bytes | None, mode: str) -> ImageCms.ImageCmsTransform | None:
    if not profile:
        return None
    try:
        source = ImageCms.ImageCmsProfile(BytesIO(profile))
        target = ImageCms.createProfile("sRGB")
        return ImageCms.buildTransform(source, target, mode, "RGBA" if mode == "RGBA" else "RGB")
    except (ImageCms.PyCMSError, *DECODING_FAILURES):
        return None


def _changes_nothing(transform: ImageCms.ImageCmsTransform, mode: str) -> bool:
    """Whether the profile is sRGB under any name: most are, and converting takes long."""
    if mode != "RGB":
        return False
    result = ImageCms.applyTransform(_PROBE, transform)
    return result is not None and _greatest_difference(_PROBE, result) <= 1


def _greatest_difference(one: Image.Image, other: Image.Image) -> int:
    return max(ImageChops.difference(one, other).tobytes())


# A JPEG's own data, without what it tells about camera, place and person

_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")  # none of: stuffing, restart, fill
_END, _SCAN, _PROFILE, _ADOBE, _JFIF = 0xD9, 0xDA, 0xE2, 0xEE, 0xE0
_WITHOUT_LENGTH = (0x01, 0xD8)
_COMMON_FRAMES = (0xC0, 0xC1, 0xC2)  # baseline, extended, progressive: every browser shows them
_OTHER_FRAMES = frozenset(range(0xC3, 0xD0)) - {0xC4, 0xC8, 0xCC}
_TABLES = (0xC4, 0xDB, 0xDC, 0xDD)


@dataclass(frozen=True)
class _Segment:
    marker: int
    payload: bytes
    scan_data: bytes = b""

    def __bytes__(self) -> bytes:
        head = struct.pack(">BBH", 0xFF, self.marker, len(self.payload) + 2)
        return head + self.payload + self.scan_data


def _kept_jpeg(data: bytes, image: Image.Image) -> bytes | None:
    """The JPEG's own data stripped; None where it must be encoded anew to be seen rightly."""
    segments = list(_segments(data))
    if sum(segment.marker == _SCAN for segment in segments) > MAX_JPEG_SCANS:
        raise PhotoRefused(DAMAGED, 422)
    uncommon = any(segment.marker in _OTHER_FRAMES for segment in segments)
    if uncommon or image.mode not in ("L", "RGB") or _orientation(image) in TURNS:
        return None
    keeps_profile = _transform_to_srgb(image.info.get("icc_profile"), image.mode) is not None
    kept = (_kept_part(segment, keeps_profile) for segment in segments)
    return b"".join((b"\xff\xd8", *kept, b"\xff\xd9"))


def _segments(data: bytes) -> Iterator[_Segment]:
    """The segments up to the first end-of-image marker (ITU-T T.81, annex B).

    What follows that marker is left out: phones hang films, second pictures and their own
    notes there.
    """
    found = _MARKER.search(data, 2)
    while found and found[0][1] != _END:
        marker, start = found[0][1], found.end()
        length = 0 if marker in _WITHOUT_LENGTH else int.from_bytes(data[start : start + 2], "big")
        found = _MARKER.search(data, start + length)
        until = found.start() if found else len(data)
        scan_data = data[start + length : until] if marker == _SCAN else b""
        yield _Segment(marker, data[start + 2 : start + length], scan_data)


def _kept_part(segment: _Segment, keeps_profile: bool) -> bytes:
    """The bytes to keep of a segment: all, part, or none."""
    marker, payload = segment.marker, segment.payload
    if marker in (*_COMMON_FRAMES, *_TABLES, _SCAN):
        return bytes(segment)
    if marker == _PROFILE and keeps_profile and payload.startswith(b"ICC_PROFILE\0"):
        return bytes(segment)
    if marker == _ADOBE and payload.startswith(b"Adobe"):
        return bytes(_Segment(marker, payload[:12]))
    if marker == _JFIF and payload.startswith(b"JFIF\0"):
        return bytes(_Segment(marker, payload[:12] + b"\0\0"))  # without its little preview
    return b""
