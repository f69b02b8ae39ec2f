"""What a good picture becomes: upright, plain, in three sizes, with a master worth keeping."""

from __future__ import annotations

import hashlib
from io import BytesIO
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageOps

from inventory.photos.intake import GROUND, Intake, _kept_jpeg, take_in
from tests.photos import pictures
from tests.photos.pictures import colour_at, corners, distance, grained, jpeg, opened, plain, saved

FORMATS = {"photo.jpg": "JPEG", "photo.png": "PNG", "photo.webp": "WEBP", "photo.heic": "HEIF"}

# EXIF 2.32 (CIPA DC-008 / JEITA CP-3451E), tag 274 Orientation: for each value, the side of the
# upright picture that the stored row 0 and the stored column 0 show.
ROW_0_AND_COLUMN_0 = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}


def taken(data: bytes, name: str = "photo.jpg", **limits: Any) -> Intake:
    return take_in(BytesIO(data), name, **limits)


def sizes(intake: Intake) -> dict[str, tuple[int, int]]:
    return {made.name: (made.width, made.height) for made in intake.derivatives}


def everything_stored(intake: Intake) -> list[bytes]:
    return [intake.original, *(made.data for made in intake.derivatives)]


def stored_as(upright: Image.Image, orientation: int) -> Image.Image:
    """What a camera held that way would store, by the standard's own words."""
    row_0, column_0 = ROW_0_AND_COLUMN_0[orientation]
    pixels = np.asarray(upright)
    if row_0 in ("left", "right"):
        pixels = pixels.swapaxes(0, 1)
    if row_0 in ("bottom", "right"):
        pixels = pixels[::-1]
    if column_0 in ("bottom", "right"):
        pixels = pixels[:, ::-1]
    return Image.fromarray(np.ascontiguousarray(pixels))


def test_a_large_picture_gets_three_sizes_by_its_longer_side() -> None:
    assert sizes(taken(jpeg(plain(4000, 3000)))) == {
        "grid": (480, 360),
        "page": (1600, 1200),
        "zoom": (3200, 2400),
    }


def test_a_tall_picture_is_measured_by_its_height() -> None:
    assert sizes(taken(jpeg(plain(900, 2000))))["page"] == (720, 1600)


def test_a_small_picture_is_never_enlarged() -> None:
    assert sizes(taken(jpeg(plain(600, 400)))) == {
        "grid": (480, 320),
        "page": (600, 400),
        "zoom": (600, 400),
    }


def test_a_long_narrow_panorama_keeps_at_least_one_pixel_of_height() -> None:
    assert sizes(taken(saved(plain(17000, 12), "PNG"), "edge.png"))["grid"] == (480, 1)


def test_derivatives_are_webp_of_the_size_they_say() -> None:
    for made in taken(jpeg(grained(900, 700))).derivatives:
        with Image.open(BytesIO(made.data)) as picture:
            assert (picture.format, picture.size) == ("WEBP", (made.width, made.height))


def test_a_derivative_looks_like_a_straight_resize_of_the_upload() -> None:
    upload = grained(1200, 800)
    grid = taken(jpeg(upload)).derivatives[0]
    expected = np.asarray(upload.resize((480, 320), Image.Resampling.LANCZOS), dtype=float)
    difference = np.abs(np.asarray(opened(grid.data).convert("RGB"), dtype=float) - expected)
    assert difference.mean() < 4


@pytest.mark.parametrize(("name", "format_"), FORMATS.items())
def test_each_format_is_taken_in(name: str, format_: str) -> None:
    upload = corners()
    intake = taken(saved(upload, format_), name)
    assert (intake.format, intake.width, intake.height) == (format_, 640, 400)
    assert intake.original_ext == ".jpg"
    assert opened(intake.original).format == "JPEG"
    assert distance(colour_at(intake.original, 0.1, 0.1), (200, 30, 30)) <= 8


@pytest.mark.parametrize("name", ["photo.png", "PHOTO.JPEG", "photo.HEIC", "1000012345"])
def test_the_bytes_decide_the_format_whichever_picture_name_it_has(name: str) -> None:
    assert taken(jpeg(), name).format == "JPEG"


def test_the_digest_is_of_the_upload() -> None:
    data = jpeg()
    assert taken(data).sha256 == hashlib.sha256(data).hexdigest()


def test_the_placeholder_colour_is_the_mean() -> None:
    half_and_half = plain(600, 400, (200, 100, 60))
    half_and_half.paste((100, 60, 20), (0, 0, 300, 400))
    shown = bytes.fromhex(taken(jpeg(half_and_half)).dominant_hex.removeprefix("#"))
    assert distance(tuple(shown), (150, 80, 40)) <= 3


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_orientation_is_turned_upright(orientation: int) -> None:
    upright = corners()
    stored = stored_as(upright, orientation)
    intake = taken(jpeg(stored, exif=pictures.exif(orientation)))
    assert (intake.width, intake.height) == upright.size == opened(intake.original).size
    for data in everything_stored(intake):
        for (across, along), colour in pictures.CORNERS.items():
            at = (0.1 if along == "left" else 0.9, 0.1 if across == "top" else 0.9)
            assert distance(colour_at(data, *at), colour) <= 12


