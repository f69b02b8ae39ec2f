"""The free slabs a commission could be made of, as arrays: one row a slab, one query for all."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
import numpy.typing as npt

from catalogue.layout.tops import Floats, Top
from catalogue.models import Commission, HowMade
from inventory.models import Condition, ShapeBasis
from inventory.models.slab import SlabQuerySet
from inventory.readiness import Target

Ints = npt.NDArray[np.int64]
COLUMNS = (
    "pk",
    "species_id",
    "log_id",
    "number_in_log",
    "length_mm",
    "thickness_mm",
    "wood_mm2",
    "greatest_width_mm",
    "circle_mm",
    "mc_pct",
    "asking_price",
    "condition",
    "shape_basis",
    "latest_check__is_trusted",
)
SIZES = (
    "length_mm",
    "thickness_mm",
    "wood_mm2",
    "greatest_width_mm",
    "circle_mm",
    "mc_pct",
)
UNKNOWN_MOISTURE_PCT = 99.0
# A top is turned by at most 15° (layout/single.py), and a taped length may be off by two per cent.
LENGTH_SHARE = 0.945
LIVE_CIRCLE_SHARE = 0.7
"""A live edge may wander, so that no circle as wide as the top lies in it."""


@dataclass(frozen=True, eq=False)
class Pool:
    """Figures of slabs by row: mm, mm², % MC (NaN unknown), price (NaN none); −1 for no log."""

    pk: Ints
    species: Ints
    log: Ints
    number: Ints
    length_mm: Floats
    thickness_mm: Floats
    wood_mm2: Floats
    greatest_mm: Floats
    circle_mm: Floats
    mc_pct: Floats
    asking: Floats
    is_ready: npt.NDArray[np.bool_]
    is_traced: npt.NDArray[np.bool_]
    is_trusted: npt.NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.pk)

    def at(self, rows: npt.NDArray[Any]) -> Pool:
        """Those rows alone, in that order."""
        return Pool(**{field.name: getattr(self, field.name)[rows] for field in fields(self)})

    def off_pct(self, target: Target) -> Floats:
        """How far each slab's last mean lies outside the target; 99 where there is none."""
        off = np.maximum(self.mc_pct - target.high_pct, target.low_pct - self.mc_pct)
        return np.where(np.isnan(off), UNKNOWN_MOISTURE_PCT, np.clip(off, 0.0, None))

    def money(self, commission: Commission) -> Ints:
        """0 within the budget or none given, 1 without a price, 2 over it."""
        if commission.budget is None:
            return np.zeros(len(self), dtype=np.int64)
        over = np.where(self.asking > float(commission.budget), 2, 0)
        return np.where(np.isnan(self.asking), 1, over).astype(np.int64)


def pool_of(slabs: SlabQuerySet) -> Pool:
    """One query, no model objects: a hundred thousand rows take well under a second."""
    rows = slabs.order_by().values_list(*COLUMNS)
    columns: list[tuple[Any, ...]] = list(zip(*rows, strict=True)) or [()] * len(COLUMNS)
    by_name = dict(zip(COLUMNS, columns, strict=True))
    sizes = {name: np.array(by_name[name], dtype=np.float64) for name in SIZES}
    asking = [np.nan if one is None else float(one) for one in by_name["asking_price"]]
    return Pool(
        pk=np.array(by_name["pk"], dtype=np.int64),
        species=np.array(by_name["species_id"], dtype=np.int64),
        log=_keys(by_name["log_id"]),
        number=_keys(by_name["number_in_log"]),
        length_mm=sizes["length_mm"],
        thickness_mm=sizes["thickness_mm"],
        wood_mm2=sizes["wood_mm2"],
        greatest_mm=sizes["greatest_width_mm"],
        circle_mm=sizes["circle_mm"],
        mc_pct=sizes["mc_pct"],
        asking=np.array(asking, dtype=np.float64),
        is_ready=np.array([one == Condition.READY for one in by_name["condition"]], dtype=np.bool_),
        is_traced=np.array(
            [one == ShapeBasis.TRACED for one in by_name["shape_basis"]], dtype=np.bool_
        ),
        is_trusted=np.array(
            [one is not False for one in by_name["latest_check__is_trusted"]], dtype=np.bool_
        ),
    )


def _keys(column: Iterable[int | None]) -> Ints:
    return np.array([-1 if one is None else one for one in column], dtype=np.int64)


def figures_asked(commission: Commission, top: Top, rough_mm: float) -> dict[str, float | bool]:
    """What a slab's stored figures must reach: lookups that never rule out what would do.

    A top holds a circle as wide as its shorter side, and so must the wood under it.
    """
    short = min(top.length_mm, top.width_mm)
    kept_mm = 2 * (commission.margin_mm + commission.wane_mm)
    asked: dict[str, float | bool] = {
        "length_mm__gte": LENGTH_SHARE * top.length_mm,
        "thickness_mm__gte": rough_mm,
    }
    how = HowMade(commission.how_made)
    if how == HowMade.ONE_SLAB:
        share = LIVE_CIRCLE_SHARE if top.is_live_edge else 1.0
        asked |= _circle(share * (short + kept_mm)) | {"wood_mm2__gte": _almost(top.area_mm2)}
    elif how == HowMade.BOOKMATCHED:
        half = min(top.length_mm, top.width_mm / 2)
        # A half round holds a circle of half its width, and so does half of any other top.
        asked |= _circle(0.5 * half) | {"wood_mm2__gte": _almost(top.area_mm2 / 2)}
        asked |= {"log__isnull": False, "number_in_log__isnull": False}
    else:
        # A strip narrower than a fifth of the top is no half of it.
        asked["greatest_width_mm__gte"] = top.width_mm / 5
    return asked


def _circle(diameter_mm: float) -> dict[str, float | bool]:
    # Stored to half a millimetre.
    return {"circle_mm__gte": diameter_mm - 1.0}


def _almost(area_mm2: float) -> float:
    """The stored area is summed in another order: a hair less must not rule a slab out."""
    return area_mm2 * (1 - 1e-6)
