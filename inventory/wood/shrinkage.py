"""Moisture change to movement and weight.

Coefficients of dimensional change hold from 6 to 14 % MC (Wood Handbook, FPL-GTR-190 (2010),
Table 13-5); elsewhere below fibre saturation shrinkage is taken as even from green to oven-dry
(Tables 4-3 and 4-4 give the totals; the straight line is the handbook's chapter 4, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

FIBRE_SATURATION_PCT = 30.0
COEFFICIENT_FROM_PCT = 6.0
COEFFICIENT_TO_PCT = 14.0
WATER_KG_M3 = 1000.0
MM3_PER_M3 = 1e9

# Flattening and thicknessing take 3 to 6 mm (1/8 to 1/4 in) off each face; common practice.
FLATTENING_MM_A_FACE = (3.0, 6.0)

FLAT, QUARTER = "flat", "quarter"
RADIAL = "radial"
TANGENTIAL = "tangential"
# In a flat-sawn board the rings lie along the width, in a quarter-sawn one through it.
_ACROSS_WIDTH = {"flat": (TANGENTIAL,), "quarter": (RADIAL,)}
_ACROSS_THICKNESS = {"flat": (RADIAL,), "quarter": (TANGENTIAL,)}


@dataclass(frozen=True)
class WoodMovement:
    """The figures of one species that say how it moves; None where unknown.

    `cr`, `ct`: fractional change per 1 % MC; `radial_pct`, `tangential_pct`: total shrinkage.
    """

    cr: float | None = None
    ct: float | None = None
    radial_pct: float | None = None
    tangential_pct: float | None = None


@dataclass(frozen=True)
class SizeChange:
    """Change (mm, negative is shrinking) of a piece sawn that way ('flat' or 'quarter').

    None where the species' figure for it is not known.
    """

    sawn: str
    width_mm: float | None
    thickness_mm: float | None


def density_kg_m3(sg_green: float, mc_pct: float) -> float:
    """Density (kg/m³) with its water at `mc_pct`, from basic specific gravity (oven-dry/green).

    G at M = Gb / (1 − 0.265 Gb (1 − M/30)) below 30 % MC (FPL-GTR-190, ch. 4, from memory), Gb
    above; density = 1000 G (1 + M/100). Raises ValueError for a figure no wood has.
    """
    _refuse_impossible(sg_green, mc_pct)
    dryness = max(0.0, 1.0 - mc_pct / FIBRE_SATURATION_PCT)
    sg_now = sg_green / (1.0 - 0.265 * sg_green * dryness)
    return WATER_KG_M3 * sg_now * (1.0 + mc_pct / 100.0)


def mass_kg(volume_mm3: float, sg_green: float, mc_pct: float) -> float:
    """Mass (kg) of a piece that measures `volume_mm3` now, at `mc_pct`."""
    if not volume_mm3 >= 0:
        raise ValueError("A volume cannot be less than nothing.")
    return volume_mm3 / MM3_PER_M3 * density_kg_m3(sg_green, mc_pct)


def mass_at_kg(mass_now_kg: float, from_mc: float, to_mc: float) -> float:
    """Mass (kg) of the same piece at another moisture: its oven-dry wood stays, water goes."""
    _refuse_impossible(0.5, from_mc)
    _refuse_impossible(0.5, to_mc)
    return mass_now_kg * (100.0 + to_mc) / (100.0 + from_mc)


def flattened_mm(thickness_mm: float, hollow_mm: float = 0.0) -> tuple[float, float] | None:
    """Least and greatest thickness once both faces are flat; None when nothing would be left.

    A slab of even thickness that is hollow by `hollow_mm` under a straightedge (cup, bow or twist)
    holds a flat board thinner by just that much; 3 to 6 mm come off each face besides (common
    practice).
    """
    light, heavy = FLATTENING_MM_A_FACE
    flat_mm = thickness_mm - hollow_mm
    least, greatest = flat_mm - 2 * heavy, flat_mm - 2 * light
    return (max(least, 0.0), greatest) if greatest > 0 else None


def shrinkage_pct(total_pct: float, mc_pct: float, fsp: float = FIBRE_SATURATION_PCT) -> float:
    """Shrinkage from green to `mc_pct`, % of the green dimension; none above fibre saturation."""
    if not (0.0 <= total_pct < 100.0 and mc_pct >= 0.0 and fsp > 0.0):
        raise ValueError("Shrinkage and moisture content cannot be less than nothing.")
    return total_pct * max(0.0, fsp - mc_pct) / fsp


def oversize_mm(dry_mm: float, total_pct: float, mc_pct: float) -> float:
    """Size to saw green so that `dry_mm` is left at `mc_pct`."""
    return dry_mm / (1.0 - shrinkage_pct(total_pct, mc_pct) / 100.0)


def movement_mm(width_mm: float, coefficient: float, from_mc: float, to_mc: float) -> float:
    """Change of a dimension (mm, negative is shrinking) between moistures within 6–14 % MC.

    dD = D × C × (to − from). Raises ValueError outside 6–14 %, where C does not hold.
    """
    if not _within_coefficient(from_mc, to_mc):
        raise ValueError("A coefficient of change holds only between 6 and 14 % moisture content.")
    return width_mm * coefficient * (to_mc - from_mc)


def dimension_change_mm(
    size_mm: float,
    from_mc: float,
    to_mc: float,
    *,
    coefficient: float | None,
    total_shrinkage_pct: float | None,
    fsp: float = FIBRE_SATURATION_PCT,
) -> float | None:
    """Change (mm, negative is shrinking) of what measures `size_mm` at `from_mc`.

    By the coefficient within 6–14 % MC, else by total shrinkage, evenly from fibre saturation to
    oven-dry; None when the species' figure for that is not known.
    """
    if coefficient is not None and _within_coefficient(from_mc, to_mc):
        return movement_mm(size_mm, coefficient, from_mc, to_mc)
    if total_shrinkage_pct is None:
        return None
    shrunk_before = shrinkage_pct(total_shrinkage_pct, from_mc, fsp)
    shrunk_after = shrinkage_pct(total_shrinkage_pct, to_mc, fsp)
    green_mm = size_mm / (1.0 - shrunk_before / 100.0)
    return green_mm * (shrunk_before - shrunk_after) / 100.0


def directions(sawn: str, *, of: str = "width") -> tuple[str, ...]:
    """Which way the wood moves across a slab's 'width' or 'thickness'.

    `sawn` is 'flat', 'quarter' or 'rift'. Rift lies between the two and unknown may be either, so
    both are given.
    """
    table = _ACROSS_THICKNESS if of == "thickness" else _ACROSS_WIDTH
    return table.get(sawn, (RADIAL, TANGENTIAL))


def changes_mm(
    size_mm: float,
    from_mc: float,
    to_mc: float,
    *,
    wood: WoodMovement,
    sawn: str,
    of: str = "width",
) -> dict[str, float | None]:
    """Change (mm) for each direction the slab's width or thickness may lie in."""
    figures = {
        RADIAL: (wood.cr, wood.radial_pct),
        TANGENTIAL: (wood.ct, wood.tangential_pct),
    }
    return {
        direction: dimension_change_mm(
            size_mm,
            from_mc,
            to_mc,
            coefficient=figures[direction][0],
            total_shrinkage_pct=figures[direction][1],
        )
        for direction in directions(sawn, of=of)
    }


