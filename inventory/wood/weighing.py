"""Moisture content from masses: sections, sample boards and whole slabs (AH-188, chapter 6).

Masses in any one unit. A calculated oven-dry mass is only as good as what it was calculated from:
sections of the piece itself, or a moisture content known at an earlier mass.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import fmean

from inventory.wood.moisture import oven_dry_mc_pct, sample_board_oven_dry_mass

Sections = Sequence[tuple[float, float]]
"""Moisture sections: (mass when cut, oven-dry mass) of each."""


class WeighingProblem(ValueError):
    """Masses that cannot be. Its text is a sentence; `field` names the value it belongs beside."""

    def __init__(self, sentence: str, field: str = "") -> None:
        super().__init__(sentence)
        self.field = field


def sections_mc_pct(sections: Sections) -> float:
    """Mean moisture content (%) of the sections. Raises WeighingProblem for none, or dry > wet."""
    if not sections:
        raise WeighingProblem("Give at least one section, wet and oven-dry.", "sections")
    try:
        return fmean(oven_dry_mc_pct(wet, dry) for wet, dry in sections)
    except ValueError as problem:
        raise WeighingProblem(str(problem), "sections") from problem


def dry_mass_from_sections(mass: float, sections: Sections) -> float:
    """Calculated oven-dry mass of a piece that weighed `mass` when its sections were cut."""
    return sample_board_oven_dry_mass(mass, sections_mc_pct(sections))


def dry_mass_from_earlier(earlier_mass: float, earlier_mc_pct: float) -> float:
    """Calculated oven-dry mass of a piece whose moisture content was known at an earlier mass."""
    return sample_board_oven_dry_mass(earlier_mass, earlier_mc_pct)


def mc_by_mass_pct(mass: float, oven_dry_mass: float) -> float:
    """Moisture content (%) of a piece that weighs `mass` now.

    Raises WeighingProblem when it weighs less than it would without any water.
    """
    if mass < oven_dry_mass:
        raise WeighingProblem(
            "That is less than it would weigh with no water at all: look at both masses again.",
            "mass",
        )
    return oven_dry_mc_pct(mass, oven_dry_mass)
