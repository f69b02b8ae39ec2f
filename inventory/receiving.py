"""A slab comes onto the record, is measured again or put right, and is priced."""

import secrets
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any, TypedDict, Unpack

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from inventory import (
    agreement,
    codes,
    derive,
    forecasting,
    ledger,
    moves,
    parcels,
    slab_words,
)
from inventory.models import (
    Bay,
    LedgerEntry,
    LedgerKind,
    Log,
    Parcel,
    Person,
    Place,
    Slab,
    Species,
)

CODE_TRIES = 20
# What a forecast of dryness follows from, of all that measuring may change.
FORECAST_FACTS = {"thickness_mm", "species", "sawn_on"}
_chance = secrets.SystemRandom()


class Measured(TypedDict, total=False):
    """What is measured or seen on a slab: mm; widths as [place along 0…1, mm] inside bark.

    `are_widths_unplaced` where only least, middle and greatest were taken, not where: not said
    with widths, they were taken at their places.
    """

    species: Species
    length_mm: float
    thickness_mm: float
    widths: list[list[float]]
    are_widths_unplaced: bool
    sawn: str
    sawn_on: date | None
    figures: list[str]
    faults: list[str]
    log: Log | None
    number_in_log: int | None


class Notes(TypedDict, total=False):
    house_note: str
    client_note: str


class Facts(Measured, Notes, total=False):
    """All that is known of a slab when it is received; money in shop currency."""

    parcel: Parcel | None
    place: Place | None
    bay: Bay | None
    own_cost: Decimal | None
    asking_price: Decimal | None


class Changes(Measured, Notes, total=False):
    """What a later measuring may change."""


class RowsRefused(ValueError):
    """Why slabs cannot be received together: the problem of each, by its place among them."""

    def __init__(self, problems: Mapping[int, ValidationError]) -> None:
        super().__init__(f"{len(problems)} rows cannot be taken.")
        self.problems = problems


@transaction.atomic
def receive(by: Person | None, now: datetime, **facts: Unpack[Facts]) -> Slab:
    """Put a slab on the record under a fresh code.

    A bay alone names its place, a log alone its species, parcel and sawing day.

    Raises:
        ValidationError: by field, where the facts do not agree or a size is missing.
    """
    try:
        return receive_many(by, now, [facts])[0]
    except RowsRefused as refused:
        raise refused.problems[0] from None


@transaction.atomic
def receive_many(by: Person | None, now: datetime, rows: Sequence[Facts]) -> list[Slab]:
    """The same for many, all or none: what is derived of them is written at once.

    Raises:
        RowsRefused: with what is wrong of each row that cannot be taken.
    """
    slabs, on = _saved(rows, _day(now)), _day(now)
    derive.write_many(slabs, on, "shape")
    ledger.write_many(
        ledger.entry(slab, LedgerKind.RECEIVED, by=by, at=now, after=slab_words.summary(slab))
        for slab in slabs
    )
    moves.begin_many(slabs, by=by, now=now)
    for parcel in {slab.parcel_id: slab.parcel for slab in slabs}.values():
        if parcel is not None:
            parcels.refresh_parcel(parcel)
    stored = {row.pk: row for row in derive.locked([slab.pk for slab in slabs])}
    derive.write_many(list(stored.values()), on, "moisture", "standing", "cover", "cost")
    for slab in slabs:
        for name in Slab.derived_fields:
            setattr(slab, name, getattr(stored[slab.pk], name))
    return slabs


def _saved(rows: Sequence[Facts], on: date) -> list[Slab]:
    """The rows of those facts, each looked at among those before it."""
    slabs, problems = [], {}
    for number, facts in enumerate(rows):
        slab = Slab(**_completed(facts))
        try:
            _check(slab, on)
            _save_with_fresh_code(slab, on)
        except ValidationError as problem:
            problems[number] = problem
        slabs.append(slab)
    if problems:
        raise RowsRefused(problems)
    return slabs


@transaction.atomic
def measure(
    slab: Slab, by: Person | None, now: datetime, *, reason: str = "", **changes: Unpack[Changes]
) -> list[LedgerEntry]:
    """Write what was measured again, or with a `reason` put right; one ledger entry says it.

    Only what differs is written; nothing changed writes nothing. Notes change without an entry.
    More than one entry comes back only where the words are too many for one.

    Raises:
        ValidationError: by field, as `receive`; beside `reason` when wood that was received as one
            species or from one log becomes another's without a reason.
    """
    _lock(slab)
    if "widths" in changes:
        changes.setdefault("are_widths_unplaced", False)
    before = _set(slab, _with_parcel_of_log(slab, changes))
    if not before:
        return []
    _demand_reason(before, reason)
    on = _day(now)
    _check(slab, on)
    slab.save(update_fields=list(before))
    kind = LedgerKind.CORRECTED if reason else LedgerKind.MEASURED
    entries = _enter(slab, kind, before, by, now, reason)
    derive.write(slab, on, "shape")
    if before.get("parcel"):
        parcels.refresh_parcel(before["parcel"])
    if FORECAST_FACTS & before.keys():
        forecasting.write([slab], on)
    _write_rest(slab, on)
    return entries


