"""Where slabs lie and how they are being dried: the only writer of place, bay and drying stages.

Every stage names the place it ran in, so the stages of a slab, end to end, also say whose air it
has lain in. A move to another place therefore always opens a stage there; which kind follows from
the place unless the person says otherwise.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import transaction
from django.db.models import DateField, F, Value
from django.db.models.functions import Greatest
from django.utils import timezone

from inventory import derive, forecasting, ledger, watch
from inventory.models import (
    Bay,
    ChargeSlab,
    DryingStage,
    LedgerEntry,
    LedgerKind,
    Person,
    Place,
    PlaceKind,
    Slab,
    StageKind,
    Standing,
)
from inventory.wood import measure, shrinkage
from inventory.words import day_words

_USUAL_STAGE = {
    PlaceKind.YARD: StageKind.AIR,
    PlaceKind.SHED: StageKind.AIR,
    PlaceKind.KILN: StageKind.KILN,
    PlaceKind.CONDITIONING: StageKind.CONDITIONING,
    PlaceKind.SHOP: StageKind.SHOP,
    PlaceKind.SHOWROOM: StageKind.SHOP,
}
NOT_PUT_ANYWHERE = "Not put anywhere"
NO_STAGE = "No stage"


@dataclass(frozen=True)
class Going:
    """Where slabs go, how they are dried there, and from which day."""

    place: Place
    bay: Bay | None
    kind: StageKind
    on: date


def usual_stage(place: Place) -> StageKind:
    """The stage a place of that kind is for."""
    return _USUAL_STAGE[PlaceKind(place.kind)]


def where_words(place: Place | None, bay: Bay | None) -> str:
    """`Long shed, Bay 4`."""
    if place is None:
        return NOT_PUT_ANYWHERE
    return f"{place.name}, {bay.name}" if bay else place.name


def lifting_caution(slab: Slab, system: str) -> str | None:
    """One sentence where a slab is heavy, at its last moisture or as wet wood; None otherwise."""
    sg_green = slab.species.sg_green
    if sg_green is None:
        return None
    mc_pct = shrinkage.FIBRE_SATURATION_PCT if slab.mc_pct is None else slab.mc_pct
    return measure.lifting_caution(shrinkage.mass_kg(slab.volume_mm3, sg_green, mc_pct), system)


def move(
    slab: Slab,
    *,
    place: Place,
    bay: Bay | None,
    by: Person | None,
    on: date,
    now: datetime,
    note: str = "",
    stage: StageKind | None = None,
) -> Slab:
    """Put a slab in a place and bay on a day; opens the stage usual there, or the one named.

    `slab` is brought up to date with what was written, and returned.

    Raises:
        ValidationError: by field (place, bay, on), with sentences; nothing is written then.
    """
    moved = move_many([slab], place=place, bay=bay, by=by, on=on, now=now, note=note, stage=stage)
    if not moved:
        raise ValidationError({"place": f"It lies there already: {where_words(place, bay)}."})
    slab.refresh_from_db()
    return slab


@transaction.atomic
def move_many(
    slabs: Iterable[Slab],
    *,
    place: Place,
    bay: Bay | None,
    by: Person | None,
    on: date,
    now: datetime,
    note: str = "",
    stage: StageKind | None = None,
    settles: bool = True,
) -> list[Slab]:
    """Move a whole stack; all go or none. Returns those that did not lie there already, as stored.

    The number of queries does not grow with the slabs. Whoever loads a whole history at once says
    `settles=False`, and derives, forecasts and looks for warnings when all of it is written.

    Raises:
        ValidationError: by field (place, bay, on), naming each slab that cannot go.
    """
    if bay is not None and bay.place_id != place.pk:
        raise ValidationError({"bay": f"“{bay.name}” is not a bay of {place.name}."})
    going = Going(place, bay, stage or usual_stage(place), on)
    rows = _locked(slab.pk for slab in slabs)
    opened = _open_stages(rows)
    leaving = [slab for slab in rows if not _is_there(slab, opened.get(slab.pk), going, stage)]
    _demand_possible(leaving, on, _day(now), "on")
    entries = [_moved_entry(slab, going, by, now, note) for slab in leaving if _goes(slab, going)]
    restaged = [slab for slab in leaving if _restages(slab, opened.get(slab.pk), going, stage)]
    entries += _open_stage_of(restaged, opened, going, by, now)
    _leave_charges(leaving, place, on)
    places = {place, *(slab.place for slab in leaving if slab.place)}
    for slab in leaving:
        slab.place, slab.bay = place, bay
    Slab.objects.bulk_update(leaving, ["place", "bay"], batch_size=derive.AT_ONCE)
    ledger.write_many(entries)
    if settles:
        _settle(leaving, places, now)
    return leaving


def _settle(slabs: list[Slab], places: Iterable[Place], now: datetime) -> None:
    """What follows from a move: the forecast, then what is due, then warnings."""
    forecasting.write(slabs, _day(now))
    derive.write_many(slabs, _day(now), "moisture")
    watch.look_at_slabs(slabs, _day(now))
    watch.look_at_places(sorted(places, key=lambda one: one.pk), now)


@transaction.atomic
def change_stage(
    slab: Slab,
    *,
    kind: StageKind,
    place: Place | None,
    started_on: date,
    by: Person | None,
    now: datetime,
) -> DryingStage:
    """End the open stage on that day and open another there; the slab itself is not moved.

    The same kind in the same place again changes nothing and gives the open stage back. A stage
    opened that very day is put right instead of being ended at once.

    Raises:
        ValidationError: by field (started_on), with sentences; nothing is written then.
    """
    (row,) = _locked([slab.pk])
    opened = _open_stages([row])
    current = opened.get(row.pk)
    if current and (current.kind, current.place_id) == (kind, place.pk if place else None):
        return current
    _demand_possible([row], started_on, _day(now), "started_on")
    _write_stages([row], opened, kind, place, started_on)
    ledger.write_many([_stage_entry(row, current, kind, place, started_on, by, now)])
    forecasting.write([row], _day(now))
    derive.write(row, _day(now), "moisture")
    watch.look_at_slab(row, _day(now))
    slab.refresh_from_db()
    return DryingStage.objects.get(slab=row, ended_on__isnull=True)


@transaction.atomic
def begin(
    slab: Slab, *, by: Person | None, now: datetime, started_on: date | None = None
) -> DryingStage | None:
    """Open the first stage of a slab just received, by the place it was put in; None without one.

    Raises:
        ValidationError: by field (started_on), as `change_stage`.
    """
    if slab.place is None:
        return None
    kind = usual_stage(slab.place)
    started = started_on or _day(now)
    return change_stage(slab, kind=kind, place=slab.place, started_on=started, by=by, now=now)


@transaction.atomic
def begin_many(slabs: Sequence[Slab], *, by: Person | None, now: datetime) -> None:
    """The same for many received together; queries grow with their places, not with the slabs."""
    today = _day(now)
    rows = [row for row in _locked(slab.pk for slab in slabs) if row.place is not None]
    if not rows:
        return
    _demand_possible(rows, today, today, "started_on")
    for place in {row.place for row in rows if row.place}:
        some = [row for row in rows if row.place == place]
        _write_stages(some, {}, usual_stage(place), place, today)
    ledger.write_many(
        _stage_entry(row, None, usual_stage(row.place), row.place, today, by, now)
        for row in rows
        if row.place
    )
    forecasting.write(rows, today)
    derive.write_many(rows, today, "moisture")
    watch.look_at_slabs(rows, today)


def _locked(keys: Iterable[int]) -> list[Slab]:
    """The slabs as they stand now, kept from others until the transaction ends."""
    rows = Slab.objects.select_for_update(of=("self",)).filter(pk__in=list(keys))
    return list(rows.select_related("species", "place", "bay").order_by("pk"))


def _open_stages(slabs: Sequence[Slab]) -> dict[int, DryingStage]:
    """The open stage of each slab that has one, by the slab's key."""
    opened = DryingStage.objects.filter(slab__in=[s.pk for s in slabs], ended_on__isnull=True)
    return {stage.slab_id: stage for stage in opened.select_related("place")}


