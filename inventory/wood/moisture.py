"""Meter readings to moisture content, and what a moisture check's readings add up to.

Pin (resistance) readings are corrected for wood temperature first and for species second (James,
*Electric moisture meters for wood*, FPL-GTR-6, 1988: from memory). Neither published table could
be read again: sign, size and neutral point are sure, tenths of a point are not.

Temperature: the closed form of Pfaff and Garrahan (Forest Products Journal 36(3):28-30, 1986; from
memory) rather than a table, because it runs smoothly over any reading and any temperature a shed
has. Its neutral point is 22.7 °C; meters are calibrated at 70 °F (21.1 °C), so it is moved by
that difference: wood at 70 °F is left as read.

Species: meter_species_correction.csv, derived from the resistances of James's Table 1 for a meter
calibrated on Douglas-fir. Beyond a table's ends its last step is carried on.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from pathlib import Path
from statistics import fmean

import numpy as np

from inventory.wood.slips import Doubt as Doubt
from inventory.wood.slips import doubtful as doubtful

SPECIES_TABLE = Path(__file__).with_name("meter_species_correction.csv")
CALIBRATION_WOOD = "Douglas-fir"
CALIBRATION_C = (70.0 - 32.0) / 1.8
NEUTRAL_OF_CLOSED_FORM_C = 22.7
LEAST_WOOD_TEMP_C = -20.0
GREATEST_WOOD_TEMP_C = 80.0
PIN_FROM_PCT = 6.0
PIN_TO_PCT = 30.0
# With a parabolic gradient the mean of the section lies at (1 − 1/√3) / 2 of the thickness.
AIM_SHARE = 0.211
SHELL, CORE, BETWEEN = "shell", "core", "between"

# The trade groups of James's table, species by species. Only those sold under the group's name:
# live oak, the pecan hickories and European oaks are not.
_GROUPS = {
    "Quercus spp. (Erythrobalanus)": (
        "Quercus rubra",
        "Quercus velutina",
        "Quercus kelloggii",
        "Quercus palustris",
        "Quercus coccinea",
        "Quercus falcata",
        "Quercus nigra",
    ),
    "Quercus spp. (Leucobalanus)": (
        "Quercus alba",
        "Quercus macrocarpa",
        "Quercus montana",
        "Quercus garryana",
        "Quercus stellata",
        "Quercus michauxii",
    ),
    "Carya spp.": ("Carya tomentosa", "Carya glabra", "Carya ovata"),
    "Magnolia spp.": ("Magnolia acuminata", "Magnolia grandiflora"),
    "Khaya spp.": ("Khaya ivorensis",),
}
_GROUP_OF = {species: group for group, members in _GROUPS.items() for species in members}

_OTHER_CALIBRATION = (
    "Not corrected for species: our table is for meters calibrated on Douglas-fir, and this "
    "one is not. It takes the meter's own table."
)

StepTable = tuple[tuple[float, ...], tuple[float, ...]]


class Method(StrEnum):
    """How moisture content was found."""

    PIN = "pin"
    PINLESS = "pinless"
    WEIGHING = "weighing"


@dataclass(frozen=True)
class CorrectedReading:
    """A reading and everything that was done to it.

    `corrected_pct` = `raw_pct` + `temperature_step_pct` + `species_step_pct`. `is_corrected` says
    whether nothing is left undone; where it is False, `explanation` says in a sentence what is.
    `range_flag` is 'below' or 'above' the meter's range, or ''.
    """

    raw_pct: float
    corrected_pct: float
    temperature_step_pct: float
    species_step_pct: float
    is_corrected: bool
    range_flag: str
    explanation: str


@dataclass(frozen=True)
class ReadingAt:
    """A moisture content at a place: `along` 0…1 or None, `zone` shell, core or between.

    `is_trusted` is False for one not fully corrected, or outside the meter's range.
    """

    mc_pct: float
    along: float | None
    zone: str
    is_trusted: bool


@dataclass(frozen=True)
class CheckFigures:
    """What a moisture check's readings add up to, all % MC.

    `gradient_pct` is core − shell. `spread_pct` runs along the length, like compared with like.
    `places` counts different places along the length, `trusted` the readings that can be relied
    on; untrusted ones are in every figure all the same, so that wet wood is not left out.
    """

    mean_pct: float
    max_pct: float
    min_pct: float
    shell_pct: float | None
    core_pct: float | None
    gradient_pct: float | None
    spread_pct: float | None
    places: int
    readings: int
    trusted: int


@dataclass(frozen=True)
class _Step:
    """One correction: its size, whether it is settled, and what there is to say of it."""

    size_pct: float
    is_settled: bool
    sentence: str


def correct_reading(
    raw_pct: float,
    *,
    method: Method | str,
    wood_temp_c: float | None,
    species_botanical: str | None,
    meter_corrects_temperature: bool,
    meter_corrects_species: bool,
    own_species_table: Sequence[tuple[float, float]] | None = None,
    calibrated_at_c: float = CALIBRATION_C,
    our_table_fits: bool = True,
) -> CorrectedReading:
    """Moisture content (%) from what the meter showed.

    What the meter declares it corrects is not corrected again. Weighing needs no correction. A
    pinless meter needs none for temperature, but its species or density setting must be declared,
    or the shop's own table given. `own_species_table` is that table's pairs (reading at the
    meter's own temperature, moisture content), used instead of ours. `calibrated_at_c` is the
    wood's temperature at which the meter reads true; `our_table_fits` is False for a meter
    calibrated on another wood than Douglas-fir, whose readings our species table cannot mend.
    Raises ValueError for a raw reading that is not a number from 0 to 400, and for an unknown
    method.
    """
    if not 0.0 <= raw_pct <= 400.0:
        raise ValueError("A moisture reading lies between 0 and 400 %.")
    method = Method(method)
    if method is Method.WEIGHING:
        return _together(raw_pct, "", _nothing("Weighed, so it needs no correction."), _nothing())
    if method is Method.PINLESS:
        step = _pinless_step(raw_pct, meter_corrects_species, own_species_table)
        return _together(raw_pct, "", _nothing(), step)
    warm = _temperature_step(raw_pct, wood_temp_c, meter_corrects_temperature, calibrated_at_c)
    warmed = raw_pct + warm.size_pct
    if meter_corrects_species:
        named = _nothing("The meter allows for the species.")
    elif not warm.is_settled:
        named = _Step(0.0, False, "")
    elif own_species_table:
        named = _own_step(warmed, own_species_table)
    elif not our_table_fits:
        named = _Step(0.0, False, _OTHER_CALIBRATION)
    else:
        named = _species_step(warmed, species_botanical)
    return _together(raw_pct, range_flag(raw_pct), warm, named)


def range_flag(raw_pct: float) -> str:
    """'below' or 'above' the range of a pin meter (about 6 to 30 %), or ''."""
    if raw_pct < PIN_FROM_PCT:
        return "below"
    return "above" if raw_pct > PIN_TO_PCT else ""


def is_calibration_wood(name: str) -> bool:
    """Whether a wood, as a meter's maker names it, is Douglas-fir; nothing said counts as it."""
    plain = " ".join(name.replace("-", " ").casefold().split())
    return not plain or plain.startswith(("douglas fir", "pseudotsuga menziesii"))


def at_calibration_temperature(
    reading_pct: float, wood_temp_c: float, calibrated_at_c: float = CALIBRATION_C
) -> float:
    """A pin reading as it would be at the meter's calibration, 70 °F (cold wood reads low).

    MC = (R + 0.567 − 0.0260 t + 0.000051 t²) / (0.881 × 1.0056^t), t in °C moved by what lies
    between the form's neutral point and the meter's calibration (1.6 °C). Never below 0.
    """
    t = wood_temp_c + NEUTRAL_OF_CLOSED_FORM_C - calibrated_at_c
    at_neutral = (reading_pct + 0.567 - 0.0260 * t + 0.000051 * t * t) / (0.881 * 1.0056**t)
    return float(max(0.0, at_neutral))


def has_species_table(species_botanical: str | None) -> bool:
    """Whether we hold a pin-meter table for this species, by its own or its group's name."""
    return _table_name(species_botanical) in _species_tables()


def aim_depth_mm(thickness_mm: float) -> float:
    """Depth (mm) at which a single reading meets the mean of the section (drying wood)."""
    return AIM_SHARE * thickness_mm


def zone_of(depth_mm: float, thickness_mm: float) -> str:
    """'shell' within a fifth of the thickness from a face, 'core' in the middle fifth, 'between'.

    Depth is measured from either face. Raises ValueError for a depth outside the slab.
    """
    if not (thickness_mm > 0 and 0.0 <= depth_mm <= thickness_mm):
        raise ValueError("A reading's depth must lie within the thickness of the slab.")
    share = min(depth_mm, thickness_mm - depth_mm) / thickness_mm
    if share <= 0.2 + 1e-9:
        return SHELL
    return CORE if share >= 0.4 - 1e-9 else BETWEEN


def check_figures(readings: Sequence[ReadingAt]) -> CheckFigures:
    """The figures of one moisture check. Raises ValueError when there is no reading."""
    if not readings:
        raise ValueError("A moisture check needs at least one reading.")
    values = [reading.mc_pct for reading in readings]
    shell, core = _zone_mean(readings, SHELL), _zone_mean(readings, CORE)
    return CheckFigures(
        mean_pct=fmean(values),
        max_pct=max(values),
        min_pct=min(values),
        shell_pct=shell,
        core_pct=core,
        gradient_pct=None if shell is None or core is None else core - shell,
        spread_pct=_spread_along(readings),
        places=max(1, len(_by_place(readings))),
        readings=len(readings),
        trusted=sum(reading.is_trusted for reading in readings),
    )


def _zone_mean(readings: Sequence[ReadingAt], zone: str) -> float | None:
    values = [reading.mc_pct for reading in readings if reading.zone == zone]
    return fmean(values) if values else None


def _by_place(readings: Sequence[ReadingAt]) -> dict[float, dict[str, list[float]]]:
    """Place (to a hundredth of the length) → zone → the moisture contents taken there."""
    found: dict[float, dict[str, list[float]]] = {}
    for reading in readings:
        if reading.along is not None:
            place = found.setdefault(round(reading.along, 2), {})
            place.setdefault(reading.zone, []).append(reading.mc_pct)
    return found


def _spread_along(readings: Sequence[ReadingAt]) -> float | None:
    """Greatest less least of the places' means; None with fewer than two comparable places.

    A place's mean is taken over the zones that were read at every place. Where there is no such
    zone, each zone is compared with itself and the greatest spread is given: a core at one place
    beside a shell at another is a gradient, not a spread along the length.
    """
    places = list(_by_place(readings).values())
    if len(places) < 2:
        return None
    common = set.intersection(*(set(place) for place in places))
    if common:
        return _range([fmean(fmean(place[zone]) for zone in common) for place in places])
    zones = {zone for place in places for zone in place}
    means = ([fmean(place[zone]) for place in places if zone in place] for zone in zones)
    return max((_range(values) for values in means if len(values) > 1), default=None)


def _range(values: Sequence[float]) -> float:
    return max(values) - min(values)


def oven_dry_mc_pct(wet_g: float, dry_g: float) -> float:
    """Moisture content (%) of a section by its mass before and after oven-drying.

    MC = 100 (wet − dry) / dry (ASTM D4442). Any one unit of mass. Raises ValueError when the dry
    mass is not positive or is above the wet one.
    """
    if not dry_g > 0:
        raise ValueError("The oven-dry mass must be more than nothing.")
    if not wet_g >= dry_g:
        raise ValueError("The mass before drying cannot be below the oven-dry mass.")
    return 100.0 * (wet_g - dry_g) / dry_g


def sample_board_oven_dry_mass(initial_mass: float, initial_mc_pct: float) -> float:
    """Calculated oven-dry mass of a sample board, in the unit given.

    100 × initial mass / (100 + initial MC) (AH-188, chapter 6).
    """
    if not (initial_mass > 0 and initial_mc_pct >= 0):
        raise ValueError("A sample board needs a mass, and a moisture content of 0 % or more.")
    return 100.0 * initial_mass / (100.0 + initial_mc_pct)


def _temperature_step(
    raw_pct: float, wood_temp_c: float | None, by_meter: bool, calibrated_at_c: float
) -> _Step:
    if by_meter:
        return _nothing("The meter allows for the wood's temperature.")
    if wood_temp_c is None:
        return _Step(
            0.0,
            False,
            "Not corrected: the wood's temperature was not taken, and cold wood reads low.",
        )
    if not LEAST_WOOD_TEMP_C <= wood_temp_c <= GREATEST_WOOD_TEMP_C:
        return _Step(
            0.0, False, f"Not corrected: nothing is published for wood at {wood_temp_c:g} °C."
        )
    size = at_calibration_temperature(raw_pct, wood_temp_c, calibrated_at_c) - raw_pct
    return _Step(size, True, f"{_signed(size)} for wood at {wood_temp_c:.0f} °C.")


def _own_step(warmed_pct: float, own: Sequence[tuple[float, float]]) -> _Step:
    size = max(_interpolated(warmed_pct, _own_table(own)), -warmed_pct)
    return _Step(size, True, f"{_signed(size)} for the species, by the shop's own table.")


def _species_step(at_70f_pct: float, botanical: str | None) -> _Step:
    if not botanical:
        return _Step(0.0, False, "Not corrected for species: the species is not known.")
    table = _species_tables().get(_table_name(botanical))
    if table is None:
        return _Step(0.0, False, f"Not corrected for species: we have no table for {botanical}.")
    size = max(_interpolated(at_70f_pct, table), -at_70f_pct)
    return _Step(size, True, f"{_signed(size)} for the species.")


def _pinless_step(
    raw_pct: float, by_meter: bool, own: Sequence[tuple[float, float]] | None
) -> _Step:
    if by_meter:
        return _nothing("The meter was set to the species.")
    if own:
        return _own_step(raw_pct, own)
    return _Step(0.0, False, "Not corrected: the meter was not set to the species or its density.")


def _nothing(sentence: str = "") -> _Step:
    return _Step(0.0, True, sentence)


def _together(raw_pct: float, flag: str, warm: _Step, named: _Step) -> CorrectedReading:
    said = [warm.sentence, named.sentence]
    if flag:
        said.append(f"{flag.capitalize()} the meter's range of about 6 to 30 %.")
    return CorrectedReading(
        raw_pct=raw_pct,
        corrected_pct=raw_pct + warm.size_pct + named.size_pct,
        temperature_step_pct=warm.size_pct,
        species_step_pct=named.size_pct,
        is_corrected=warm.is_settled and named.is_settled,
        range_flag=flag,
        explanation=" ".join(sentence for sentence in said if sentence),
    )


def _signed(step_pct: float) -> str:
    size = abs(round(step_pct, 1))
    if size == 0:
        return "Nothing to add"
    return f"{size:.1f} {'added' if step_pct > 0 else 'taken off'}"


def _table_name(botanical: str | None) -> str:
    name = " ".join((botanical or "").split())
    return _GROUP_OF.get(name, name)


def _interpolated(reading_pct: float, table: StepTable) -> float:
    readings, steps = table
    return float(np.interp(reading_pct, readings, steps))


def _own_table(pairs: Sequence[tuple[float, float]]) -> StepTable:
    ordered = sorted(pairs)
    return tuple(r for r, _ in ordered), tuple(mc - r for r, mc in ordered)


@cache
def _species_tables() -> dict[str, StepTable]:
    pairs: dict[str, list[tuple[float, float]]] = {}
    with SPECIES_TABLE.open(encoding="utf-8", newline="") as lines:
        for cells in csv.DictReader(lines):
            pair = float(cells["reading_pct"]), float(cells["corrected_mc_pct"])
            pairs.setdefault(cells["botanical_name"], []).append(pair)
    return {name: _own_table(rows) for name, rows in pairs.items()}
