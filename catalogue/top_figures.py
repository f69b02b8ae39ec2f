"""What a top laid on its wood comes to: wood, resin, mass, what is left of each slab.

The same figures stand beside a candidate, a saved layout and a layout under one's hand.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from catalogue.layout.laid import Layout
from catalogue.layout.rules import ALLOWANCES
from inventory.models import Slab
from inventory.wood import measure, shrinkage

MM3_PER_M3 = 1e9


@dataclass(frozen=True)
class TopFigures:
    """Areas in mm², volumes in mm³ at the finished thickness, masses in kg at the moisture wanted.

    `wood_kg` and `mass_kg` are None where the density of a species is not known. `used_share` is
    the top's wood as a share of its slabs' faces. `asking` is None where a slab has no price.
    """

    wood_mm2: float
    resin_mm2: float
    wood_mm3: float
    resin_mm3: float
    used_share: float
    wood_kg: float | None
    resin_kg: float
    left_mm2: tuple[float, ...]
    asking: Decimal | None
    caution: str | None
    is_approximate: bool

    @property
    def mass_kg(self) -> float | None:
        return None if self.wood_kg is None else self.wood_kg + self.resin_kg


def figures_of(
    laid: Layout, slabs: Sequence[Slab], thickness_mm: float, mc_pct: float, system: str
) -> TopFigures:
    """`slabs` in the layout's order, with their species; `mc_pct` the moisture the piece will have.

    Resin is reckoned at the finished thickness and the density in Allowances: the maker's data
    sheet decides how much may be poured at once.
    """
    wood_mm2 = [float(part.area) for part in laid.wood]
    resin_mm3 = laid.resin_mm2 * thickness_mm
    wood_kg = _wood_kg(wood_mm2, slabs, thickness_mm, mc_pct)
    resin_kg = resin_mm3 / MM3_PER_M3 * ALLOWANCES.resin_kg_m3
    prices = [slab.asking_price for slab in slabs]
    faces_mm2 = sum(float(placed.slab.area) for placed in laid.placed)
    return TopFigures(
        wood_mm2=sum(wood_mm2),
        resin_mm2=laid.resin_mm2,
        wood_mm3=sum(wood_mm2) * thickness_mm,
        resin_mm3=resin_mm3,
        used_share=sum(wood_mm2) / faces_mm2 if faces_mm2 else 0.0,
        wood_kg=wood_kg,
        resin_kg=resin_kg,
        left_mm2=tuple(laid.left_over_mm2()),
        asking=None if None in prices else sum((p for p in prices if p), Decimal(0)),
        caution=measure.lifting_caution((wood_kg or 0.0) + resin_kg, system),
        is_approximate=any(placed.shape.is_approximate for placed in laid.placed),
    )


def _wood_kg(
    wood_mm2: Sequence[float], slabs: Sequence[Slab], thickness_mm: float, mc_pct: float
) -> float | None:
    total = 0.0
    for area_mm2, slab in zip(wood_mm2, slabs, strict=True):
        if slab.species.sg_green is None:
            return None
        total += shrinkage.mass_kg(area_mm2 * thickness_mm, slab.species.sg_green, mc_pct)
    return total
