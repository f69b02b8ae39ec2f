from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from inventory.demo.frame import face_frame, px_per_m_for
from inventory.demo.look import FIGURES, SpeciesLook, load_looks
from inventory.demo.picture import draw_detail, draw_edge, draw_face
from inventory.demo.shape import DemoShape, LogShape, slab_of
from inventory.demo.slab import wood_pixels

LOOKS = load_looks(Path(__file__).parents[2] / "fixtures" / "species_looks.toml")
WALNUT = LOOKS["Walnut, black"]


def a_slab(seed: int = 5, number: int = 4, crotch: bool = False) -> DemoShape:
    return slab_of(LogShape(seed, 2400, 640, crotch=crotch), number, 8, 54)


def heartwood(look: SpeciesLook, shape: DemoShape, wet: bool = False) -> np.ndarray:
    """Mean colour of the middle third of a plain face, away from sapwood and ends."""
    frame = face_frame(shape, 400)
    pixels = wood_pixels(shape, look, frame, seed=1, figure=frozenset({"plain"}), wet=wet)
    rows, columns = pixels.shape[:2]
    middle = pixels[int(rows * 0.42) : int(rows * 0.58), columns // 5 : columns * 4 // 5, :3]
    return np.asarray(middle.reshape(-1, 3).mean(axis=0))


def brightness(picture: Image.Image) -> float:
    return float(np.asarray(picture.convert("L"), dtype=float).mean())


def test_a_face_is_rgb_of_the_size_its_frame_says() -> None:
    shape = a_slab()
    frame = face_frame(shape, 500)
    picture = draw_face(shape, WALNUT, seed=1, px_per_m=500)
    assert picture.mode == "RGB"
    assert picture.size == (frame.width_px, frame.height_px)


def test_a_whole_slab_can_be_asked_for_by_its_longer_side() -> None:
    shape = a_slab()
    picture = draw_face(shape, WALNUT, seed=1, px_per_m=px_per_m_for(shape, 900))
    assert abs(max(picture.size) - 900) <= 1


def test_edges_and_details_are_rgb() -> None:
    detail = draw_detail(a_slab(), WALNUT, seed=1, size_px=(480, 320))
    assert (detail.mode, detail.size) == ("RGB", (480, 320))
    edge = draw_edge(a_slab(), WALNUT, seed=1, width_px=600, px_per_m=620)
    assert edge.mode == "RGB"
    assert edge.width == 600


@pytest.mark.parametrize("figure", sorted(FIGURES))
def test_every_figure_draws_the_same_bytes_twice(figure: str) -> None:
    shape = a_slab(crotch=figure == "crotch")

    def drawn() -> bytes:
        return draw_face(shape, WALNUT, seed=3, figure={figure}, px_per_m=300).tobytes()

    assert drawn() == drawn()


@pytest.mark.parametrize("figure", sorted(FIGURES - {"plain", "ray fleck"}))
def test_every_figure_changes_the_wood(figure: str) -> None:
    shape, look = a_slab(crotch=figure == "crotch"), LOOKS["Maple, sugar"]
    plain = np.asarray(draw_face(shape, look, seed=3, px_per_m=500), dtype=float)
    figured = np.asarray(draw_face(shape, look, seed=3, figure={figure}, px_per_m=500), dtype=float)
    assert np.abs(plain - figured).mean() > 0.5


def test_ray_fleck_shows_on_the_quarter_and_not_on_a_wood_without_rays() -> None:
    def contrast(name: str) -> float:
        look, frame = LOOKS[name], face_frame(a_slab(), 500)
        quarter = wood_pixels(a_slab(), look, frame, seed=1, figure={"ray fleck"}, wet=False)
        plain = wood_pixels(a_slab(), look, frame, seed=1, figure={"plain"}, wet=False)
        return float(np.abs(quarter[..., :3].astype(float) - plain[..., :3]).mean())

    assert contrast("Oak, white") > 0.2
    assert contrast("Walnut, black") == 0


@pytest.mark.parametrize("name", ["Walnut, black", "Oak, white", "Redwood, old-growth", "Teak"])
def test_a_wetted_face_is_darker_than_a_dry_one(name: str) -> None:
    dry = draw_face(a_slab(), LOOKS[name], seed=1, px_per_m=300)
    wet = draw_face(a_slab(), LOOKS[name], seed=1, px_per_m=300, wet=True)
    assert brightness(wet) < brightness(dry) - 5
    assert np.all(heartwood(LOOKS[name], a_slab(), wet=True) < heartwood(LOOKS[name], a_slab()))


@pytest.mark.parametrize("name", sorted(LOOKS))
def test_heartwood_is_near_the_colour_of_its_species(name: str) -> None:
    look, shape = LOOKS[name], slab_of(LogShape(12, 2400, 800), 5, 9, 54)
    assert np.abs(heartwood(look, shape) - np.array(look.heart)).max() < 26


def test_sapwood_along_the_edge_is_paler_than_the_heart_of_walnut() -> None:
    shape, frame = a_slab(), face_frame(a_slab(), 500)
    pixels = wood_pixels(shape, WALNUT, frame, seed=1, figure=frozenset({"plain"}), wet=False)
    column = frame.width_px // 2
    edge_mm = float(np.interp(frame.x_mm()[column], shape.x_mm, shape.upper_mm))
    row = frame.rows_for(edge_mm - 12, edge_mm - 13)[0]
    sap = pixels[row, column - 60 : column + 60, :3].mean()
    assert sap > heartwood(WALNUT, shape).mean() + 40


def test_the_slab_is_uncropped_with_ground_all_round() -> None:
    """The rim of the picture is the same whatever the wood: only ground and its light."""
    pale, dark = (
        np.asarray(draw_face(a_slab(), LOOKS[name], seed=1, px_per_m=400))
        for name in ("Maple, sugar", "Walnut, black")
    )
    for rim in (np.s_[:8], np.s_[-8:], np.s_[:, :8], np.s_[:, -8:]):
        assert np.abs(pale[rim].astype(float) - dark[rim]).mean() < 0.5


def test_felt_is_darker_than_the_floor() -> None:
    floor = draw_face(a_slab(), WALNUT, seed=1, px_per_m=300)
    felt = draw_face(a_slab(), WALNUT, seed=1, px_per_m=300, ground="felt")
    assert brightness(felt) < brightness(floor) - 20


def test_neighbours_look_like_one_another() -> None:
    """Bare wood of neighbours agrees better than that of two logs."""

    def tones(seed: int, number: int) -> np.ndarray:
        shape = a_slab(seed, number)
        frame = face_frame(a_slab(5, 4), 200)
        pixels = wood_pixels(shape, WALNUT, frame, seed=1, figure=frozenset(), wet=True)
        return np.asarray(pixels[50:90, 60:-60, :3].astype(float).mean(axis=2).ravel())

    here, next_to_it, elsewhere = tones(5, 4), tones(5, 3), tones(6, 4)
    alike = np.corrcoef(here, next_to_it)[0, 1]
    assert alike > np.corrcoef(here, elsewhere)[0, 1] + 0.1


def test_a_detail_inside_the_slab_shows_wood_to_its_very_rim() -> None:
    """No sliver of pale floor at the left or right of a close look at dark wood."""
    shape = a_slab()
    detail = draw_detail(shape, WALNUT, seed=1, size_px=(300, 900), px_per_m=1500)
    pixels = np.asarray(detail, dtype=float)[430:470]
    inside = pixels[:, 20:-20].mean()
    assert abs(pixels[:, 0].mean() - inside) < 25
    assert abs(pixels[:, -1].mean() - inside) < 25