@transaction.atomic
def price(
    slab: Slab,
    by: Person | None,
    now: datetime,
    *,
    asking_price: Decimal | None,
    own_cost: Decimal | None,
    note: str = "",
) -> list[LedgerEntry]:
    """Set what is asked for the slab and what it cost beside its share of a parcel.

    Raises:
        ValidationError: an amount below nothing.
    """
    _lock(slab)
    before = _set(slab, {"asking_price": asking_price, "own_cost": own_cost})
    on = _day(now)
    agreement.check(slab, on)
    if not before:
        return []
    slab.save(update_fields=list(before))
    entries = _enter(slab, LedgerKind.PRICED, before, by, now, note)
    _write_rest(slab, on, "cost")
    return entries


def fresh_code() -> str:
    """A code no slab bears. Chance picks it, so it tells nothing of the slab."""
    for _ in range(CODE_TRIES):
        code = codes.random_code(_chance)
        if not Slab.objects.filter(code=code).exists():
            return code
    taken = set(Slab.objects.values_list("code", flat=True))
    return codes.fresh_codes(1, taken, _chance)[0]


def _completed(facts: Facts) -> dict[str, Any]:
    """The facts with what follows from the bay and the log."""
    full: dict[str, Any] = dict(facts)
    bay, log = full.get("bay"), full.get("log")
    if bay is not None and full.get("place") is None:
        full["place"] = bay.place
    if log is not None:
        for name in ("species", "parcel", "sawn_on"):
            if full.get(name) is None:
                full[name] = getattr(log, name)
    return full


def _check(slab: Slab, on: date) -> None:
    """Field by field first, then what must agree between them."""
    slab.clean_fields(exclude=["code", "widths", "figures", "faults"])
    agreement.check(slab, on)


def _save_with_fresh_code(slab: Slab, on: date) -> None:
    """Somebody may take the code, or the number in the log, between looking and writing."""
    for _ in range(CODE_TRIES):
        slab.code = fresh_code()
        try:
            with transaction.atomic():
                slab.save(force_insert=True)
                return
        except IntegrityError:
            agreement.check(slab, on)
            if not Slab.objects.filter(code=slab.code).exists():
                raise
    raise codes.CodeProblem("No free code was found: try again.")


def _write_rest(slab: Slab, on: date, *parts: str) -> None:
    """Everything but the shape; a parcel's shares follow from all its slabs together."""
    if slab.parcel is not None:
        parcels.refresh_parcel(slab.parcel)
        slab.refresh_from_db(fields=["cost"])
    derive.write(slab, on, *(parts or ("moisture", "standing", "cover", "cost")))


def _lock(slab: Slab) -> None:
    """Queue behind anybody changing the same slab, and start from what they left."""
    names = [*Changes.__annotations__, "parcel", "asking_price", "own_cost"]
    rows = Slab.objects.select_for_update(of=("self",)).select_related("species", "log", "parcel")
    current = rows.get(pk=slab.pk)
    for name in names:
        setattr(slab, name, getattr(current, name))


def _with_parcel_of_log(slab: Slab, changes: Changes) -> dict[str, Any]:
    """Wood that turns out to be of another log came with that log's parcel."""
    log = changes.get("log")
    if log is None or log.parcel is None or log.pk == slab.log_id:
        return dict(changes)
    return {**changes, "parcel": log.parcel}


def _set(slab: Slab, wanted: Mapping[str, Any]) -> dict[str, Any]:
    """Give the slab the wanted values; returns, by field, the values that were different."""
    present = {name: getattr(slab, name) for name in wanted}
    before = {name: value for name, value in present.items() if value != wanted[name]}
    for name in before:
        setattr(slab, name, wanted[name])
    return before


def _demand_reason(before: Mapping[str, Any], reason: str) -> None:
    """Adding what was not known is no correction; changing what was said of the wood is."""
    said = [name for name in ("species", "log", "number_in_log") if before.get(name)]
    if said and not reason:
        raise ValidationError(
            {"reason": "Say why: wood does not change its species or its log by itself."}
        )


def _enter(
    slab: Slab,
    kind: LedgerKind,
    before: Mapping[str, Any],
    by: Person | None,
    now: datetime,
    note: str,
) -> list[LedgerEntry]:
    told = [name for name in before if name not in Notes.__annotations__]
    befores = [slab_words.fact(name, before[name]) for name in told]
    afters = [slab_words.fact(name, getattr(slab, name)) for name in told]
    pairs = slab_words.in_entries(befores, afters)
    return [
        ledger.write(slab, kind, by=by, at=now, before=was, after=is_now, note=note)
        for was, is_now in pairs
    ]


def _day(now: datetime) -> date:
    return timezone.localtime(now).date()
