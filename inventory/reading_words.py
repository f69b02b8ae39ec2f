"""What the readings of one check show, in sentences: gradient, spread, the wettest place."""

from collections.abc import Sequence
from statistics import fmean

from inventory.models import MoistureCheck, Reading, Slab, Zone
from inventory.reading_plan import across_words, needs_core

# Differences below this are within what a meter repeats to.
ALIKE_PCT = 0.05
SIDES = ("left end", "middle", "right end")


def sentences(slab: Slab, check: MoistureCheck, readings: Sequence[Reading]) -> tuple[str, ...]:
    """Gradient first, then spread, then the wettest reading where there are several."""
    said = [_gradient(slab, check), _spread(check, readings)]
    if len(readings) > 1:
        said.append(_wettest(readings))
    return tuple(sentence for sentence in said if sentence)


def _gradient(slab: Slab, check: MoistureCheck) -> str:
    gradient = check.gradient_pct
    if gradient is None:
        if not needs_core(slab.thickness_mm):
            return ""
        return "Core and shell were not both read: how much wetter the core is is not known."
    if abs(gradient) < ALIKE_PCT:
        return "Core and shell are the same."
    if gradient > 0:
        return f"The core is {gradient:.1f} above the shell."
    return f"The shell is {-gradient:.1f} above the core: it has taken up moisture from the air."


def _spread(check: MoistureCheck, readings: Sequence[Reading]) -> str:
    spread = check.spread_pct
    if spread is None:
        return "How even it is along the length is not known: one depth was read at one place."
    if spread < ALIKE_PCT:
        return "Along the length it is the same."
    where = _wettest_side(readings)
    return f"Along the length it differs by {spread:.1f}{where}."


def _wettest_side(readings: Sequence[Reading]) -> str:
    """Which third of the length is wettest, by readings of the depth most often taken."""
    zones = [reading.zone for reading in readings if reading.along is not None]
    usual = max(dict.fromkeys(zones), key=zones.count, default="")
    sides: dict[str, list[float]] = {}
    for reading in readings:
        if reading.along is not None and reading.zone == usual:
            side = SIDES[min(int(reading.along * 3), 2)]
            sides.setdefault(side, []).append(reading.corrected_pct)
    if len(sides) < 2:
        return ""
    return f", wettest at the {max(sides, key=lambda side: fmean(sides[side]))}".replace(
        "at the middle", "in the middle"
    )


def _wettest(readings: Sequence[Reading]) -> str:
    wettest = max(readings, key=lambda reading: reading.corrected_pct)
    deep = {Zone.SHELL: ", in the shell", Zone.CORE: ", in the core"}.get(Zone(wettest.zone), "")
    where = ""
    if wettest.along is not None:
        side = SIDES[min(int(wettest.along * 3), 2)]
        where = " in the middle" if side == "middle" else f" at the {side}"
    off_middle = wettest.across is not None and across_words(wettest.across) != across_words(0.5)
    across = f", by the {across_words(wettest.across)}" if off_middle else ""
    value = f"{wettest.corrected_pct:.1f}\N{NO-BREAK SPACE}%"
    return f"The wettest reading is {value}{where}{deep}{across}."
