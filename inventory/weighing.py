"""A whole slab on the scale goes on the record as a moisture check of its own.

Its one reading is the mean of the whole slab: trusted, without core, shell or places. Readiness
takes the mean from it, and core and places from the last meter check that still counts.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from inventory import checks
from inventory.checks import CheckProblem, ReadingEntry
from inventory.models import Basis, MoistureCheck, Person, Slab, Weighing
from inventory.wood import shrinkage, weighing
from inventory.wood.weighing import WeighingProblem

# A slab outside this share of the mass its volume and species tell of is asked about: bark, voids
# and a species' own spread are within it.
LEAST_SHARE_DRY = 0.6
MOST_SHARE_GREEN = 1.5
GREEN_AT_MOST_PCT = 120.0


@dataclass(frozen=True)
class WeighingEntry:
    """One weighing as typed, kg and %; which of the facts are given follows from `basis`."""

    mass_kg: float
    basis: str
    oven_dry_kg: float | None = None
    earlier_kg: float | None = None
    earlier_mc_pct: float | None = None
    sections: Sequence[tuple[float, float]] = ()


@dataclass(frozen=True)
class SideBySide:
    """A weighing and a meter check of one slab on one day, both means in % MC."""

    on: date
    weighed: MoistureCheck
    metered: MoistureCheck


def oven_dry_kg(entry: WeighingEntry | Weighing) -> float:
    """Mass without any water that the entry's facts imply.

    Raises:
        WeighingProblem: facts missing, or masses that cannot be.
    """
    if entry.basis == Basis.OVEN_DRY:
        return _given(entry.oven_dry_kg, "oven_dry", "Say what it weighs oven-dry.")
    if entry.basis == Basis.EARLIER:
        earlier = _given(entry.earlier_kg, "earlier_mass", "Say what it weighed then.")
        if entry.earlier_mc_pct is None:
            raise WeighingProblem("Say how wet it was then.", "earlier_mc")
        return weighing.dry_mass_from_earlier(earlier, entry.earlier_mc_pct)
    sections = [(wet, dry) for wet, dry in entry.sections]
    return weighing.dry_mass_from_sections(entry.mass_kg, sections)


def mc_pct(entry: WeighingEntry | Weighing) -> float:
    """Mean moisture content of the whole piece, %. Raises WeighingProblem."""
    return weighing.mc_by_mass_pct(entry.mass_kg, oven_dry_kg(entry))


def record_weighing(
    slab: Slab,
    entry: WeighingEntry,
    *,
    by: Person,
    on: date,
    note: str = "",
    entry_key: str | None = None,
    now: datetime | None = None,
    supersedes: Weighing | None = None,
) -> MoistureCheck:
    """Store the weighing and the moisture check that it is, judge the slab again.

    The same `entry_key` sent twice gives the check already stored.

    Raises:
        WeighingProblem: masses that cannot be.
        CheckProblem: see checks.record_check.
    """
    found_pct = mc_pct(entry)
    if found_pct > checks.MOST_RAW_PCT:
        raise WeighingProblem(f"That makes {found_pct:.0f} %: look at the masses again.", "mass")
    now = now or timezone.now()
    return checks.record_check(
        slab,
        by=by,
        on=on,
        meter=None,
        wood_temp_c=None,
        readings=[ReadingEntry(found_pct)],
        note=note,
        entry_key=entry_key,
        now=now,
        supersedes=_check_of(supersedes),
        weighing=_row(slab, entry, by, on, now, note, entry_key, supersedes),
    )


def last_weighing(slab: Slab, leaving_out: Weighing | None = None) -> Weighing | None:
    current = slab.weighings.current()
    if leaving_out is not None:
        current = current.exclude(pk=leaving_out.pk)
    return current.first()


def side_by_side(slab: Slab, on: date | None) -> SideBySide | None:
    """What was weighed and what was read with a meter on one day; None unless both were done."""
    if on is None:
        return None
    day = list(slab.checks.current().filter(on=on, mean_pct__isnull=False))
    weighed = _first(check for check in day if check.weighing_id is not None)
    metered = _first(check for check in day if check.weighing_id is None)
    if weighed is None or metered is None:
        return None
    return SideBySide(on, weighed, metered)


def doubt_about_mass(slab: Slab, mass_kg: float) -> tuple[float, float] | None:
    """Between which masses (kg) such a slab should weigh, when this is outside them; else None."""
    gravity = slab.species.sg_green
    if gravity is None or not slab.volume_mm3:
        return None
    dry = shrinkage.mass_kg(slab.volume_mm3, gravity, 0.0)
    green = shrinkage.mass_kg(slab.volume_mm3, gravity, GREEN_AT_MOST_PCT)
    inside = LEAST_SHARE_DRY * dry <= mass_kg <= MOST_SHARE_GREEN * green
    return None if inside else (dry, green)


def expected_kg(slab: Slab) -> float | None:
    """What the slab should weigh, by volume and species, at its last moisture content or green."""
    gravity = slab.species.sg_green
    if gravity is None or not slab.volume_mm3:
        return None
    at_pct = shrinkage.FIBRE_SATURATION_PCT if slab.mc_pct is None else slab.mc_pct
    return shrinkage.mass_kg(slab.volume_mm3, gravity, at_pct)


def _given(mass_kg: float | None, field: str, sentence: str) -> float:
    if mass_kg is None:
        raise WeighingProblem(sentence, field)
    return mass_kg


def _check_of(superseded: Weighing | None) -> MoistureCheck | None:
    if superseded is None:
        return None
    if superseded.slab_id is None:
        raise CheckProblem("That is the weighing of a sample board.")
    return superseded.moisture_check


def _row(
    slab: Slab,
    entry: WeighingEntry,
    by: Person,
    on: date,
    now: datetime,
    note: str,
    entry_key: str | None,
    supersedes: Weighing | None,
) -> Weighing:
    is_earlier = entry.basis == Basis.EARLIER
    return Weighing(
        slab=slab,
        on=on,
        at=now,
        by=by,
        mass_kg=entry.mass_kg,
        basis=entry.basis,
        oven_dry_kg=entry.oven_dry_kg if entry.basis == Basis.OVEN_DRY else None,
        earlier_kg=entry.earlier_kg if is_earlier else None,
        earlier_mc_pct=entry.earlier_mc_pct if is_earlier else None,
        sections=[list(pair) for pair in entry.sections] if entry.basis == Basis.SECTIONS else [],
        note=note,
        entry_key=entry_key or None,
        supersedes=supersedes,
    )


def _first(found: Iterable[MoistureCheck]) -> MoistureCheck | None:
    return next(iter(found), None)
