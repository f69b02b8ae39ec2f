"""Pictures made in memory for the tests of photo intake: plain, told-on, and hostile."""

from __future__ import annotations

import struct
import zlib
from io import BytesIO
from typing import Any

import numpy as np
from PIL import ExifTags, Image, ImageCms
from pillow_heif import register_heif_opener

register_heif_opener()

TELL_TALE = b"NOSY-CAMERA-9"
CORNERS = {
    ("top", "left"): (200, 30, 30),
    ("top", "right"): (30, 170, 30),
    ("bottom", "left"): (40, 40, 200),
    ("bottom", "right"): (210, 190, 40),
}


def plain(width: int = 640, height: int = 400, colour: Any = (150, 105, 70)) -> Image.Image:
    return Image.new("RGB", (width, height), colour)


def grained(width: int = 640, height: int = 400, seed: int = 7) -> Image.Image:
    """Brown, with soft bands and fine noise, so that no two pixels tell the same."""
    rng = np.random.default_rng(seed)
    rows = np.arange(height)[:, None] / 7 + np.arange(width)[None, :] / 90
    tone = 18 * np.sin(rows) + rng.normal(0, 6, (height, width))
    layers = np.stack([150 + tone, 105 + tone, 70 + tone], axis=-1)
    return Image.fromarray(layers.clip(0, 255).astype(np.uint8))


def corners(width: int = 640, height: int = 400) -> Image.Image:
    """Each quarter has its own colour, so that any turn or mirroring shows."""
    picture = Image.new("RGB", (width, height))
    for (across, along), colour in CORNERS.items():
        left = 0 if along == "left" else width // 2
        top = 0 if across == "top" else height // 2
        picture.paste(colour, (left, top, left + width // 2, top + height // 2))
    return picture


def exif(orientation: int = 1) -> bytes:
    """EXIF with a maker, a place on the globe and a note."""
    tags = Image.Exif()
    tags[ExifTags.Base.Orientation] = orientation
    tags[ExifTags.Base.Make] = TELL_TALE.decode()
    tags[ExifTags.Base.ImageDescription] = "where " + TELL_TALE.decode()
    tags.get_ifd(ExifTags.IFD.GPSInfo).update(
        {
            ExifTags.GPS.GPSLatitudeRef: "N",
            ExifTags.GPS.GPSLatitude: (44.0, 3.0, 1.5),
            ExifTags.GPS.GPSLongitudeRef: "W",
            ExifTags.GPS.GPSLongitude: (71.0, 8.0, 2.5),
        }
    )
    return tags.tobytes()


def xmp() -> bytes:
    return b'<x:xmpmeta xmlns:x="adobe:ns:meta/">' + TELL_TALE + b"</x:xmpmeta>"


def saved(picture: Image.Image, format_: str, **options: Any) -> bytes:
    out = BytesIO()
    picture.save(out, format_, **options)
    return out.getvalue()


def jpeg(picture: Image.Image | None = None, **options: Any) -> bytes:
    return saved(picture or grained(), "JPEG", **{"quality": 90, **options})


def jpeg_segment(marker: int, payload: bytes) -> bytes:
    return struct.pack(">BBH", 0xFF, marker, len(payload) + 2) + payload


def told_on_jpeg(orientation: int = 1, **options: Any) -> bytes:
    """A JPEG that tells of camera and place in every way a JPEG can."""
    told = jpeg(exif=exif(orientation), xmp=xmp(), comment=TELL_TALE, **options)
    extra = (
        jpeg_segment(0xE0, b"JFXX\0\x10" + TELL_TALE)
        + jpeg_segment(0xE2, b"FPXR\0" + TELL_TALE)
        + jpeg_segment(0xED, b"Photoshop 3.0\0" + TELL_TALE)
        + jpeg_segment(0xEF, TELL_TALE)
    )
    return told[:2] + extra + told[2:] + b"ftypmp42" + TELL_TALE


def png_chunk(kind: bytes, payload: bytes) -> bytes:
    body = kind + payload
    return struct.pack(">I", len(payload)) + body + struct.pack(">I", zlib.crc32(body))


def png(width: int, height: int, *chunks: bytes, depth: int = 8, colour_type: int = 2) -> bytes:
    """A PNG written by hand: the header may claim what the data does not hold."""
    header = struct.pack(">IIBBBBB", width, height, depth, colour_type, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + png_chunk(b"IHDR", header) + b"".join(chunks)


def with_sums_made_good(damaged: bytes) -> bytes:
    """A PNG whose chunks' checksums fit again, so that damage reaches past the first check."""
    out, at = bytearray(damaged), 8
    while at + 12 <= len(out):
        end = at + 8 + int.from_bytes(out[at : at + 4], "big")
        out[end : end + 4] = struct.pack(">I", zlib.crc32(out[at + 4 : end]))[: len(out) - end]
        at = end + 4
    return bytes(out)


def srgb_profile() -> bytes:
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def red_and_blue_swapped_profile() -> bytes:
    """sRGB with the red and blue primaries exchanged, so that the true result is known."""
    tags = srgb_profile().replace(b"rXYZ", b"keep").replace(b"bXYZ", b"rXYZ")
    return tags.replace(b"keep", b"bXYZ")


def opened(data: bytes) -> Image.Image:
    picture = Image.open(BytesIO(data))
    picture.load()
    return picture


def colour_at(data: bytes, across: float, down: float) -> tuple[int, ...]:
    """The colour of a saved picture at a share of its width and height."""
    picture = opened(data).convert("RGB")
    at = (int(across * (picture.width - 1)), int(down * (picture.height - 1)))
    colour = picture.getpixel(at)
    assert isinstance(colour, tuple)
    return tuple(int(part) for part in colour)


def distance(one: tuple[int, ...], other: tuple[int, ...]) -> int:
    return max(abs(a - b) for a, b in zip(one, other, strict=True))