def ways_sawn(sawn: str) -> tuple[str, ...]:
    """'flat', 'quarter', or both where it is rift-sawn (between the two) or not known."""
    return (sawn,) if sawn in (FLAT, QUARTER) else (FLAT, QUARTER)


def size_changes(
    width_mm: float,
    thickness_mm: float,
    from_mc: float,
    to_mc: float,
    *,
    wood: WoodMovement,
    sawn: str,
) -> tuple[SizeChange, ...]:
    """How a piece's width and thickness change between moistures, for each way it may be sawn."""
    found = []
    for way in ways_sawn(sawn):
        (width,) = changes_mm(width_mm, from_mc, to_mc, wood=wood, sawn=way).values()
        (thickness,) = changes_mm(
            thickness_mm, from_mc, to_mc, wood=wood, sawn=way, of="thickness"
        ).values()
        found.append(SizeChange(way, width, thickness))
    return tuple(found)


def _within_coefficient(*mcs_pct: float) -> bool:
    return all(COEFFICIENT_FROM_PCT <= mc <= COEFFICIENT_TO_PCT for mc in mcs_pct)


def _refuse_impossible(sg_green: float, mc_pct: float) -> None:
    if not 0.05 <= sg_green <= 1.5:
        raise ValueError(f"No wood has a specific gravity of {sg_green:g}.")
    if not 0.0 <= mc_pct <= 400.0:
        raise ValueError(f"No wood has a moisture content of {mc_pct:g} %.")