def _goes(slab: Slab, going: Going) -> bool:
    bay_pk = going.bay.pk if going.bay else None
    return (slab.place_id, slab.bay_id) != (going.place.pk, bay_pk)


def _restages(
    slab: Slab, current: DryingStage | None, going: Going, said: StageKind | None
) -> bool:
    """Another place always opens a stage there; another bay only where a kind was named."""
    if current is None or current.place_id != going.place.pk:
        return True
    if slab.place_id == going.place.pk and said is None:
        return False
    return current.kind != going.kind


def _is_there(
    slab: Slab, current: DryingStage | None, going: Going, said: StageKind | None
) -> bool:
    return not _goes(slab, going) and not _restages(slab, current, going, said)


def _demand_possible(slabs: Sequence[Slab], on: date, today: date, field: str) -> None:
    """Refuse slabs that are gone, and days that cannot be: to come, before sawing, out of order."""
    if on > today:
        raise ValidationError({field: "That day has not come yet."})
    latest = _latest_turns(slabs)
    problems: dict[str, list[str]] = {}
    for slab in slabs:
        if slab.standing == Standing.GONE:
            gone = f"{slab} is gone: {slab.get_gone_how_display().lower()}."
            problems.setdefault(NON_FIELD_ERRORS, []).append(gone)
        elif slab.sawn_on and on < slab.sawn_on:
            sawn = f"{slab} was sawn on {day_words(slab.sawn_on, today)}: choose that day or later."
            problems.setdefault(field, []).append(sawn)
        elif slab.pk in latest and on < latest[slab.pk]:
            since = day_words(latest[slab.pk], today)
            order = f"{slab} has been where it is since {since}: choose that day or a later one."
            problems.setdefault(field, []).append(order)
    if problems:
        raise ValidationError(problems)


