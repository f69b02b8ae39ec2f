"""Which readings a slab needs: how many, where along it, how deep. Pure.

Three places, kept 300 mm from the ends where the slab is long enough (common practice: the ends
read dry). Single readings are taken where the mean of the section lies; thicker wood gets a shell
and a core reading beside the middle one, so that core − shell is known.
"""

from dataclasses import dataclass
from enum import StrEnum

from inventory.readiness_rules import RULES
from inventory.wood import measure, moisture
from inventory.wood.lengths import MM_PER_IN

FROM_END_MM = 300.0
# A slab too short for 300 mm at both ends is read at its quarters at least.
NEAREST_END_SHARE = 0.25
SHELL_SHARE = 0.1
CORE_SHARE = 0.5
# Shares of the width a reading is offered at: clear of the bark, and the middle.
ACROSS = (0.15, 0.5, 0.85)


class Depth(StrEnum):
    """How deep a reading was taken, as the entry page offers it."""

    AIM = "aim"
    SHELL = "shell"
    CORE = "core"
    UNKNOWN = ""


@dataclass(frozen=True)
class Planned:
    """A reading to take: `along` 0…1 from the left end."""

    place: str
    along: float
    depth: Depth


def places_along(length_mm: float) -> dict[str, float]:
    """Left, middle and right as shares of the length from the left end."""
    from_end = max(1 / 6, min(FROM_END_MM / length_mm, NEAREST_END_SHARE))
    return {"Left": round(from_end, 2), "Middle": 0.5, "Right": round(1 - from_end, 2)}


def plan(length_mm: float, thickness_mm: float) -> list[Planned]:
    """The readings this slab needs, from left to right."""
    thick = needs_core(thickness_mm)
    middle = (Depth.SHELL, Depth.AIM, Depth.CORE) if thick else (Depth.AIM,)
    return [
        Planned(place, along, depth)
        for place, along in places_along(length_mm).items()
        for depth in (middle if place == "Middle" else (Depth.AIM,))
    ]


def needs_core(thickness_mm: float) -> bool:
    return thickness_mm > RULES.core_above_mm


def aim_mm(thickness_mm: float) -> float:
    return moisture.aim_depth_mm(thickness_mm)


def depth_mm(depth: Depth, thickness_mm: float) -> float | None:
    """How deep that is in this slab, from the nearer face; None when the depth is not said."""
    shares = {Depth.SHELL: SHELL_SHARE, Depth.AIM: moisture.AIM_SHARE, Depth.CORE: CORE_SHARE}
    return shares[depth] * thickness_mm if depth in shares else None


def depth_text(depth_mm: float, system: str) -> str:
    """To the millimetre, or to the eighth of an inch: pins are not set finer."""
    step = MM_PER_IN / 8 if system == measure.IMPERIAL else 1.0
    return measure.format_length(max(step, round(depth_mm / step) * step), system)


def along_words(along: float, length_mm: float, system: str) -> str:
    """`Left, 16 in from the end`."""
    if abs(along - 0.5) < 0.005:
        return "Middle"
    side = "Left" if along < 0.5 else "Right"
    return f"{side}, {distance_text(min(along, 1 - along) * length_mm, system)} from the end"


def across_words(across: float | None) -> str:
    """`near edge`, `middle of the width`, `far edge`; "" when not said."""
    if across is None:
        return ""
    if across < 1 / 3:
        return "near edge"
    return "far edge" if across > 2 / 3 else "middle of the width"


def distance_text(distance_mm: float, system: str) -> str:
    """To the inch or the centimetre, as one paces it off: `16 in`."""
    step = MM_PER_IN if system == measure.IMPERIAL else 10.0
    return measure.format_length(round(distance_mm / step) * step, system, kind="length")


def depth_named(found_mm: float, thickness_mm: float) -> Depth | None:
    """Which of the offered depths a stored depth is, to a tenth of a mm; None for another."""
    for depth in (Depth.AIM, Depth.SHELL, Depth.CORE):
        offered = depth_mm(depth, thickness_mm)
        if offered is not None and abs(offered - found_mm) < 0.05:
            return depth
    return None
