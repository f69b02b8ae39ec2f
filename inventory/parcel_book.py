"""What the parcel pages read: parcels with their sums, bills with their corrections, logs."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import BigIntegerField, Count, F, Q, QuerySet, Sum
from django.db.models.functions import Cast, Round

from inventory import parcels
from inventory.models import CostKind, Log, Parcel, ParcelCost, Standing
from inventory.worth import per_board_foot


@dataclass(frozen=True)
class ParcelRow:
    """A parcel and its sums: volume in mm³, money in shop currency; gone slabs count too."""

    parcel: Parcel
    pieces: int
    gone: int
    volume_mm3: float
    landed_cost: Decimal
    asking: Decimal
    unpriced: int

    @property
    def cost_per_bf(self) -> Decimal | None:
        return per_board_foot(self.landed_cost, self.volume_mm3)

    @property
    def left(self) -> int:
        return self.pieces - self.gone


def found(words: str) -> QuerySet[Parcel]:
    """Parcels whose name, supplier, log or species says those words; newest first."""
    rows = Parcel.objects.order_by("-bought_on", "name")
    for word in words.split():
        rows = rows.filter(
            Q(name__icontains=word)
            | Q(supplier__icontains=word)
            | Q(pk__in=Parcel.objects.filter(logs__number__icontains=word).values("pk"))
            | Q(
                pk__in=Parcel.objects.filter(slabs__species__common_name__icontains=word).values(
                    "pk"
                )
            )
        )
    return rows


def rows_of(some: Sequence[Parcel]) -> list[ParcelRow]:
    """The sums of those parcels, in their order; two queries."""
    pks = [parcel.pk for parcel in some]
    landed = parcels.landed_costs(pks)
    counted = Parcel.objects.filter(pk__in=pks).order_by()
    sums: dict[int, Any] = {row["pk"]: row for row in counted.values("pk").annotate(**_SUMS)}
    return [_row(parcel, sums[parcel.pk], landed[parcel.pk]) for parcel in some]


_SUMS = {
    "pieces": Count("slabs"),
    "gone": Count("slabs", filter=Q(slabs__standing=Standing.GONE)),
    "volume": Sum("slabs__volume_mm3"),
    "asking": Sum(Cast(Round(F("slabs__asking_price") * 100), BigIntegerField())),
    "unpriced": Count("slabs", filter=Q(slabs__asking_price__isnull=True)),
}


def _row(parcel: Parcel, sums: dict[str, Any], landed: Decimal) -> ParcelRow:
    return ParcelRow(
        parcel=parcel,
        pieces=sums["pieces"],
        gone=sums["gone"],
        volume_mm3=sums["volume"] or 0.0,
        landed_cost=landed,
        asking=Decimal(int(sums["asking"] or 0)).scaleb(-2),
        unpriced=sums["unpriced"],
    )


def logs_of(parcel: Parcel) -> QuerySet[Log]:
    """The parcel's logs by number, each with how many slabs it gave as `pieces`; one query."""
    logs = parcel.logs.select_related("species").order_by("number")
    return logs.annotate(pieces=Count("slabs"), volume_mm3=Sum("slabs__volume_mm3"))


@dataclass(frozen=True)
class Bill:
    """A bill as it stands, and what it said before it was corrected, latest first."""

    now: ParcelCost
    before: tuple[ParcelCost, ...]


@dataclass(frozen=True)
class KindOfCost:
    label: str
    total: Decimal
    bills: tuple[Bill, ...]


def costs_by_kind(parcel: Parcel) -> list[KindOfCost]:
    """The parcel's bills under their kinds, each kind with its sum; one query."""
    every = {bill.pk: bill for bill in parcel.costs.select_related("by").order_by("on", "pk")}
    superseded = {bill.supersedes_id for bill in every.values()}
    bills = [
        Bill(bill, tuple(_earlier(bill, every)))
        for pk, bill in every.items()
        if pk not in superseded
    ]
    return [
        KindOfCost(str(kind.label), sum((bill.now.amount for bill in some), parcels.NOTHING), some)
        for kind in CostKind
        if (some := tuple(bill for bill in bills if bill.now.kind == kind))
    ]


def _earlier(bill: ParcelCost, every: dict[int, ParcelCost]) -> Iterable[ParcelCost]:
    while bill.supersedes_id:
        bill = every[bill.supersedes_id]
        yield bill