@pytest.mark.parametrize("orientation", range(1, 9))
def test_turning_agrees_with_the_imaging_library(orientation: int) -> None:
    data = jpeg(grained(), exif=pictures.exif(orientation))
    expected = ImageOps.exif_transpose(opened(data))
    difference = np.asarray(opened(taken(data).original), int) - np.asarray(expected, int)
    assert np.abs(difference).mean() < 2


@pytest.mark.parametrize(("name", "format_"), list(FORMATS.items())[1:])
def test_other_formats_are_turned_upright_too(name: str, format_: str) -> None:
    data = saved(stored_as(corners(), 6), format_, exif=pictures.exif(6))
    intake = taken(data, name)
    assert (intake.width, intake.height) == (640, 400)
    assert distance(colour_at(intake.original, 0.9, 0.1), (30, 170, 30)) <= 12


def test_an_upright_jpeg_keeps_its_picture_to_the_last_bit() -> None:
    data = pictures.told_on_jpeg()
    kept = opened(taken(data).original)
    assert np.array_equal(np.asarray(kept), np.asarray(opened(data)))


@pytest.mark.parametrize(
    "options",
    [
        {"progressive": True},
        {"restart_marker_rows": 1},
        {"subsampling": 0, "optimize": True},
        {"keep_rgb": True},
    ],
)
def test_every_common_build_of_jpeg_is_kept_to_the_last_bit(options: dict[str, Any]) -> None:
    data = jpeg(grained(700, 333), **options)
    kept = opened(taken(data).original)
    assert np.array_equal(np.asarray(kept), np.asarray(opened(data)))


def test_a_build_that_browsers_do_not_show_is_not_kept_as_it_is() -> None:
    data = jpeg()
    arithmetic = data.replace(b"\xff\xc0", b"\xff\xc9", 1)  # ITU-T T.81, table B.1: SOF9
    assert _kept_jpeg(data, opened(data)) is not None
    assert _kept_jpeg(arithmetic, opened(data)) is None


def test_a_kept_jpeg_loses_the_little_preview_in_its_header() -> None:
    data = jpeg()
    header, picture = data[2:20], data[20:]  # JFIF 1.02: the last two bytes are the preview's size
    assert header[4:9] == b"JFIF\0"
    with_preview = pictures.jpeg_segment(0xE0, header[4:16] + b"\x02\x02" + b"x" * 12)
    assert taken(data[:2] + with_preview + picture).original == data


@pytest.mark.parametrize("orientation", [1, 6])
def test_a_jpeg_tells_nothing_of_camera_place_or_person(orientation: int) -> None:
    data = pictures.told_on_jpeg(orientation)
    assert data.count(pictures.TELL_TALE) >= 8
    assert_nothing_told(taken(data))


@pytest.mark.parametrize(("name", "format_"), list(FORMATS.items())[1:])
def test_other_formats_tell_nothing_either(name: str, format_: str) -> None:
    data = saved(grained(), format_, exif=pictures.exif(), xmp=pictures.xmp())
    assert pictures.TELL_TALE in data
    assert_nothing_told(taken(data, name))


def test_text_in_a_png_is_left_out() -> None:
    data = saved(grained(), "PNG")
    text = pictures.png_chunk(b"tEXt", b"Author\0" + pictures.TELL_TALE)
    assert_nothing_told(taken(data[:33] + text + data[33:], "photo.png"))


def assert_nothing_told(intake: Intake) -> None:
    for data in everything_stored(intake):
        assert pictures.TELL_TALE not in data
        picture = opened(data)
        assert not picture.getexif()
        assert not {"exif", "xmp", "comment", "photoshop", "mp"} & picture.info.keys()


def test_a_second_picture_behind_the_first_is_left_out() -> None:
    data = saved(grained(), "MPO", quality=90, save_all=True, append_images=[grained(1200, 900)])
    intake = taken(data)
    assert intake.format == "JPEG"
    assert b"MPF\0" in data
    assert intake.original == jpeg(grained())


def test_whatever_a_phone_hangs_behind_a_picture_is_left_out() -> None:
    data = jpeg()
    assert taken(data + b"\0\2" + jpeg(plain(320, 200))).original == data


@pytest.mark.parametrize(("name", "format_"), [("photo.png", "PNG"), ("photo.webp", "WEBP")])
def test_a_moving_picture_gives_its_first_frame(name: str, format_: str) -> None:
    first, second = plain(colour=(200, 30, 30)), plain(colour=(30, 30, 200))
    intake = taken(saved(first, format_, save_all=True, append_images=[second]), name)
    assert distance(colour_at(intake.original, 0.5, 0.5), (200, 30, 30)) <= 8


