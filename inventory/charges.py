"""Charges of a kiln or a conditioning room: opening, adding to and ending them, what they did.

A charge moves its slabs through moves.py, which alone writes places and drying stages; a slab moved
out by hand leaves its charge there. Moisture in and out is not stored: it follows from the checks.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Count, Max, Q, QuerySet
from django.utils import timezone

from inventory import moves, readiness
from inventory.models import (
    Bay,
    Charge,
    ChargeSlab,
    DryingStage,
    MoistureCheck,
    Person,
    Place,
    PlaceKind,
    Slab,
    Standing,
)
from inventory.models.place import SHOP_AIR
from inventory.readiness import RULES
from inventory.readiness_rules import resting_since
from inventory.words import day_words, join_words

DRYERS = (PlaceKind.KILN, PlaceKind.CONDITIONING)
# Slabs go into a kiln at or below about this (common practice); wetter ones are asked about.
KILN_ENTRY_PCT = 20.0
# A check counts for a charge when made so many days before entering or after leaving.
CHECK_DAYS = RULES.check_days
NAMED_AT_MOST = 6


@dataclass(frozen=True)
class CheckSeen:
    """The mean of one check, % MC, and its day."""

    on: date
    pct: float


@dataclass(frozen=True)
class Stay:
    """A slab's stay: its last check before it went in, and the first after it came out.

    `after` is the last one made inside while the slab is there, or where none was made after.
    """

    row: ChargeSlab
    before: CheckSeen | None
    after: CheckSeen | None
    is_after_inside: bool

    @property
    def slab(self) -> Slab:
        return self.row.slab

    @property
    def lost_pct(self) -> float | None:
        """Points of moisture lost; None where either check is missing."""
        if self.before is None or self.after is None:
            return None
        return self.before.pct - self.after.pct

    @property
    def is_inside(self) -> bool:
        return self.row.left_on is None


@dataclass(frozen=True)
class Ended:
    """What ending a charge did: slabs moved, and until when they rest (None where unknown)."""

    charge: Charge
    moved: int
    rest_until: date | None


@transaction.atomic
def open_charge(
    place: Place,
    slabs: Iterable[Slab],
    *,
    started_on: date,
    by: Person | None,
    now: datetime,
    name: str = "",
    bay: Bay | None = None,
    note: str = "",
) -> Charge:
    """Begin a charge and bring its slabs in; without a name it is called after its place.

    Raises:
        ValidationError: by field (place, name, slabs, bay, started_on); nothing is written then.
    """
    if place.kind not in DRYERS:
        raise ValidationError({"place": f"{place} is neither a kiln nor a conditioning room."})
    Place.objects.select_for_update().get(pk=place.pk)
    running = Charge.objects.running().filter(place=place).first()
    if running is not None and place.kind == PlaceKind.KILN:
        raise ValidationError(
            {"place": f"“{running}” is in {place} still: add to it, or end it first."}
        )
    if name and Charge.objects.filter(name=name).exists():
        raise ValidationError({"name": "There is a charge of that name already."})
    charge = Charge.objects.create(
        name=name or _next_name(place),
        place=place,
        started_on=started_on,
        note=note,
        opened_by=by,
    )
    _bring_in(charge, slabs, bay, started_on, by, now, "started_on")
    return charge


@transaction.atomic
def add_slabs(
    charge: Charge,
    slabs: Iterable[Slab],
    *,
    on: date,
    by: Person | None,
    now: datetime,
    bay: Bay | None = None,
) -> list[ChargeSlab]:
    """Bring more slabs into a charge that runs.

    Raises:
        ValidationError: by field (slabs, bay, on), or of the whole; nothing is written then.
    """
    charge = _locked(charge)
    if on < charge.started_on:
        began = day_words(charge.started_on)
        raise ValidationError({"on": f"The charge began on {began}: choose that day or later."})
    return _bring_in(charge, slabs, bay, on, by, now, "on")


@transaction.atomic
def end_charge(
    charge: Charge,
    *,
    place: Place,
    on: date,
    by: Person | None,
    now: datetime,
    bay: Bay | None = None,
) -> Ended:
    """End a charge on that day; what is still in it goes to rest in `place`, whose air is shop air.

    Raises:
        ValidationError: by field (place, bay, on), or of the whole; nothing is written then.
    """
    charge = _locked(charge)
    if place.kind not in SHOP_AIR:
        raise ValidationError({"place": f"{place} has no shop air to rest in."})
    stays = list(charge.stays.filter(left_on__isnull=True).select_related("slab"))
    _demand_end(charge, on, now)
    inside = [stay.slab for stay in stays if stay.slab.standing != Standing.GONE]
    goes = place.pk != charge.place_id
    moved = (
        moves.move_many(
            inside, place=place, bay=bay, by=by, on=on, now=now, note=_note(charge, "End of")
        )
        if goes
        else []
    )
    charge.stays.filter(left_on__isnull=True).update(left_on=on)
    charge.ended_on, charge.ended_by = on, by
    charge.save(update_fields=["ended_on", "ended_by"])
    return Ended(charge, len(moved), rest_until(inside))


def rest_until(slabs: Sequence[Slab]) -> date | None:
    """The day on which the last of them has had its rest in shop air; None where one rests not."""
    since = [resting_since(facts.stages) for facts in readiness.facts_of(slabs).values()]
    if not since or None in since:
        return None
    return max(day for day in since if day is not None) + timedelta(days=RULES.rest_days)


def wet_words(slabs: Sequence[Slab]) -> str:
    """A question where some are wetter than wood usually goes into a kiln, or never checked."""
    wet = [slab for slab in slabs if slab.mc_pct is not None and slab.mc_pct > KILN_ENTRY_PCT]
    unknown = [slab for slab in slabs if slab.mc_pct is None]
    said = []
    if wet:
        them = [f"{slab} ({slab.mc_pct:.0f}\N{NO-BREAK SPACE}%)" for slab in wet]
        said.append(
            f"{_some(them)} {_is(wet)} wetter than the 20\N{NO-BREAK SPACE}% or so at which wood "
            "goes into a kiln: the heat may crack it."
        )
    if unknown:
        them = [str(slab) for slab in unknown]
        have = "has" if len(unknown) == 1 else "have"
        said.append(f"{_some(them)} {have} never been checked.")
    return " ".join([*said, "Put them in all the same?"]) if said else ""


def all_charges(place: Place | None = None) -> QuerySet[Charge]:
    """Charges (of one place, where named) with their `pieces`, those running first."""
    counted = Charge.objects.select_related("place").annotate(pieces=Count("stays"))
    return (counted.filter(place=place) if place else counted).latest_first()


def stays_of(charge: Charge) -> list[Stay]:
    """Every slab of the charge with its moisture in and out, in two queries."""
    related = charge.stays.select_related("slab__species", "slab__place", "slab__bay")
    rows = list(related.order_by("entered_on", "pk"))
    checks = _checks_of([row.slab_id for row in rows])
    return [_stay(row, checks.get(row.slab_id, [])) for row in rows]


def of_slab(slab: Slab) -> list[ChargeSlab]:
    """The charges a slab has been in, latest first."""
    related = ChargeSlab.objects.filter(slab=slab).select_related("charge__place")
    return list(related.order_by("-entered_on", "-pk"))


def moisture_words(stays: Sequence[Stay]) -> str:
    """`On the mean it went in at 18.4 % and came out at 7.9 %`; "" where that is not known."""
    both = [stay for stay in stays if stay.before is not None and stay.after is not None]
    if not both:
        return ""
    before = sum(stay.before.pct for stay in both if stay.before) / len(both)
    after = sum(stay.after.pct for stay in both if stay.after) / len(both)
    came = "stands at" if any(stay.is_inside for stay in both) else "came out at"
    few = (
        "" if len(both) == len(stays) else f", reckoned of the {len(both)} checked before and after"
    )
    return (
        f"The wood went in at {before:.1f}\N{NO-BREAK SPACE}% and {came} "
        f"{after:.1f}\N{NO-BREAK SPACE}%, on the mean{few}."
    )


def _bring_in(
    charge: Charge,
    slabs: Iterable[Slab],
    bay: Bay | None,
    on: date,
    by: Person | None,
    now: datetime,
    field: str,
) -> list[ChargeSlab]:
    rows = list({slab.pk: slab for slab in slabs}.values())
    if not rows:
        raise ValidationError({"slabs": "Choose at least one slab."})
    _demand_outside(rows)
    _demand_day(rows, charge.place, on, now, field)
    kind = moves.usual_stage(charge.place)
    for there, some in _by_bay(rows, charge.place, bay):
        try:
            moves.move_many(
                some,
                place=charge.place,
                bay=there,
                by=by,
                on=on,
                now=now,
                note=_note(charge, "For"),
                stage=kind,
            )
        except ValidationError as problem:
            raise ValidationError(_renamed(problem, field)) from problem
    return ChargeSlab.objects.bulk_create(
        ChargeSlab(charge=charge, slab=slab, entered_on=on) for slab in rows
    )


def _by_bay(
    slabs: Sequence[Slab], place: Place, bay: Bay | None
) -> list[tuple[Bay | None, list[Slab]]]:
    """Slabs with the bay each goes to: one that lies in the place already stays in its own."""
    groups: dict[int | None, tuple[Bay | None, list[Slab]]] = {}
    for slab in slabs:
        there = slab.bay if bay is None and slab.place_id == place.pk else bay
        groups.setdefault(there.pk if there else None, (there, []))[1].append(slab)
    return list(groups.values())


def _renamed(problem: ValidationError, field: str) -> dict[str, list[str]]:
    """What moves.py calls `on` is beside another field here."""
    return {(field if name == "on" else name): said for name, said in problem.message_dict.items()}


def _demand_outside(slabs: Sequence[Slab]) -> None:
    """Refuse slabs that are in a charge already; the rows are locked so that none slips in."""
    keys = [slab.pk for slab in slabs]
    list(Slab.objects.select_for_update().filter(pk__in=keys).order_by("pk").values_list("pk"))
    inside = ChargeSlab.objects.filter(slab__in=keys, left_on__isnull=True)
    taken = [
        f"{stay.slab} is in “{stay.charge}” already."
        for stay in inside.select_related("slab", "charge")
    ]
    if taken:
        raise ValidationError({"slabs": taken})


def _demand_day(slabs: Sequence[Slab], place: Place, on: date, now: datetime, field: str) -> None:
    """Refuse a day to come, and one before a slab that lies there already came there."""
    if on > timezone.localtime(now).date():
        raise ValidationError({field: "That day has not come yet."})
    there = [slab.pk for slab in slabs if slab.place_id == place.pk]
    came = DryingStage.objects.filter(slab__in=there, ended_on__isnull=True, started_on__gt=on)
    late = [
        f"{stage.slab} came there on {day_words(stage.started_on)}: choose that day or later."
        for stage in came.select_related("slab")
    ]
    if late:
        raise ValidationError({field: late})


def _demand_end(charge: Charge, on: date, now: datetime) -> None:
    latest = charge.stays.aggregate(last=Max("entered_on"), left=Max("left_on"))
    days = [day for day in (charge.started_on, latest["last"], latest["left"]) if day]
    if on > timezone.localtime(now).date():
        raise ValidationError({"on": "That day has not come yet."})
    if on < max(days):
        raise ValidationError(
            {"on": f"Slabs went in or out on {day_words(max(days))}: choose that day or later."}
        )


def _locked(charge: Charge) -> Charge:
    """The charge as it stands now.

    Raises:
        ValidationError: it has ended.
    """
    row = Charge.objects.select_for_update(of=("self",)).select_related("place").get(pk=charge.pk)
    if row.ended_on is not None:
        raise ValidationError(f"“{row}” ended on {day_words(row.ended_on)}.")
    return row


def _next_name(place: Place) -> str:
    """`Kiln 14`: the place and a number no charge bears."""
    number = Charge.objects.filter(place=place).count() + 1
    while Charge.objects.filter(name=f"{place.name} {number}"[:60]).exists():
        number += 1
    return f"{place.name[:50]} {number}"


def _note(charge: Charge, word: str) -> str:
    return f"{word} charge {charge.name}"


def _checks_of(keys: Sequence[int]) -> dict[int, list[CheckSeen]]:
    """Means of each slab's checks, oldest first, those corrected left out."""
    rows = MoistureCheck.objects.current().filter(Q(slab__in=keys), mean_pct__isnull=False)
    found: dict[int, list[CheckSeen]] = {}
    for key, on, pct in rows.order_by("on", "at", "pk").values_list("slab_id", "on", "mean_pct"):
        found.setdefault(key, []).append(CheckSeen(on, float(pct or 0.0)))
    return found


def _stay(row: ChargeSlab, checks: Sequence[CheckSeen]) -> Stay:
    window = timedelta(days=CHECK_DAYS)
    entered, left = row.entered_on, row.left_on
    before = [seen for seen in checks if entered - window <= seen.on <= entered]
    after = [seen for seen in checks if left is not None and left <= seen.on <= left + window]
    inside = [seen for seen in checks if entered < seen.on and (left is None or seen.on < left)]
    first_after = after[0] if after else None
    last_inside = inside[-1] if inside else None
    return Stay(
        row,
        before[-1] if before else None,
        first_after or last_inside,
        first_after is None and last_inside is not None,
    )


def _some(names: Sequence[str]) -> str:
    if len(names) <= NAMED_AT_MOST:
        return join_words(names)
    return f"{', '.join(names[:NAMED_AT_MOST])} and {len(names) - NAMED_AT_MOST} more"


def _is(things: Sequence[object]) -> str:
    return "is" if len(things) == 1 else "are"
