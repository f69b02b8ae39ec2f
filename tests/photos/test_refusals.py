"""What cannot be kept is refused with one plain sentence, before it can do harm."""

from __future__ import annotations

import zlib
from io import BytesIO
from typing import Any, NoReturn

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageFile

from inventory.photos import intake as module
from inventory.photos.intake import MAX_BYTES, Intake, PhotoRefused, take_in
from tests.photos import pictures
from tests.photos.pictures import grained, jpeg, plain, saved

ZLIB_MEGABYTE = zlib.compress(b"a" * 2_000_000)


def refusal(data: bytes, name: str = "photo.jpg", **limits: Any) -> PhotoRefused:
    with pytest.raises(PhotoRefused) as caught:
        take_in(BytesIO(data), name, **limits)
    return caught.value


def is_plain_sentence(text: str) -> bool:
    is_one = text[0].isupper() and text.endswith(".") and ". " not in text
    return is_one and "error" not in text.lower() and "photo.jpg" not in text


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("slab.gif", "a GIF"),
        ("slab.TIFF", "a TIFF"),
        ("slab.svg", "an SVG drawing"),
        ("slab.pdf", "a PDF"),
        ("slab.mov", "a video"),
        ("slab.dng", "raw file"),
        ("slab.jpg.exe", "not a photo"),
    ],
)
def test_a_name_that_is_not_a_pictures_is_refused_unread(name: str, said: str) -> None:
    refused = refusal(jpeg(), name)
    assert refused.status == 415
    assert said in str(refused)
    assert is_plain_sentence(str(refused))


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (saved(plain(), "GIF"), "a GIF"),
        (saved(plain(), "TIFF"), "a TIFF"),
        (saved(plain(), "BMP"), "a BMP"),
        (saved(plain(), "PDF"), "a PDF"),
        (b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"/>', "an SVG drawing"),
        (b"<svg onload='x()'/>", "an SVG drawing"),
        (b"\0\0\0\x20ftypavif" + b"\0" * 400, "an AVIF picture"),
        (b"\0\0\0\x20ftypqt  " + b"\0" * 400, "a video"),
        (bytes(range(256)) * 8, "not a photo we can read"),
        (b"<html><script>x()</script></html>", "not a photo we can read"),
    ],
)
def test_another_format_under_a_pictures_name_is_named(data: bytes, said: str) -> None:
    refused = refusal(data)
    assert refused.status == 415
    assert said in str(refused)
    assert is_plain_sentence(str(refused))


def test_an_empty_file_is_refused() -> None:
    refused = refusal(b"")
    assert (refused.status, "empty" in str(refused)) == (422, True)
    assert is_plain_sentence(str(refused))


@pytest.mark.parametrize("name", ["photo.jpg", "photo.png", "photo.webp", "photo.heic"])
@pytest.mark.parametrize("share", [0.02, 0.4, 0.9])
def test_a_file_cut_short_is_refused(name: str, share: float) -> None:
    format_ = {"jpg": "JPEG", "heic": "HEIF"}.get(name[6:], name[6:].upper())
    whole = saved(grained(), format_)
    refused = refusal(whole[: int(len(whole) * share) + 20], name)
    assert refused.status == 422
    assert str(refused) == module.DAMAGED
    assert is_plain_sentence(str(refused))


def test_too_many_bytes_are_refused_and_not_all_read() -> None:
    endless = BytesIO(jpeg() + b"\0" * 5_000_000)
    with pytest.raises(PhotoRefused, match="larger than 1 MB") as caught:
        take_in(endless, "photo.jpg", max_bytes=2**20)
    assert caught.value.status == 413
    assert endless.tell() == 2**20 + 1
    assert is_plain_sentence(str(caught.value))


def test_exactly_the_most_bytes_are_taken() -> None:
    data = jpeg()
    assert take_in(BytesIO(data), "photo.jpg", max_bytes=len(data)).width == 640
    assert refusal(data, max_bytes=len(data) - 1).status == 413
    assert MAX_BYTES == 31_457_280


def forbidden(*_: object, **__: object) -> NoReturn:
    pytest.fail("pixels were decoded")


