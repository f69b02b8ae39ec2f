"""What a photograph of an invented slab is made of: the camera, the sheets, the slab drawn flat."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from inventory.demo.frame import Frame
from inventory.demo.shape import DemoShape

Floats = npt.NDArray[np.float64]
F32 = npt.NDArray[np.float32]
Pixels = npt.NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class Camera:
    """A pinhole at `at_mm`, `turn` (3, 3) from world to camera, pixels square.

    `bend` is how far, as a share, the lens moves a point of the picture's corner outward.
    """

    turn: Floats
    at_mm: Floats
    focal_px: float
    size_px: tuple[int, int]
    bend: float

    @property
    def middle_px(self) -> Floats:
        return (np.array(self.size_px) - 1) / 2

    @property
    def reach(self) -> float:
        """Half the picture's diagonal over the focal length."""
        return float(np.hypot(*self.size_px)) / 2 / self.focal_px

    def px(self, points_mm: npt.ArrayLike) -> Floats:
        """(n, 2) points of the face, or (n, 3) of the world, as pixels."""
        flat = np.atleast_2d(np.asarray(points_mm, dtype=np.float64))
        if flat.shape[1] == 2:
            flat = np.column_stack([flat, np.zeros(len(flat))])
        seen = (flat - self.at_mm) @ self.turn.T
        straight = seen[:, :2] / seen[:, 2:]
        far = (straight**2).sum(axis=1, keepdims=True) / self.reach**2
        return np.asarray(straight * (1 + self.bend * far) * self.focal_px + self.middle_px)

    def plane(self, z_mm: float) -> Floats:
        """The (3, 3) homography from world x, y on a level plane to straight ray directions."""
        offset = np.array([0.0, 0.0, z_mm]) - self.at_mm
        return np.column_stack([self.turn[:, 0], self.turn[:, 1], self.turn @ offset])

    def rays(self, box: tuple[int, int, int, int]) -> tuple[F32, F32]:
        """Ray directions (x, y over z) of the pixels of left, top, right, bottom."""
        left, top, right, bottom = box
        across = (np.arange(left, right) - self.middle_px[0]) / self.focal_px
        down = (np.arange(top, bottom) - self.middle_px[1]) / self.focal_px
        bent = np.meshgrid(across.astype(np.float32), down.astype(np.float32))
        straight = list(bent)
        for _ in range(4 if self.bend else 0):
            far = 1 + (straight[0] ** 2 + straight[1] ** 2) * np.float32(self.bend / self.reach**2)
            straight = [bent[0] / far, bent[1] / far]
        return straight[0], straight[1]


@dataclass(frozen=True)
class SheetLaid:
    """A sheet's middle and turn; how far above the face it lies, how far it bows up, how large
    it was printed."""

    number: int
    x_mm: float
    y_mm: float
    turn_deg: float = 0.0
    above_mm: float = 0.0
    bow_mm: float = 0.0
    print_share: float = 1.0


@dataclass(frozen=True)
class Shot:
    """What to photograph and how."""

    seed: int
    tilt_deg: float = 0.0
    size_px: tuple[int, int] = (4000, 3000)
    sheets: tuple[SheetLaid, ...] | None = None
    bend: float | None = None
    fill: float = 0.86
    aside: float = 0.0
    glare_on: int | None = None
    species: str | None = None
    has_bark: bool | None = None


@dataclass(frozen=True, eq=False)
class Photograph:
    """A picture, RGB, with the truth about it; outlines are (n, 2) mm on the face."""

    pixels: Pixels
    camera: Camera
    shape: DemoShape
    wood_mm: Floats
    slab_mm: Floats
    sheets: tuple[SheetLaid, ...]
    shot: Shot

    @property
    def thickness_mm(self) -> float:
        return self.shape.thickness_mm


@dataclass(frozen=True, eq=False)
class DrawnSlab:
    """A slab drawn flat: RGB over its frame and how much of every pixel it covers."""

    shape: DemoShape
    frame: Frame
    wood_mm: Floats
    slab_mm: Floats
    pixels: Pixels
    cover: F32
    side_rgb: Floats = field(default_factory=lambda: np.zeros(3))