def _latest_turns(slabs: Sequence[Slab]) -> dict[int, date]:
    """The last day on which a stage of each slab began or ended; slabs without one are absent."""
    stages = DryingStage.objects.filter(slab__in=[slab.pk for slab in slabs])
    latest: dict[int, date] = {}
    for key, started_on, ended_on in stages.values_list("slab_id", "started_on", "ended_on"):
        latest[key] = max(ended_on or started_on, latest.get(key, date.min))
    return latest


def _open_stage_of(
    slabs: Sequence[Slab],
    opened: Mapping[int, DryingStage],
    going: Going,
    by: Person | None,
    now: datetime,
) -> list[LedgerEntry]:
    """Write the stages; an entry only where the kind changes, since the move tells the place."""
    changed = [s for s in slabs if s.pk not in opened or opened[s.pk].kind != going.kind]
    entries = [
        _stage_entry(slab, opened.get(slab.pk), going.kind, going.place, going.on, by, now)
        for slab in changed
    ]
    _write_stages(slabs, opened, going.kind, going.place, going.on)
    return entries


def _write_stages(
    slabs: Sequence[Slab],
    opened: Mapping[int, DryingStage],
    kind: StageKind,
    place: Place | None,
    on: date,
) -> None:
    """End what is open and open the new; a stage that began that very day becomes the new one."""
    begun_today = [opened[s.pk] for s in slabs if s.pk in opened and opened[s.pk].started_on == on]
    put_right = {stage.slab_id for stage in begun_today}
    ending = [opened[s.pk] for s in slabs if s.pk in opened and s.pk not in put_right]
    for stage in begun_today:
        stage.kind, stage.place = kind, place
    for stage in ending:
        stage.ended_on = on
    DryingStage.objects.bulk_update([*begun_today, *ending], ["kind", "place", "ended_on"])
    DryingStage.objects.bulk_create(
        DryingStage(slab=slab, kind=kind, place=place, started_on=on)
        for slab in slabs
        if slab.pk not in put_right
    )


def _leave_charges(slabs: Sequence[Slab], place: Place, on: date) -> None:
    """A slab moved to another place than its charge's has left the charge (see charges.py)."""
    inside = ChargeSlab.objects.filter(slab__in=[slab.pk for slab in slabs], left_on__isnull=True)
    left_on = Greatest(F("entered_on"), Value(on, DateField()), output_field=DateField())
    inside.exclude(charge__place=place).update(left_on=left_on)


def _moved_entry(
    slab: Slab, going: Going, by: Person | None, now: datetime, note: str
) -> LedgerEntry:
    after = where_words(going.place, going.bay) + _past_words(going.on, now)
    before = where_words(slab.place, slab.bay)
    return ledger.entry(
        slab, LedgerKind.MOVED, by=by, at=now, before=before, after=after, note=note
    )


def _stage_entry(
    slab: Slab,
    current: DryingStage | None,
    kind: StageKind,
    place: Place | None,
    on: date,
    by: Person | None,
    now: datetime,
) -> LedgerEntry:
    before = _stage_words(current.kind, current.place) if current else NO_STAGE
    after = _stage_words(kind, place) + _past_words(on, now)
    return ledger.entry(slab, LedgerKind.STAGE, by=by, at=now, before=before, after=after)


def _stage_words(kind: str, place: Place | None) -> str:
    words = str(StageKind(kind).label)
    return f"{words}, {place.name}" if place else words


def _past_words(on: date, now: datetime) -> str:
    """The day, where it is not the day of writing."""
    return "" if on == _day(now) else f", from {day_words(on)}"


def _day(now: datetime) -> date:
    return timezone.localtime(now).date()