@pytest.mark.parametrize(("width", "height"), [(10_001, 10_000), (15_000, 15_000)])
@pytest.mark.parametrize("format_", ["JPEG", "PNG", "WEBP"])
@pytest.mark.filterwarnings("ignore::PIL.Image.DecompressionBombWarning")
def test_too_many_pixels_are_refused_before_decoding(
    format_: str, width: int, height: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = claiming(format_, width, height)
    monkeypatch.setattr(ImageFile.ImageFile, "load", forbidden)
    refused = refusal(data)
    assert (refused.status, "100 megapixels" in str(refused)) == (413, True)
    assert is_plain_sentence(str(refused))


def test_a_picture_just_within_the_most_pixels_is_opened_without_warning() -> None:
    assert module._opened(claiming("PNG", 9_999, 10_000)).size == (9_999, 10_000)


def test_a_picture_longer_than_a_jpeg_can_be_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    data = claiming("PNG", 65_501, 300)
    monkeypatch.setattr(ImageFile.ImageFile, "load", forbidden)
    refused = refusal(data)
    assert (refused.status, "longer than 65,500 pixels" in str(refused)) == (413, True)
    assert is_plain_sentence(str(refused))


def claiming(format_: str, width: int, height: int) -> bytes:
    """A small file whose header claims a size its data does not hold."""
    if format_ == "PNG":
        return pictures.png(width, height, pictures.png_chunk(b"IDAT", ZLIB_MEGABYTE))
    if format_ == "WEBP":
        canvas = (width - 1).to_bytes(3, "little") + (height - 1).to_bytes(3, "little")
        frame = saved(plain(), "WEBP")[12:]
        body = b"WEBPVP8X\x0a\0\0\0\x02\0\0\0" + canvas
        body += b"ANIM\x06\0\0\0\0\0\0\0\0\0"
        anmf = b"\0" * 6 + (639).to_bytes(3, "little") + (399).to_bytes(3, "little") + b"\0" * 4
        body += b"ANMF" + (len(anmf) + len(frame)).to_bytes(4, "little") + anmf + frame
        return b"RIFF" + len(body).to_bytes(4, "little") + body
    small = jpeg(plain(256, 256))
    size_at = small.index(b"\xff\xc0") + 5
    claimed = height.to_bytes(2, "big") + width.to_bytes(2, "big")
    return small[:size_at] + claimed + small[size_at + 4 :]


def test_the_most_pixels_can_be_chosen() -> None:
    data = jpeg(plain(500, 400))
    assert take_in(BytesIO(data), "photo.jpg", max_pixels=200_000).width == 500
    assert refusal(data, max_pixels=199_999).status == 413


@pytest.mark.parametrize("size", [(1, 1), (199, 150)])
def test_a_tiny_picture_cannot_show_a_slab(size: tuple[int, int]) -> None:
    refused = refusal(jpeg(plain(*size)))
    assert refused.status == 422
    assert "too small to see a slab" in str(refused)
    assert f"{size[0]} × {size[1]} pixels" in str(refused)
    assert is_plain_sentence(str(refused))


def test_the_smallest_picture_taken_is_two_hundred_pixels_long() -> None:
    assert take_in(BytesIO(jpeg(plain(150, 200))), "photo.jpg").height == 200


@pytest.mark.parametrize("where", ["before", "after"])
def test_a_png_whose_text_unpacks_without_end_is_refused(where: str) -> None:
    data = saved(plain(), "PNG")
    text = pictures.png_chunk(b"zTXt", b"note\0\0" + ZLIB_MEGABYTE)
    at = 33 if where == "before" else len(data) - 12
    assert refusal(data[:at] + text + data[at:], "photo.png").status == 422


def test_a_jpeg_of_endless_scans_is_refused_before_decoding(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    data = jpeg(plain(), progressive=True)
    last_scan = data[data.rindex(b"\xff\xda") : -2]
    monkeypatch.setattr(ImageFile.ImageFile, "load", forbidden)
    assert refusal(data[:-2] + last_scan * 60 + data[-2:]).status == 422


def test_want_of_memory_is_said_as_too_large(monkeypatch: pytest.MonkeyPatch) -> None:
    def starved(*_: object) -> NoReturn:
        raise MemoryError

    monkeypatch.setattr(Image.Image, "resize", starved)
    refused = refusal(jpeg())
    assert (refused.status, "too large" in str(refused)) == (413, True)
    assert is_plain_sentence(str(refused))


WHOLE = {
    "JPEG": pictures.told_on_jpeg(icc_profile=pictures.srgb_profile(), progressive=True),
    "PNG": saved(plain(210, 140).convert("P"), "PNG", exif=pictures.exif(6)),
    "WEBP": saved(plain(210, 140), "WEBP", exif=pictures.exif(6), xmp=pictures.xmp()),
    "HEIF": saved(plain(210, 140), "HEIF", exif=pictures.exif(6)),
}


@pytest.mark.parametrize("format_", list(WHOLE))
@pytest.mark.filterwarnings("ignore")
@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_a_damaged_file_is_taken_or_refused_but_never_raises_else(
    format_: str, data: st.DataObject
) -> None:
    damaged = bytearray(WHOLE[format_])
    for _ in range(data.draw(st.integers(1, 4))):
        # Headers matter most: half of the damage falls on the first 400 bytes.
        last = data.draw(st.sampled_from([min(400, len(damaged)), len(damaged)])) - 1
        damaged[data.draw(st.integers(0, last))] = data.draw(st.integers(0, 255))
    repaired = pictures.with_sums_made_good(bytes(damaged)) if format_ == "PNG" else bytes(damaged)
    outcome = taken_or_refused(repaired)
    if isinstance(outcome, PhotoRefused):
        assert is_plain_sentence(str(outcome))
    else:
        assert pictures.opened(outcome.original).size == (outcome.width, outcome.height)


def taken_or_refused(data: bytes) -> Intake | PhotoRefused:
    try:
        return take_in(BytesIO(data), "photo.jpg")
    except PhotoRefused as refused:
        return refused
