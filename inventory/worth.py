"""What the stock cost, what is asked for it, and what it is worth: the lower of the two, by item.

Inventories stand at the lower of cost and net realisable value, judged item by item (IAS 2,
paragraphs 9 and 29). What a slab would fetch is its asking price less the cost of selling it, a
share the reader chooses. A slab without an asking price stands at cost, and is counted.

Sums are of whole cents: SQLite keeps money in floats, and adding ten thousand of those drifts.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import BigIntegerField, Case, Count, F, IntegerField, Q, Sum, Value, When
from django.db.models.expressions import Combinable, Expression
from django.db.models.functions import Cast, Least, Round
from django.utils import timezone

from inventory.models import Condition, Place, Slab, Species, Standing
from inventory.models.slab import SlabQuerySet
from inventory.wood import measure

SELLING_COST_PCT = Decimal("10")
IN_STOCK = (Standing.FREE, Standing.HELD, Standing.ALLOTTED)
LONG_YEARS = 2
AGES = ("Under a year", "One to two years", "Two to three years", "Three years and over")
CENT = Decimal("0.01")
_HUNDRED_PCT = 10_000  # in hundredths of a per cent


@dataclass(frozen=True)
class Scope:
    """Which slabs are counted, as of which day, and what selling one costs (% of its price)."""

    on: date
    standings: tuple[str, ...] = IN_STOCK
    species_pk: int | None = None
    place_pk: int | None = None
    selling_cost_pct: Decimal = SELLING_COST_PCT

    def slabs(self) -> SlabQuerySet:
        chosen = Q(standing__in=self.standings)
        if self.species_pk:
            chosen &= Q(species=self.species_pk)
        if self.place_pk:
            chosen &= Q(place=self.place_pk)
        return Slab.objects.filter(chosen)

    @property
    def kept_share(self) -> int:
        """What is left of a price after selling, in hundredths of a per cent."""
        return _HUNDRED_PCT - int(self.selling_cost_pct * 100)


@dataclass(frozen=True)
class Row:
    """Sums over some slabs: money in shop currency, volume in mm³.

    `asking` and `priced_volume_mm3` cover only slabs that have a price; `worth` all of them.
    `long_*` are those in stock for LONG_YEARS years or more.
    """

    key: Any
    label: str
    pieces: int = 0
    volume_mm3: float = 0.0
    cost: Decimal = Decimal("0.00")
    asking: Decimal = Decimal("0.00")
    priced_volume_mm3: float = 0.0
    unpriced: int = 0
    worth: Decimal = Decimal("0.00")
    long_pieces: int = 0
    long_cost: Decimal = Decimal("0.00")

    @property
    def cost_per_bf(self) -> Decimal | None:
        return per_board_foot(self.cost, self.volume_mm3)

    @property
    def asking_per_bf(self) -> Decimal | None:
        """Mean asking price of a board foot, over the slabs that have one."""
        return per_board_foot(self.asking, self.priced_volume_mm3)

    @property
    def write_down(self) -> Decimal:
        """How far the worth lies below cost."""
        return self.cost - self.worth


@dataclass(frozen=True)
class Summary:
    rows: tuple[Row, ...]
    total: Row


def scope_words(scope: Scope) -> str:
    """Which slabs are counted, as a person says it: `Free, held, allotted; elm; in the loft`."""
    words = [", ".join(str(Standing(value).label) for value in scope.standings).capitalize()]
    if scope.species_pk:
        words += Species.objects.filter(pk=scope.species_pk).values_list("common_name", flat=True)
    if scope.place_pk:
        names = Place.objects.filter(pk=scope.place_pk).values_list("name", flat=True)
        words += [f"in {name}" for name in names]
    return "; ".join(words)


def per_board_foot(amount: Decimal, volume_mm3: float) -> Decimal | None:
    """Money a board foot to the cent; None where there is no volume."""
    feet = measure.board_feet(volume_mm3)
    return (amount / Decimal(feet)).quantize(CENT) if feet > 0 else None


def would_fetch(asking_price: Decimal, scope: Scope) -> Decimal:
    """Net realisable value of one slab, half a cent up: the same as `summary` sums in SQL."""
    cents = int(asking_price * 100)
    return _money((cents * scope.kept_share + _HUNDRED_PCT // 2) // _HUNDRED_PCT)


def lower_of(cost: Decimal, asking_price: Decimal | None, scope: Scope) -> Decimal:
    """What one slab is worth: at cost where it has no asking price."""
    return cost if asking_price is None else min(cost, would_fetch(asking_price, scope))


def summary(by: str, scope: Scope) -> Summary:
    """The sums of `scope` by one of DIMENSIONS, rows in their natural order; one query."""
    dimension = DIMENSIONS[by]
    groups = (
        scope.slabs()
        .annotate(**{name: make(scope) for name, make in dimension.made.items()})
        .order_by()
        .values(*dimension.columns)
        .annotate(**_sums(scope))
    )
    rows = [_row(group, dimension) for group in sorted(groups, key=dimension.order)]
    return Summary(tuple(rows), add_up(rows))


def add_up(rows: Iterable[Row], label: str = "All") -> Row:
    """One row that sums the others."""
    sums: dict[str, Any] = {}
    for row in rows:
        for field in fields(Row)[2:]:
            sums[field.name] = sums.get(field.name, field.default) + getattr(row, field.name)
    return Row(key=None, label=label, **sums)


@dataclass(frozen=True)
class AgeBar:
    """One species' stock by AGES, in mm³ and pieces."""

    label: str
    volumes_mm3: tuple[float, ...]
    pieces: tuple[int, ...]

    @property
    def total_mm3(self) -> float:
        return sum(self.volumes_mm3)


