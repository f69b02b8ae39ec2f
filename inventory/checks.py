"""A moisture check goes on the record: each reading corrected, the figures drawn, all of it kept.

A check is never changed: a correction is a new check that supersedes the old one.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from inventory import derive, expecting, forecasting, ledger, watch
from inventory.meter_tables import OwnTable, own_table_for
from inventory.models import (
    LedgerEntry,
    LedgerKind,
    Meter,
    Method,
    MoistureCheck,
    Person,
    Reading,
    Slab,
    Standing,
    Weighing,
    Zone,
)
from inventory.wood import moisture
from inventory.words import day_words

MOST_RAW_PCT = 300.0
# A check whose meter is not on record was read with pins that correct nothing.
NO_METER = Meter(method=Method.PIN)


class CheckProblem(ValueError):
    """A check that cannot be recorded: a sentence, and the `field` it belongs beside."""

    def __init__(self, sentence: str, field: str = "") -> None:
        super().__init__(sentence)
        self.field = field


@dataclass(frozen=True)
class ReadingEntry:
    """One number as typed: % shown by the meter, and where it was taken.

    `along` and `across` 0…1 or None. `depth_mm` from the nearer face; without it `zone` may say
    "shell" or "core".
    """

    raw_pct: float
    along: float | None = None
    across: float | None = None
    depth_mm: float | None = None
    zone: str = Zone.UNKNOWN


@transaction.atomic
def record_check(
    slab: Slab,
    *,
    by: Person,
    on: date,
    meter: Meter | None,
    wood_temp_c: float | None,
    readings: Sequence[ReadingEntry],
    note: str = "",
    entry_key: str | None = None,
    now: datetime | None = None,
    supersedes: MoistureCheck | None = None,
    weighing: Weighing | None = None,
) -> MoistureCheck:
    """Store a check with its readings and figures, write the ledger, judge the slab again.

    A `weighing` of the whole slab, unsaved, is stored with it; its one reading is then the mean
    that the weighing gives. The same `entry_key` sent twice gives the check already stored. `now`
    is the moment of entry.

    Raises:
        CheckProblem: a day that cannot be, no reading, a reading outside the slab, a slab that is
            gone, other numbers under a key already used, or a check corrected by somebody already.
    """
    now = now or timezone.now()
    # The lock makes two people with one slab queue; the row is read fresh, so nothing is undone.
    slab.refresh_from_db(from_queryset=Slab.objects.select_for_update())
    if entry_key and (sent := slab.checks.filter(entry_key=entry_key).first()):
        return _same_again(sent, readings)
    _refuse(slab, on, timezone.localdate(now), supersedes)
    own = own_table_for(meter, slab.species) if meter else None
    check, rows = build_check(slab, on, meter, wood_temp_c, readings, own, weighing)
    if weighing is not None:
        weighing.save()
    check.by, check.at, check.note = by, now, note
    check.entry_key, check.supersedes = entry_key or None, supersedes
    if (foreseen := expecting.foreseen(slab, on, supersedes)) is not None:
        check.expected_pct, check.expected_sd_pct = foreseen
    check.save()
    Reading.objects.bulk_create(rows)
    ledger.write_many([entry_for(slab, check)])
    forecasting.write([slab], timezone.localdate(now))
    changed = derive.write(slab, timezone.localdate(now), "moisture")
    watch.look_at_slab(slab, timezone.localdate(now))
    if "condition" in changed and slab.place is not None:
        watch.look_at_place(slab.place, now)
    return check


def build_check(
    slab: Slab,
    on: date,
    meter: Meter | None,
    wood_temp_c: float | None,
    readings: Sequence[ReadingEntry],
    own: OwnTable | None = None,
    weighing: Weighing | None = None,
) -> tuple[MoistureCheck, list[Reading]]:
    """A check and its readings, corrected and figured, in memory only (for loading in bulk too).

    `own` is the shop's own table for this meter and species, where there is one.

    Raises:
        CheckProblem: no reading, or one outside the slab.
    """
    if not readings:
        raise CheckProblem("Type at least one reading.", "readings")
    check = MoistureCheck(slab=slab, on=on, at=timezone.now(), meter=meter, wood_temp_c=wood_temp_c)
    check.weighing = weighing
    if own is not None and meter is not None and own.is_used_by(meter):
        check.own_table = own.table
    rows = [_reading(check, place, entry, own) for place, entry in enumerate(readings, start=1)]
    for name, value in _figures(rows).items():
        setattr(check, name, value)
    return check, rows


def figures_of(check: MoistureCheck) -> dict[str, Any]:
    """The check's derived figures, from its readings as corrected when they were entered.

    A meter's settings may be changed later; what was corrected then stays as it was.
    """
    return _figures(check.readings.all())


def entry_for(slab: Slab, check: MoistureCheck) -> LedgerEntry:
    """The ledger's entry for a check, not yet written; `slab` still says what came before it."""
    if check.supersedes is None:
        kind = LedgerKind.MEASURED
        before = "" if slab.mc_pct is None else f"{slab.mc_pct:.1f} % on {slab.checked_on}"
    else:
        kind = LedgerKind.CORRECTED
        before = f"{check.supersedes.mean_pct:.1f} % on {check.supersedes.on}"
    return ledger.entry(
        slab,
        kind,
        by=check.by,
        before=f"Moisture {before}" if before else "",
        after=f"Moisture {check.mean_pct:.1f} % {_how(check)} on {check.on}",
        note=check.note,
        at=check.at,
    )


