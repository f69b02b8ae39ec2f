"""A photograph straightened: the slab's face as if seen from straight above, at a known scale."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inventory.photos.scale import Floats, Pixels, Scale

MOST_PX = 16_000_000
_FAR_MM = 20_000.0


@dataclass(frozen=True)
class Window:
    """A rectangle of the face in mm: its top left corner and its size."""

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True, eq=False)
class Rectified:
    """A straightened picture, (rows, columns, 3) bytes, and where it lies on the face."""

    pixels: Pixels
    window: Window
    px_per_mm: float

    def px(self, points_mm: npt.ArrayLike) -> Floats:
        """(n, 2) places on the face as pixels of this picture."""
        return _to_px(self.window, self.px_per_mm, points_mm)

    def mm(self, points_px: npt.ArrayLike) -> Floats:
        """(n, 2) pixels of this picture as places on the face."""
        flat = np.asarray(points_px, dtype=np.float64).reshape(-1, 2)
        corner = (self.window.left_mm, self.window.top_mm)
        return np.asarray((flat + 0.5) / self.px_per_mm + corner)


def _to_px(window: Window, px_per_mm: float, points_mm: npt.ArrayLike) -> Floats:
    flat = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
    return np.asarray((flat - (window.left_mm, window.top_mm)) * px_per_mm - 0.5)


def around(points_mm: npt.ArrayLike, margin_mm: float) -> Window:
    """The window that holds those places and a margin all round."""
    flat = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
    low, high = flat.min(axis=0) - margin_mm, flat.max(axis=0) + margin_mm
    width, height = high - low
    return Window(float(low[0]), float(low[1]), float(width), float(height))


def whole_picture(scale: Scale) -> Window:
    """The window that the whole picture shows, cut where a steep view runs far away."""
    width, height = scale.picture_px
    edge = [
        (x * (width - 1), y * (height - 1))
        for along in np.linspace(0, 1, 9)
        for x, y in ((along, 0), (along, 1), (0, along), (1, along))
    ]
    ahead = np.column_stack([edge, np.ones(len(edge))]) @ np.linalg.inv(scale.to_px).T
    seen = ahead[ahead[:, 2] * ahead[:, 2].max() > 0]  # beyond the horizon the sign turns
    places = np.clip(seen[:, :2] / seen[:, 2:], -_FAR_MM, _FAR_MM)
    return around(places, 0.0)


def rectify(
    image: Pixels,
    scale: Scale,
    px_per_mm: float,
    window: Window | None = None,
    *,
    beyond: tuple[int, int, int] | None = None,
) -> Rectified:
    """A picture, (rows, columns, 3) bytes, straightened over a window at that many px a mm.

    Without a window, the whole picture. Beyond the picture's edge its last pixels run on, or all
    is of the colour `beyond`, for people to look at. Raises ValueError when it would be too large
    to hold.
    """
    import cv2

    frame = window or whole_picture(scale)
    columns = max(1, math.ceil(frame.width_mm * px_per_mm))
    rows = max(1, math.ceil(frame.height_mm * px_per_mm))
    if columns * rows > MOST_PX:
        raise ValueError("The straightened picture would be too large to hold.")
    reduced, share = _reduced(image, px_per_mm / scale.px_per_mm())
    to_face = np.array(
        [
            [1 / px_per_mm, 0, frame.left_mm + 0.5 / px_per_mm],
            [0, 1 / px_per_mm, frame.top_mm + 0.5 / px_per_mm],
            [0, 0, 1],
        ]
    )
    shrink = np.array([[share, 0, share / 2 - 0.5], [0, share, share / 2 - 0.5], [0, 0, 1]])
    pixels = cv2.warpPerspective(
        reduced,
        shrink @ scale.to_px @ to_face,
        (columns, rows),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE if beyond is None else cv2.BORDER_CONSTANT,
        borderValue=beyond or (0, 0, 0),
    )
    return Rectified(np.asarray(pixels, dtype=np.uint8), frame, px_per_mm)


def _reduced(image: Pixels, wanted_share: float) -> tuple[Pixels, float]:
    """The picture made smaller by a whole number, so that straightening it skips no pixel."""
    import cv2

    by = max(1, math.floor(1 / wanted_share)) if wanted_share > 0 else 1
    if by == 1:
        return image, 1.0
    rows, columns = image.shape[0] // by * by, image.shape[1] // by * by
    size = (columns // by, rows // by)
    small = cv2.resize(image[:rows, :columns], size, interpolation=cv2.INTER_AREA)
    return np.asarray(small, dtype=np.uint8), 1 / by
