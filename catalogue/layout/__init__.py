"""Tops laid on slabs: pure geometry in plan, mm and mm²."""

from catalogue.layout.straight import (
    ALLOWANCES,
    ROUNDED,
    Allowances,
    Floats,
    Layout,
    Piece,
    Placed,
    Side,
    Top,
    as_bookmatch,
    best_with_resin,
    greatest_gaps_mm,
    on_one_slab,
    side_of,
    spare_half_width_mm,
    with_resin,
)

__all__ = [
    "ALLOWANCES",
    "ROUNDED",
    "Allowances",
    "Floats",
    "Layout",
    "Piece",
    "Placed",
    "Side",
    "Top",
    "as_bookmatch",
    "best_with_resin",
    "greatest_gaps_mm",
    "on_one_slab",
    "side_of",
    "spare_half_width_mm",
    "with_resin",
]
