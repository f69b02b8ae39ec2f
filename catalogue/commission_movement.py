"""How a commission's top will move through the year in the home it goes to."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from catalogue import matching, promises
from catalogue.forms.movement import CommissionMovementForm
from catalogue.models import Commission, HowMade, TopShape
from inventory import movement
from inventory.models import Species
from inventory.movement import Air, TopMovement
from inventory.wood import measure


@dataclass(frozen=True)
class Wood:
    """A wood the top may be of: a promised slab's, or a species wished or chosen."""

    name: str
    species: Species
    sawn: str


@dataclass(frozen=True)
class Top:
    """The top's movement in one wood, in words and for drawing."""

    wood: Wood
    top: TopMovement
    top_words: str
    bars: tuple[movement.Bar, ...]
    fixing_words: str
    way_words: str


def woods_of(commission: Commission) -> list[Wood]:
    """Of the slabs promised, one for each species and way of sawing; else the species wished."""
    found: dict[tuple[int, str], Wood] = {}
    for hold in promises.promised_to(commission):
        slab = hold.slab
        name = f"{slab.species.common_name} {slab.display_code}"
        found.setdefault((slab.species_id, slab.sawn), Wood(name, slab.species, slab.sawn))
    wished = [Wood(one.common_name, one, "") for one in commission.species.all()]
    return list(found.values()) or wished


def tops(commission: Commission, woods: Sequence[Wood], form: CommissionMovementForm) -> list[Top]:
    """One for each wood. The form must be valid."""
    made, winter, summer = form.cleaned_data["made"], form.air("winter"), form.air("summer")
    return [_top(commission, wood, made, winter, summer, form.system) for wood in woods]


def _top(
    commission: Commission, wood: Wood, made: float, winter: Air, summer: Air, system: str
) -> Top:
    moves = movement.top_movement(
        commission.top_width_mm,
        made,
        winter,
        summer,
        wood=movement.wood_of(wood.species),
        sawn=wood.sawn,
    )
    return Top(
        wood,
        moves,
        movement.top_words(moves, system),
        movement.bars(moves),
        movement.fixing_words(moves, system),
        movement.way_words(wood.sawn) if moves.most else "",
    )


def made_pct(commission: Commission) -> float:
    """The middle of the moisture wanted for the piece."""
    target = matching.target_of(commission)
    return (target.low_pct + target.high_pct) / 2


def notes(commission: Commission, system: str) -> list[str]:
    """What the shape and the making add, and what the home's own air says."""
    said = []
    if commission.top_shape in (TopShape.ROUND, TopShape.OVAL):
        said.append("Only its width across the grain changes: a round top turns slightly oval.")
    if commission.how_made == HowMade.RESIN_PAIR:
        said.append(
            "Resin hardly moves with moisture. The whole width is reckoned as wood, so this is "
            "the most the top will move."
        )
    temp_c, rh_pct = commission.home_temp_c, commission.home_rh_pct
    if temp_c is not None and rh_pct is not None:
        air = measure.format_temperature(temp_c, system)
        emc = Air(temp_c, rh_pct).emc_pct
        said.append(
            f"The air at home is written down as {air} and {rh_pct:.0f}{measure.NBSP}% the year "
            f"round, which keeps wood at {emc:.1f}{measure.NBSP}%; its winter and summer lie "
            "to either side."
        )
    return said


def page(commission: Commission, form: CommissionMovementForm, woods: list[Wood]) -> dict[str, Any]:
    """What the page shows of a valid form."""
    chosen = form.cleaned_data.get("species")
    if chosen is not None:
        woods = [Wood(chosen.common_name, chosen, "")]
    return {"tops": tops(commission, woods, form)}
