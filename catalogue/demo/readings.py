"""What a meter showed in wood of known moisture, used as meters are in a busy workshop.

Mostly the right meter is used, at the places and depths the record asks for. Now and then the short
pins come to hand (no core), the pad (no depth), or nobody took the wood's temperature: such checks
are on the record too, and prove nothing.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from inventory import reading_plan
from inventory.checks import ReadingEntry
from inventory.models import Meter, Method, Slab, Zone
from inventory.reading_plan import Depth
from inventory.wood import moisture

WET_ENOUGH_TO_WEIGH_PCT = 31.0
TOO_DRY_FOR_PINS_PCT = 6.3
PAD_SEES_TO = 0.12
STEPS_TO_RAW = 3
UNEVEN_SHARE = 0.05

Truth = Callable[[float], float]
"""% MC at a depth (share of the thickness from the nearer face)."""


@dataclass(frozen=True)
class Box:
    """The meters of the yard, by what they are good for."""

    to_correct: Meter  # a plain pin meter: the record corrects for species and temperature
    by_number: Meter  # a pin meter set to the wood by hand
    short: Meter  # short pins: the shell only
    pad: Meter
    oven: Meter

    @classmethod
    def of(cls, meters: list[Meter]) -> "Box":
        """Found by what they correct and how they measure, not by name."""
        pins = [meter for meter in meters if meter.method == Method.PIN]
        return cls(
            to_correct=next(meter for meter in pins if not meter.corrects_temperature),
            by_number=next(meter for meter in pins if meter.corrects_species),
            short=next(m for m in pins if m.corrects_temperature and not m.corrects_species),
            pad=next(meter for meter in meters if meter.method == Method.PINLESS),
            oven=next(meter for meter in meters if meter.method == Method.WEIGHING),
        )


@dataclass(frozen=True)
class Taking:
    """How one check was taken. `depths` None means as the record asks."""

    meter: Meter
    wood_temp_c: float | None
    depths: tuple[Depth, ...] | None = None
    note: str = ""


def taking(
    box: Box,
    slab: Slab,
    mean_pct: float,
    temp_c: float,
    *,
    is_sample: bool,
    is_last: bool,
    luck: float,
) -> Taking:
    """Which meter, and how it was used; `luck` 0…1 decides how carefully."""
    if is_sample and mean_pct > WET_ENOUGH_TO_WEIGH_PCT:
        note = "Sections from the sample board, weighed and oven-dried."
        return Taking(box.oven, None, (Depth.UNKNOWN,), note)
    if is_last and mean_pct < TOO_DRY_FOR_PINS_PCT:
        return Taking(box.oven, None, None, "Sample board sliced in three and oven-dried.")
    if luck < 0.05:
        return Taking(box.short, temp_c, (Depth.SHELL,), "Long pins were out on loan.")
    if luck < 0.08:
        return Taking(box.pad, None, (Depth.UNKNOWN,), "Quick look with the pad.")
    has_table = moisture.has_species_table(slab.species.botanical_name)
    if luck < 0.11 or (has_table and luck < 0.85):
        return Taking(box.to_correct, None if luck < 0.11 else temp_c)
    return Taking(box.by_number, temp_c)


def entries(
    how: Taking, slab: Slab, truth: Truth, slope: float, temp_c: float, rng: np.random.Generator
) -> list[ReadingEntry]:
    """The numbers as typed, to a tenth, from left to right."""
    return [
        _entry(how, slab, along, depth, _true_pct(truth, depth, along, slope, rng), temp_c)
        for along, depth in _places(how, slab)
    ]


def slope_along(rng: np.random.Generator) -> float:
    """How much wetter one end is than the other, as a share; a few slabs are plainly uneven."""
    if rng.random() < UNEVEN_SHARE:
        return float(rng.choice([-1, 1]) * rng.uniform(0.3, 0.45))
    return float(rng.normal(0, 0.05))


def _places(how: Taking, slab: Slab) -> Iterator[tuple[float, Depth]]:
    if how.depths is None:
        for planned in reading_plan.plan(slab.length_mm, slab.thickness_mm):
            yield planned.along, planned.depth
        return
    for along in reading_plan.places_along(slab.length_mm).values():
        yield from ((along, depth) for depth in how.depths)


def _true_pct(
    truth: Truth, depth: Depth, along: float, slope: float, rng: np.random.Generator
) -> float:
    """The wood just there, with the scatter of readings: more where it is wet."""
    share = {Depth.SHELL: 0.1, Depth.CORE: 0.5, Depth.UNKNOWN: PAD_SEES_TO}.get(depth, 0.211)
    there = truth(share) * (1 + slope * (along - 0.5))
    return max(0.5, there + float(rng.normal(0, 0.3 + 0.02 * max(0.0, there - 8))))


def _entry(
    how: Taking, slab: Slab, along: float, depth: Depth, true_pct: float, temp_c: float
) -> ReadingEntry:
    shown = min(_raw_pct(how.meter, slab, true_pct, temp_c), _most_shown(how.meter))
    depth_mm = reading_plan.depth_mm(depth, slab.thickness_mm)
    zone = Zone.UNKNOWN
    return ReadingEntry(round(shown, 1), along, 0.5, depth_mm, zone)


def _most_shown(meter: Meter) -> float:
    """Where a meter's scale ends, % MC."""
    return {Method.PIN: 40.0, Method.PINLESS: 30.0}.get(Method(meter.method), 250.0)


def _raw_pct(meter: Meter, slab: Slab, true_pct: float, temp_c: float) -> float:
    """What the meter showed there: found by asking the record's correction what it makes of it."""
    raw = true_pct
    if meter.method != Method.PIN or meter.corrects_species:
        return raw
    for _ in range(STEPS_TO_RAW):
        made = moisture.correct_reading(
            max(0.0, raw),
            method=meter.method,
            wood_temp_c=temp_c,
            species_botanical=slab.species.botanical_name or None,
            meter_corrects_temperature=meter.corrects_temperature,
            meter_corrects_species=False,
        )
        raw += true_pct - made.corrected_pct
    return max(0.0, raw)
