"""When is what ready: pieces and wood by month and species, from the stored forecasts.

Each piece is counted once, in the month of its most likely day, or of the day it is there nine
times in ten, as the reader chooses; where it lies, or for wood that will not get there, as if it
were moved indoors today. Five queries, however much wood.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Case, Count, F, Max, Min, Q, Sum, Value, When
from django.db.models.functions import Coalesce, TruncMonth

from inventory.models import ForecastState, Slab, SlabForecast, Species
from inventory.models.slab import SlabQuerySet
from inventory.wood.measure import MM3_PER_BOARD_FOOT

LIKELY, SAFE = "likely", "safe"
HERE, MOVED = "here", "moved"
MONTHS_SHOWN = 12
MOST_LISTED = 60
NOW, LATER, NEVER, UNKNOWN = "now", "later", "never", "unknown"
_ENDS = {
    NOW: "Dry enough now",
    LATER: "Later",
    NEVER: "Not in this air",
    UNKNOWN: "Not known",
}


@dataclass(frozen=True)
class Asked:
    """What the page is asked for; species and thickness None for all."""

    sure: str = LIKELY
    air: str = HERE
    species: int | None = None
    least_mm: float | None = None
    most_mm: float | None = None
    free_only: bool = False


@dataclass(frozen=True)
class Amount:
    """Pieces and their wood."""

    pieces: int = 0
    volume_mm3: float = 0.0

    def __add__(self, other: "Amount") -> "Amount":
        return Amount(self.pieces + other.pieces, self.volume_mm3 + other.volume_mm3)

    @property
    def board_feet(self) -> float:
        return self.volume_mm3 / MM3_PER_BOARD_FOOT


@dataclass(frozen=True)
class Period:
    """A month, or one of the ends: now, later, never, unknown."""

    key: str
    words: str
    month: date | None = None


@dataclass(frozen=True)
class Row:
    """One period: its total, and the part of each species in the order of `species`."""

    period: Period
    total: Amount
    parts: tuple[Amount, ...]
    species: tuple[str, ...]

    @property
    def is_month(self) -> bool:
        return self.period.month is not None

    @property
    def by_species(self) -> list[tuple[str, Amount]]:
        """The species there are, the most wood first."""
        some = [(n, a) for n, a in zip(self.species, self.parts, strict=True) if a.pieces]
        return sorted(some, key=lambda pair: -pair[1].volume_mm3)


@dataclass(frozen=True)
class ReadyWhen:
    """`old` counts forecasts that no longer tell, or are missing."""

    asked: Asked
    species: tuple[str, ...]
    rows: tuple[Row, ...]
    total: Amount
    moved_to: tuple[str, ...]
    made_from: date | None
    made_to: date | None
    old: int

    @property
    def months(self) -> tuple[Row, ...]:
        return tuple(row for row in self.rows if row.is_month)

    @property
    def is_empty(self) -> bool:
        return self.total.pieces == 0


def ready_when(asked: Asked, on: date) -> ReadyWhen:
    """The table as of that day, for slabs in stock."""
    slabs = _chosen(asked)
    amounts = _amounts(slabs, asked, on)
    names = _columns(amounts)
    periods = _periods(amounts, on)
    made = slabs.aggregate(first=Min("forecast__made_on"), last=Max("forecast__made_on"))
    rows = tuple(_row(period, names, amounts) for period in periods)
    return ReadyWhen(
        asked=asked,
        species=names,
        rows=rows,
        total=sum((row.total for row in rows), Amount()),
        moved_to=_moved_to(slabs) if asked.air == MOVED else (),
        made_from=made["first"],
        made_to=made["last"],
        old=_old(slabs, on),
    )


def species_choices() -> list[tuple[int, str]]:
    return list(Species.objects.in_stock().by_name().values_list("pk", "common_name"))


def _chosen(asked: Asked) -> SlabQuerySet:
    slabs = Slab.objects.free() if asked.free_only else Slab.objects.in_stock()
    if asked.species is not None:
        slabs = slabs.filter(species=asked.species)
    if asked.least_mm is not None:
        slabs = slabs.filter(thickness_mm__gte=asked.least_mm)
    if asked.most_mm is not None:
        slabs = slabs.filter(thickness_mm__lte=asked.most_mm)
    return slabs.order_by()


Amounts = Mapping[tuple[str, str], Amount]


def _amounts(slabs: SlabQuerySet, asked: Asked, on: date) -> dict[tuple[str, str], Amount]:
    """By period's key and species' name; one query."""
    rows = (
        slabs.annotate(day=_day(asked), end=_end(asked))
        .annotate(month=TruncMonth("day"))
        .values_list("end", "month", "species__common_name")
        .annotate(pieces=Count("pk"), volume=Sum("volume_mm3"))
    )
    found: dict[tuple[str, str], Amount] = {}
    for end, month, species, pieces, volume in rows:
        key = _key(end, month, on), species
        found[key] = found.get(key, Amount()) + Amount(pieces, volume or 0.0)
    return found


def _day(asked: Asked) -> Any:
    """The day a piece is counted on."""
    name = "median_on" if asked.sure == LIKELY else "high_on"
    here = F(f"forecast__{name}")
    return Coalesce(here, F(f"forecast__moved_{name}")) if asked.air == MOVED else here


def _end(asked: Asked) -> Case:
    """Where a piece without a day is counted."""
    known = Q(forecast__state__in=(ForecastState.WILL_ARRIVE, ForecastState.BEYOND))
    never = Q(forecast__state=ForecastState.NEVER)
    return Case(
        When(forecast__state=ForecastState.DRY_NOW, then=Value(NOW)),
        When(never & Q(day__isnull=True), then=Value(NEVER)),
        When(known | never, then=Value(LATER)),
        default=Value(UNKNOWN),
    )


def _key(end: str, month: date | None, on: date) -> str:
    """The month's own key when it is among those shown, else the end's."""
    if end != LATER or month is None:
        return end
    ahead = max(_months_between(on, month), 0)
    return _month_key(_month_on(on, ahead)) if ahead < MONTHS_SHOWN else LATER


def _months_between(on: date, month: date) -> int:
    return (month.year - on.year) * 12 + month.month - on.month


def _month_on(on: date, months: int) -> date:
    year, month = divmod(on.year * 12 + on.month - 1 + months, 12)
    return date(year, month + 1, 1)


def _month_key(month: date) -> str:
    return f"{month:%Y-%m}"


def _periods(amounts: Amounts, on: date) -> list[Period]:
    """Now, twelve months, later, never, not known; the last three only where there is any."""
    months = [_month_on(on, n) for n in range(MONTHS_SHOWN)]
    shown = [Period(_month_key(m), f"{m:%B %Y}", m) for m in months]
    there = {key for key, _ in amounts}
    after = f"After {months[-1]:%B %Y}"
    words = {**_ENDS, LATER: after}
    rest = [Period(end, words[end]) for end in (LATER, NEVER, UNKNOWN) if end in there]
    return [Period(NOW, _ENDS[NOW]), *shown, *rest]


def _columns(amounts: Amounts) -> tuple[str, ...]:
    return tuple(sorted({species for _, species in amounts}, key=str.lower))


def _row(period: Period, species: Sequence[str], amounts: Amounts) -> Row:
    parts = tuple(amounts.get((period.key, name), Amount()) for name in species)
    return Row(period, sum(parts, Amount()), parts, tuple(species))


@dataclass(frozen=True)
class Listed:
    """The slabs of one period, the first by day and code, and how many there are."""

    period: Period
    count: int
    slabs: tuple[Slab, ...]

    @property
    def more(self) -> int:
        return self.count - len(self.slabs)


def listed(found: ReadyWhen, key: str, on: date) -> Listed | None:
    """The slabs counted in a period, each with the `day` it is counted on; None when none is."""
    row = next((row for row in found.rows if row.period.key == key), None)
    if row is None or not row.total.pieces:
        return None
    asked = found.asked
    slabs = _chosen(asked).annotate(day=_day(asked), end=_end(asked)).for_cards()
    rows = slabs.filter(_in_period(row.period, on)).order_by("day", "code")[:MOST_LISTED]
    return Listed(row.period, row.total.pieces, tuple(rows))


def _in_period(period: Period, on: date) -> Q:
    last = _month_on(on, MONTHS_SHOWN)
    if period.month is not None:
        month = Q(end=LATER, day__lt=_month_on(period.month, 1))
        is_first = period.month == _month_on(on, 0)
        return month if is_first else month & Q(day__gte=period.month)
    if period.key == LATER:
        return Q(end=LATER) & (Q(day__isnull=True) | Q(day__gte=last))
    return Q(end=period.key)


def _moved_to(slabs: SlabQuerySet) -> tuple[str, ...]:
    """The rooms the moved are reckoned in, by name."""
    named = slabs.filter(forecast__moved_place__isnull=False)
    names = named.values_list("forecast__moved_place__name", flat=True).distinct()
    return tuple(sorted(names))


def _old(slabs: SlabQuerySet, on: date) -> int:
    """How many of these slabs have no forecast, or one that no longer tells."""
    stale = SlabForecast.objects.stale(on=on).values("slab")
    return slabs.filter(Q(forecast__isnull=True) | Q(pk__in=stale)).count()