def test_a_profile_is_followed_to_srgb() -> None:
    red = plain(colour=(200, 40, 20))
    profile = pictures.red_and_blue_swapped_profile()
    for name, format_ in FORMATS.items():
        intake = taken(saved(red, format_, icc_profile=profile), name)
        for made in intake.derivatives:
            assert distance(colour_at(made.data, 0.5, 0.5), (20, 40, 200)) <= 12


def test_a_kept_jpeg_keeps_the_profile_its_colours_need() -> None:
    profile = pictures.red_and_blue_swapped_profile()
    kept = opened(taken(jpeg(icc_profile=profile)).original)
    assert kept.info["icc_profile"] == profile


def test_a_turned_jpeg_needs_no_profile_any_more() -> None:
    profile = pictures.red_and_blue_swapped_profile()
    data = jpeg(plain(colour=(200, 40, 20)), icc_profile=profile, exif=pictures.exif(3))
    intake = taken(data)
    assert "icc_profile" not in opened(intake.original).info
    assert distance(colour_at(intake.original, 0.5, 0.5), (20, 40, 200)) <= 8


@pytest.mark.parametrize("broken", [b"not a profile", pictures.srgb_profile()[:300], b"\0" * 4000])
def test_a_broken_profile_is_left_out_and_harms_nothing(broken: bytes) -> None:
    intake = taken(jpeg(plain(colour=(200, 40, 20)), icc_profile=broken))
    assert "icc_profile" not in opened(intake.original).info
    assert distance(colour_at(intake.original, 0.5, 0.5), (200, 40, 20)) <= 8


def test_a_profile_for_another_kind_of_picture_is_ignored() -> None:
    grey = jpeg(plain().convert("L"), icc_profile=pictures.srgb_profile())
    assert distance(colour_at(taken(grey).original, 0.5, 0.5), (113, 113, 113)) <= 2


@pytest.mark.filterwarnings("ignore:Corrupt EXIF data")
def test_broken_exif_does_not_refuse_a_good_picture() -> None:
    data = jpeg()
    broken = pictures.jpeg_segment(0xE1, b"Exif\0\0MM\0*\0\0\xff\xff\xff")
    assert taken(data[:2] + broken + data[2:]).width == 640


def test_four_ink_jpeg_becomes_a_plain_one() -> None:
    intake = taken(jpeg(plain(colour=(200, 40, 20)).convert("CMYK")))
    assert opened(intake.original).mode == "RGB"
    assert distance(colour_at(intake.original, 0.5, 0.5), (200, 40, 20)) <= 8


def test_a_grey_jpeg_is_kept_grey_and_shown_in_rgb() -> None:
    intake = taken(jpeg(grained().convert("L")))
    assert opened(intake.original).mode == "L"
    assert opened(intake.derivatives[0].data).mode == "RGB"


def test_sixteen_bits_of_grey_keep_their_tones() -> None:
    ramp = np.tile(np.linspace(0, 65535, 512).astype(np.uint16), (300, 1))
    original = taken(saved(Image.fromarray(ramp), "PNG"), "scan.png").original
    for share in (0.1, 0.5, 0.9):
        assert distance(colour_at(original, share, 0.5), (round(255 * share),) * 3) <= 3


@pytest.mark.parametrize("mode", ["RGBA", "LA", "P", "PA"])
def test_what_is_see_through_shows_the_quiet_ground(mode: str) -> None:
    cut_out = plain().convert("RGBA")
    cut_out.paste((0, 0, 0, 0), (0, 0, 320, 400))
    picture = cut_out.convert("P" if mode == "PA" else mode)
    format_ = "PNG" if mode != "PA" else "WEBP"
    intake = taken(saved(picture, format_, **({"lossless": True} if mode == "PA" else {})))
    assert distance(colour_at(intake.original, 0.2, 0.5), GROUND) <= 3
    assert distance(colour_at(intake.original, 0.8, 0.5), GROUND) > 50


def test_one_colour_named_see_through_shows_the_quiet_ground() -> None:
    data = saved(plain(colour=(1, 2, 3)), "PNG", transparency=(1, 2, 3))
    assert distance(colour_at(taken(data, "a.png").original, 0.5, 0.5), GROUND) <= 3


@pytest.mark.parametrize("mode", ["1", "L", "P"])
def test_plain_palettes_and_greys_are_taken_in(mode: str) -> None:
    intake = taken(saved(plain(colour=(255, 255, 255)).convert(mode), "PNG"), "a.png")
    assert intake.dominant_hex == "#ffffff"


def test_a_very_large_jpeg_is_decoded_no_finer_than_the_zoom_needs(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    decoded: list[tuple[int, int]] = []
    resize = Image.Image.resize

    def watched(self: Image.Image, *args: Any, **kwargs: Any) -> Image.Image:
        decoded.append(self.size)
        return resize(self, *args, **kwargs)

    monkeypatch.setattr(Image.Image, "resize", watched)
    intake = taken(jpeg(plain(7000, 1000)))
    assert decoded[0] == (3500, 500)
    assert (intake.width, opened(intake.original).width) == (7000, 7000)