def ages_by_species(scope: Scope) -> list[AgeBar]:
    """Stock by species and age, the greatest volume first; one query."""
    groups = (
        scope.slabs()
        .annotate(age=age_band(scope))
        .order_by()
        .values("species", "species__common_name", "age")
        .annotate(volume=Sum("volume_mm3"), pieces=Count("pk"))
    )
    found: dict[int, tuple[str, list[float], list[int]]] = {}
    for group in groups:
        fresh = (group["species__common_name"], [0.0] * len(AGES), [0] * len(AGES))
        _, volumes, pieces = found.setdefault(group["species"], fresh)
        volumes[group["age"]] = group["volume"]
        pieces[group["age"]] = group["pieces"]
    bars = [
        AgeBar(label, tuple(volumes), tuple(pieces)) for label, volumes, pieces in found.values()
    ]
    return sorted(bars, key=lambda bar: (-bar.total_mm3, bar.label.lower()))


def years_before(on: date, years: int) -> date:
    """The same day so many years ago; 29 February falls on the 28th."""
    try:
        return on.replace(year=on.year - years)
    except ValueError:
        return on.replace(year=on.year - years, day=28)


def age_band(scope: Scope) -> Case:
    """Index into AGES, by whole years since a slab was received."""
    oldest_first = range(len(AGES) - 1, 0, -1)
    return Case(
        *(When(_received_by(scope.on, years), then=Value(years)) for years in oldest_first),
        default=Value(0),
        output_field=IntegerField(),
    )


def received_before(on: date, years: int) -> datetime:
    """The moment before which a slab came that is here so many years on that day, or longer.

    By the yard's own calendar: what came on that very day counts.
    """
    next_day = years_before(on, years) + timedelta(days=1)
    return timezone.make_aware(datetime.combine(next_day, time.min))


def _received_by(on: date, years: int) -> Q:
    return Q(received_at__lt=received_before(on, years))


def _cents(name: str) -> Cast:
    return Cast(Round(F(name) * 100), BigIntegerField())


def _sums(scope: Scope) -> dict[str, Expression]:
    cost, asking = _cents("cost"), _cents("asking_price")
    priced = Q(asking_price__isnull=False)
    long = _received_by(scope.on, LONG_YEARS)
    return {
        "pieces_": Count("pk"),
        "volume_": Sum("volume_mm3"),
        "cost_": Sum(cost),
        "asking_": Sum(asking),
        "priced_volume_": Sum("volume_mm3", filter=priced),
        "unpriced_": Count("pk", filter=~priced),
        "worth_": Sum(_lower_cents(cost, asking, scope)),
        "long_pieces_": Count("pk", filter=long),
        "long_cost_": Sum(cost, filter=long),
    }


def _lower_cents(cost: Expression, asking: Combinable, scope: Scope) -> Case:
    fetched = (asking * Value(scope.kept_share) + Value(_HUNDRED_PCT // 2)) / Value(_HUNDRED_PCT)
    return Case(
        When(asking_price__isnull=True, then=cost),
        default=Least(cost, fetched, output_field=BigIntegerField()),
        output_field=BigIntegerField(),
    )


def _money(cents: int | None) -> Decimal:
    return Decimal(int(cents or 0)).scaleb(-2)


def _row(group: dict[str, Any], dimension: "Dimension") -> Row:
    return Row(
        key=group[dimension.columns[0]],
        label=dimension.label(group),
        pieces=group["pieces_"],
        volume_mm3=group["volume_"] or 0.0,
        cost=_money(group["cost_"]),
        asking=_money(group["asking_"]),
        priced_volume_mm3=group["priced_volume_"] or 0.0,
        unpriced=group["unpriced_"],
        worth=_money(group["worth_"]),
        long_pieces=group["long_pieces_"],
        long_cost=_money(group["long_cost_"]),
    )


@dataclass(frozen=True)
class Dimension:
    """One way to sort the stock: its columns (the key first), their label, and their order."""

    words: str
    columns: tuple[str, ...]
    label: Callable[[dict[str, Any]], str]
    order: Callable[[dict[str, Any]], Any]
    made: dict[str, Callable[[Scope], Any]]


def _place_order(group: dict[str, Any]) -> tuple[Any, ...]:
    named = group["place"] is not None
    return (not named, group["place__position"] or 0, (group["place__name"] or "").lower())


DIMENSIONS = {
    "species": Dimension(
        "Species",
        ("species", "species__common_name"),
        lambda group: str(group["species__common_name"]),
        lambda group: (group["species__common_name"].lower(), group["species"]),
        {},
    ),
    "place": Dimension(
        "Place",
        ("place", "place__name", "place__position"),
        lambda group: str(group["place__name"] or "No place said"),
        _place_order,
        {},
    ),
    "condition": Dimension(
        "How dry",
        ("condition",),
        lambda group: str(Condition(group["condition"]).label),
        lambda group: list(Condition).index(Condition(group["condition"])),
        {},
    ),
    "standing": Dimension(
        "Standing",
        ("standing",),
        lambda group: str(Standing(group["standing"]).label),
        lambda group: list(Standing).index(Standing(group["standing"])),
        {},
    ),
    "age": Dimension(
        "Time in stock",
        ("age",),
        lambda group: AGES[group["age"]],
        lambda group: group["age"],
        {"age": age_band},
    ),
}
