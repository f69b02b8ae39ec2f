"""What a parcel cost, landed, and how that falls on each of its slabs.

Landed cost is the sum of the bills no correction has superseded (timber, sawing, haulage, drying,
other). It is split over every slab of the parcel, those already gone included: cost is identified
per item (IAS 2 paragraph 23), so selling one slab must not make the others dearer. A slab's cost is
its share, plus its own cost where it has one (work done for that slab alone, or a slab bought
without a parcel).
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db import transaction

from inventory import derive
from inventory.models import CostKind, Parcel, ParcelCost, Person, Slab, SplitBasis

CENT = Decimal("0.01")
NOTHING = Decimal("0.00")
GREATEST_AMOUNT = Decimal("9999999999.99")
PARCELS_AT_ONCE = 500

_WEIGHT_FIELD = {
    SplitBasis.VOLUME: "volume_mm3",
    SplitBasis.AREA: "wood_mm2",
    SplitBasis.ASKING: "asking_price",
}


class ParcelProblem(ValueError):
    """Why a cost cannot be written, in a sentence for the person who tried."""


@dataclass(frozen=True)
class Split:
    """How a parcel's landed cost falls on its slabs; `shares` by slab pk, in shop currency.

    `without_weight` are the slabs that carry nothing because they have no size (or no asking
    price) while others have. `is_equal_for_want` says that none had any, so all share alike.
    """

    total: Decimal
    shares: Mapping[int, Decimal]
    without_weight: frozenset[int] = frozenset()
    is_equal_for_want: bool = False


def split_cents(total: Decimal, weights: Sequence[int]) -> list[Decimal]:
    """Split `total` in proportion to whole `weights`, to the cent, summing exactly.

    The largest-remainder method (Hamilton's): each part gets the whole cents of its quota; the
    cents left over go one each to the largest remainders, the earlier part first where they tie.
    No weights give no parts; weights that are all zero share alike.

    Raises:
        ValueError: a weight below zero, or a total that is not whole cents.
    """
    if any(weight < 0 for weight in weights):
        raise ValueError("A weight cannot be below zero.")
    cents = int(total * 100)
    if Decimal(cents) != total * 100:
        raise ValueError("Only whole cents can be split.")
    if not weights:
        return []
    fair = weights if any(weights) else [1] * len(weights)
    return [Decimal(part).scaleb(-2) for part in _whole_parts(cents, fair)]


def _whole_parts(cents: int, weights: Sequence[int]) -> list[int]:
    heap = sum(weights)
    quotas = [divmod(cents * weight, heap) for weight in weights]
    parts = [whole for whole, _ in quotas]
    by_remainder = sorted(range(len(parts)), key=lambda i: (-quotas[i][1], i))
    for i in by_remainder[: cents - sum(parts)]:
        parts[i] += 1
    return parts


def costs_many(slabs: Iterable[Slab]) -> dict[int, Decimal]:
    """Cost by slab pk: its share of its parcel plus its own cost.

    The number of queries grows with the parcels, by the 500, and not with the slabs.
    """
    wanted = list(slabs)
    parcel_pks = {slab.parcel_id for slab in wanted if slab.parcel_id}
    shares: dict[int, Decimal] = {}
    for split in splits(parcel_pks).values():
        shares |= split.shares
    return {slab.pk: shares.get(slab.pk, NOTHING) + (slab.own_cost or NOTHING) for slab in wanted}


def splits(parcel_pks: Iterable[int]) -> dict[int, Split]:
    """The split of each parcel of those pks, by pk."""
    found: dict[int, Split] = {}
    ordered = sorted(parcel_pks)
    for start in range(0, len(ordered), PARCELS_AT_ONCE):
        found |= _splits_of_some(ordered[start : start + PARCELS_AT_ONCE])
    return found


def _splits_of_some(parcel_pks: Sequence[int]) -> dict[int, Split]:
    totals = landed_costs(parcel_pks)
    bases = dict(Parcel.objects.filter(pk__in=parcel_pks).values_list("pk", "split_basis"))
    weights: dict[int, dict[int, int]] = {pk: {} for pk in bases}
    rows = Slab.objects.filter(parcel__in=parcel_pks).order_by("pk")
    for row in rows.values("pk", "parcel_id", *_WEIGHT_FIELD.values()):
        weights[row["parcel_id"]][row["pk"]] = _weight(bases[row["parcel_id"]], row)
    return {pk: _split(totals[pk], weights[pk]) for pk in bases}


def _weight(basis: str, row: Mapping[str, object]) -> int:
    """Whole mm³, mm² or cents: integers split alike on every machine and database."""
    if basis == SplitBasis.EQUAL:
        return 1
    value = row[_WEIGHT_FIELD[SplitBasis(basis)]]
    if isinstance(value, Decimal):
        return int(value * 100)
    return round(value) if isinstance(value, int | float) else 0


def _split(total: Decimal, weights: Mapping[int, int]) -> Split:
    parts = split_cents(total, list(weights.values()))
    shares = dict(zip(weights, parts, strict=True))
    weightless = frozenset(pk for pk, weight in weights.items() if not weight)
    if weightless and len(weightless) == len(weights):
        return Split(total, shares, is_equal_for_want=True)
    return Split(total, shares, without_weight=weightless)


def landed_cost(parcel: Parcel) -> Decimal:
    """The sum of the parcel's current bills."""
    return landed_costs([parcel.pk])[parcel.pk]


def landed_costs(parcel_pks: Iterable[int]) -> dict[int, Decimal]:
    """The same for many parcels in one query; summed as decimals, since SQLite sums in floats."""
    wanted = list(parcel_pks)
    totals = defaultdict(lambda: NOTHING, dict.fromkeys(wanted, NOTHING))
    bills = ParcelCost.objects.current().filter(parcel__in=wanted)
    for pk, amount in bills.values_list("parcel_id", "amount"):
        totals[pk] += amount
    return dict(totals)


@transaction.atomic
def refresh_parcel(parcel: Parcel) -> int:
    """Store the cost of every slab of the parcel that has changed; returns how many did.

    To be called after anything a share follows from has changed: a bill, the basis, a slab in or
    out, a size, an asking price. The parcel's row is locked so that two bills cannot cross.
    """
    Parcel.objects.select_for_update().get(pk=parcel.pk)
    slabs = list(parcel.slabs.only("pk", "parcel_id", "own_cost", "cost"))
    return derive.write_costs(slabs, costs_many(slabs))


@transaction.atomic
def add_cost(
    parcel: Parcel,
    kind: CostKind,
    amount: Decimal,
    on: date,
    *,
    by: Person | None,
    note: str = "",
) -> ParcelCost:
    """Write a bill to the parcel and let its slabs carry it.

    Raises:
        ParcelProblem: an amount below nothing, not in whole cents, or past the greatest kept.
    """
    _refuse_odd_amount(amount)
    bill = ParcelCost.objects.create(
        parcel=parcel, kind=kind, amount=amount, on=on, note=note, by=by
    )
    refresh_parcel(parcel)
    return bill


@transaction.atomic
def correct_cost(
    wrong: ParcelCost,
    kind: CostKind,
    amount: Decimal,
    on: date,
    *,
    by: Person | None,
    note: str = "",
) -> ParcelCost:
    """Supersede a wrong bill; both stay readable. An amount of nothing takes the bill out.

    Raises:
        ParcelProblem: the bill has been corrected already, or the amount is odd (see add_cost).
    """
    _refuse_odd_amount(amount)
    Parcel.objects.select_for_update().get(pk=wrong.parcel_id)
    if ParcelCost.objects.filter(supersedes=wrong).exists():
        raise ParcelProblem("This bill has been corrected already: correct the newer one.")
    right = ParcelCost.objects.create(
        parcel=wrong.parcel, kind=kind, amount=amount, on=on, note=note, by=by, supersedes=wrong
    )
    refresh_parcel(wrong.parcel)
    return right


@transaction.atomic
def change_basis(parcel: Parcel, basis: SplitBasis) -> int:
    """Split the parcel by another basis from now on; returns how many slabs' cost changed."""
    parcel.split_basis = basis
    parcel.save(update_fields=["split_basis"])
    return refresh_parcel(parcel)


@transaction.atomic
def keep(parcel: Parcel) -> int:
    """Save an edited parcel; returns how many slabs' cost changed with its basis."""
    parcel.save()
    return refresh_parcel(parcel)


def _refuse_odd_amount(amount: Decimal) -> None:
    if not amount.is_finite() or amount < 0:
        raise ParcelProblem("A cost cannot be below nothing.")
    if amount > GREATEST_AMOUNT or amount != amount.quantize(CENT):
        raise ParcelProblem("Write the amount to the cent, below ten thousand million.")
