"""Where a picture looks: which millimetres of a slab fall on which pixels."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from inventory.demo.shape import DemoShape, Floats

MARGIN_MM = 95.0


@dataclass(frozen=True)
class Frame:
    """A window on the plane of a slab. `left_mm`, `top_mm` is the top left corner.

    Slab y grows upwards, picture rows grow downwards.
    """

    left_mm: float
    top_mm: float
    px_per_mm: float
    width_px: int
    height_px: int

    def x_mm(self) -> NDArray[np.float64]:
        """Slab x at the centre of every column, (width_px,)."""
        columns = np.arange(self.width_px, dtype=np.float64)
        return np.asarray(self.left_mm + (columns + 0.5) / self.px_per_mm)

    def y_mm(self) -> NDArray[np.float64]:
        """Slab y at the centre of every row, (height_px,)."""
        rows = np.arange(self.height_px, dtype=np.float64)
        return np.asarray(self.top_mm - (rows + 0.5) / self.px_per_mm)

    def to_px(self, points_mm: Floats) -> Floats:
        """(n, 2) slab points as picture points."""
        corner = np.array([self.left_mm, self.top_mm])
        return np.asarray((points_mm - corner) * [self.px_per_mm, -self.px_per_mm])

    def rows_for(self, top_mm: float, bottom_mm: float) -> tuple[int, int]:
        """The rows that cover a span of y, clipped to the picture (first, past the last)."""
        first = int(np.floor((self.top_mm - top_mm) * self.px_per_mm))
        last = int(np.ceil((self.top_mm - bottom_mm) * self.px_per_mm))
        return max(0, min(first, self.height_px)), max(0, min(last, self.height_px))

    def columns_for(self, left_mm: float, right_mm: float) -> tuple[int, int]:
        """The columns that cover a span of x, clipped to the picture."""
        first = int(np.floor((left_mm - self.left_mm) * self.px_per_mm))
        last = int(np.ceil((right_mm - self.left_mm) * self.px_per_mm))
        return max(0, min(first, self.width_px)), max(0, min(last, self.width_px))

    def cropped(self, rows: tuple[int, int], columns: tuple[int, int]) -> "Frame":
        """The part of this frame between those rows and columns."""
        return replace(
            self,
            left_mm=self.left_mm + columns[0] / self.px_per_mm,
            top_mm=self.top_mm - rows[0] / self.px_per_mm,
            width_px=columns[1] - columns[0],
            height_px=rows[1] - rows[0],
        )


def face_frame(shape: DemoShape, px_per_m: float, margin_mm: float = MARGIN_MM) -> Frame:
    """The whole slab, lying along the picture, with a margin all round."""
    scale = px_per_m / 1000.0
    top = float(shape.upper_mm.max()) + margin_mm
    bottom = float(shape.lower_mm.min()) - margin_mm
    width = shape.length_mm + 2 * margin_mm
    return Frame(-margin_mm, top, scale, round(width * scale), round((top - bottom) * scale))


def px_per_m_for(shape: DemoShape, long_side_px: int = 1400) -> float:
    """The scale at which the whole slab's picture is `long_side_px` on its longer side."""
    unit = face_frame(shape, 1000.0)
    return 1000.0 * long_side_px / max(unit.width_px, unit.height_px)


def span_of(shape: DemoShape, frame: Frame) -> tuple[tuple[int, int], tuple[int, int]]:
    """The rows and columns of a picture within which the slab with its bark lies."""
    rows = frame.rows_for(float(shape.upper_mm.max()) + 45, float(shape.lower_mm.min()) - 45)
    return rows, frame.columns_for(-25, shape.length_mm + 25)