def _how(check: MoistureCheck) -> str:
    if check.weighing is not None:
        return f"by weighing, {check.weighing.mass_kg:.2f} kg,"
    return f"at {check.places} place{'' if check.places == 1 else 's'}"


def refuse_day(slab: Slab, on: date, today: date) -> None:
    """Raise CheckProblem when the slab cannot have been checked on that day."""
    if on > today:
        raise CheckProblem("A check cannot be dated ahead of today.", "on")
    if slab.sawn_on and on < slab.sawn_on:
        sawn = day_words(slab.sawn_on, today)
        raise CheckProblem(f"This slab was sawn on {sawn}: it cannot be checked before.", "on")


def last_mean_pct(slab: Slab, leaving_out: MoistureCheck | None = None) -> float | None:
    """Mean of the slab's latest check, % MC; of the one before when that is being corrected."""
    current = slab.checks.current()
    if leaving_out is not None:
        current = current.exclude(pk=leaving_out.pk)
    return current.values_list("mean_pct", flat=True).first()


def last_meter_of(person: Person) -> Meter | None:
    """The meter this person used last, unless it is retired."""
    last = (
        MoistureCheck.objects.filter(by=person, meter__is_retired=False)
        .select_related("meter")
        .order_by("-at", "-pk")
        .first()
    )
    return last.meter if last else None


def last_wood_temp_c_of(person: Person, on: date) -> float | None:
    """The wood temperature this person typed last that day: one shed, one temperature."""
    today = MoistureCheck.objects.filter(by=person, on=on, weighing=None).order_by("-at", "-pk")
    return today.values_list("wood_temp_c", flat=True).first()


def _same_again(sent: MoistureCheck, readings: Sequence[ReadingEntry]) -> MoistureCheck:
    """The check stored under this key, unless other numbers come under it now."""
    stored = [reading.raw_pct for reading in sent.readings.all()]
    if stored != [entry.raw_pct for entry in readings]:
        raise CheckProblem("This check is on the record already, with other numbers: correct it.")
    return sent


def _refuse(slab: Slab, on: date, today: date, supersedes: MoistureCheck | None) -> None:
    refuse_day(slab, on, today)
    if supersedes is None:
        if slab.standing == Standing.GONE:
            raise CheckProblem(f"This slab is gone ({slab.get_gone_how_display().lower()}).")
        return
    if supersedes.slab_id != slab.pk:
        raise CheckProblem("That check belongs to another slab.")
    if MoistureCheck.objects.filter(supersedes=supersedes).exists():
        raise CheckProblem("Somebody has corrected this check already: look at theirs first.")


def _reading(
    check: MoistureCheck, position: int, entry: ReadingEntry, own: OwnTable | None
) -> Reading:
    corrected = _corrected(check, entry, own)
    return Reading(
        moisture_check=check,
        position=position,
        along=entry.along,
        across=entry.across,
        depth_mm=entry.depth_mm,
        zone=_zone(check.slab, entry),
        raw_pct=corrected.raw_pct,
        corrected_pct=corrected.corrected_pct,
        temperature_step_pct=corrected.temperature_step_pct,
        species_step_pct=corrected.species_step_pct,
        is_corrected=corrected.is_corrected,
        range_flag=corrected.range_flag,
        correction=corrected.explanation[:300],
    )


def _corrected(
    check: MoistureCheck, entry: ReadingEntry, own: OwnTable | None
) -> moisture.CorrectedReading:
    meter = check.meter or NO_METER
    if not 0.0 <= entry.raw_pct <= MOST_RAW_PCT:
        raise CheckProblem(f"A reading lies between 0 and {MOST_RAW_PCT:.0f} %.", "readings")
    return moisture.correct_reading(
        entry.raw_pct,
        method=Method.WEIGHING if check.weighing is not None else meter.method,
        wood_temp_c=check.wood_temp_c,
        species_botanical=check.slab.species.botanical_name or None,
        meter_corrects_temperature=meter.corrects_temperature,
        meter_corrects_species=meter.corrects_species,
        own_species_table=own.pairs if own else None,
        calibrated_at_c=meter.calibrated_at_c,
        our_table_fits=meter.knows_our_table,
    )


def _zone(slab: Slab, entry: ReadingEntry) -> str:
    if entry.depth_mm is None:
        return entry.zone
    try:
        return moisture.zone_of(entry.depth_mm, slab.thickness_mm)
    except ValueError as problem:
        raise CheckProblem(str(problem), "readings") from problem


def _figures(readings: Iterable[Reading]) -> dict[str, Any]:
    found = [
        moisture.ReadingAt(
            reading.corrected_pct,
            reading.along,
            reading.zone,
            reading.is_corrected and not reading.range_flag,
        )
        for reading in readings
    ]
    figures = moisture.check_figures(found)
    return {
        "mean_pct": figures.mean_pct,
        "max_pct": figures.max_pct,
        "min_pct": figures.min_pct,
        "shell_pct": figures.shell_pct,
        "core_pct": figures.core_pct,
        "gradient_pct": figures.gradient_pct,
        "spread_pct": figures.spread_pct,
        "places": figures.places,
        "is_trusted": figures.trusted == figures.readings,
    }
