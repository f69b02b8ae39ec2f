"""What needs doing today, for what the viewer may do: a few queries, however big the yard."""

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db.models import Count, F, Max, Q, Sum, Window
from django.db.models.functions import RowNumber
from django.utils import timezone

from catalogue.commission_page import STARTING_SOON_DAYS, start_words
from catalogue.models import Commission, CommissionHold
from inventory import alert_lists, worth
from inventory.alert_lists import FewTold
from inventory.models import AirRecord, AlertKind, Condition, Hold, Place, Slab
from inventory.models.slab import SlabQuerySet
from inventory.viewer import Viewer
from inventory.words import day_words

NEWLY_READY_DAYS = 14
LAPSING_DAYS = 7
AIR_DAYS = 7
SLOW_YEARS = 2
SHOWN = 6
SHOWN_A_PLACE = 4


@dataclass(frozen=True)
class DuePlace:
    """Slabs due a moisture check in one place: how many, and the first a worker meets there."""

    place: Place | None
    count: int
    slabs: tuple[Slab, ...]


@dataclass(frozen=True)
class StaleAir:
    """A place with wood in it and no word of its air lately."""

    place: Place
    slabs: int
    words: str


@dataclass(frozen=True)
class Few:
    """The first few of many slabs, and how many there are."""

    count: int
    slabs: tuple[Slab, ...]

    @property
    def more(self) -> int:
        return self.count - len(self.slabs)


@dataclass(frozen=True)
class Lapsing:
    hold: Hold
    words: str
    commission: Commission | None


@dataclass(frozen=True)
class Wanting:
    """A commission that wants something: wood, or attention because work starts soon."""

    commission: Commission
    start_words: str
    has_wood: bool


@dataclass(frozen=True)
class Stock:
    """The stock at a glance: money in shop currency, wood in mm³."""

    pieces: int
    volume_mm3: float
    asking: Decimal
    cost: Decimal


@dataclass(frozen=True)
class Today:
    """Sections are None where the viewer has no part in them, empty where nothing waits."""

    day: date
    warned: FewTold | None
    due: tuple[DuePlace, ...] | None
    stale_air: tuple[StaleAir, ...] | None
    newly_ready: Few | None
    lapsing: tuple[Lapsing, ...] | None
    wanting: tuple[Wanting, ...] | None
    unpictured: Few | None
    unpriced: Few | None
    uncosted: Few | None
    slow: Few | None
    stock: Stock | None

    @property
    def due_count(self) -> int:
        return sum(place.count for place in self.due or ())

    @property
    def is_quiet(self) -> bool:
        """Whether nothing at all waits for the viewer."""
        lists = (self.due, self.stale_air, self.lapsing, self.wanting)
        few = (self.newly_ready, self.unpictured, self.unpriced, self.uncosted, self.slow)
        counted = (*few, self.warned)
        return not any(lists) and not any(part and part.count for part in counted)


def look(viewer: Viewer, on: date) -> Today:
    """Everything that waits for this viewer on that day."""
    may = viewer.may
    stock = Slab.objects.in_stock()
    return Today(
        day=on,
        warned=warned(viewer),
        due=due_by_place(on) if may["log_moisture"] else None,
        stale_air=stale_air(on) if may["log_air"] else None,
        newly_ready=_few(newly_ready(on)) if may["hold_slab"] else None,
        lapsing=lapsing(on) if may["hold_slab"] else None,
        wanting=wanting(on) if may["keep_commission"] else None,
        unpictured=_few(stock.filter(cover__isnull=True)) if may["record_slab"] else None,
        unpriced=_few(stock.filter(asking_price__isnull=True)) if may["price_slab"] else None,
        uncosted=_few(stock.filter(cost=0)) if may["see_cost"] else None,
        slow=_few(slow_movers(on), "received_at") if may["see_cost"] else None,
        stock=stock_at_a_glance() if may["see_cost"] else None,
    )


def warned(viewer: Viewer) -> FewTold | None:
    """Open warnings, for those who tend slabs or the yard; silent places have their own section."""
    if not (viewer.can("log_moisture") or viewer.can("keep_yard")):
        return None
    return alert_lists.few_open(viewer, SHOWN, leaving_out=[AlertKind.SILENT])


def due_by_place(on: date) -> tuple[DuePlace, ...]:
    """Slabs due a check on or before that day, as a worker walks."""
    due = Slab.objects.due_for_check(on=on)
    counts = Counter(dict(due.order_by().values_list("place").annotate(Count("pk"))))
    row = Window(RowNumber(), partition_by=F("place"), order_by=("bay__position", "code"))
    first = due.for_cards().annotate(row=row).filter(row__lte=SHOWN_A_PLACE).in_walking_order()
    places: dict[int | None, list[Slab]] = {}
    for slab in first:
        places.setdefault(slab.place_id, []).append(slab)
    return tuple(DuePlace(s[0].place, counts[key], tuple(s)) for key, s in places.items())


def stale_air(on: date) -> tuple[StaleAir, ...]:
    """Places where wood lies and whose air was last written down over a week ago, or never."""
    latest = dict(AirRecord.objects.current().order_by().values_list("place").annotate(Max("at")))
    in_stock = Count("slabs", filter=~Q(slabs__standing="gone"))
    held = Place.objects.annotate(pieces=in_stock).filter(pieces__gt=0).order_by("position", "name")
    told = [(place, latest.get(place.pk)) for place in held]
    return tuple(
        StaleAir(place, place.pieces, _air_words(at, on))
        for place, at in told
        if at is None or (on - timezone.localtime(at).date()).days > AIR_DAYS
    )


def newly_ready(on: date) -> SlabQuerySet:
    """Free slabs that became ready in the last fortnight."""
    since = on - timedelta(days=NEWLY_READY_DAYS)
    return Slab.objects.free().filter(condition=Condition.READY, ready_since__gte=since)


def lapsing(on: date) -> tuple[Lapsing, ...]:
    """Holds whose last day comes within a week, soonest first, with the commission they serve."""
    ending = Hold.objects.lapsing_by(on + timedelta(days=LAPSING_DAYS))
    holds = list(ending.select_related("slab__species").order_by("until", "pk"))
    links = CommissionHold.objects.filter(hold__in=holds).select_related("commission__client")
    served = {link.hold_id: link.commission for link in links}
    return tuple(Lapsing(hold, _lapse_words(hold, on), served.get(hold.pk)) for hold in holds)


def wanting(on: date) -> tuple[Wanting, ...]:
    """Open commissions with no wood, or whose work starts within a month; soonest first."""
    soon = Commission.objects.starting_by(on + timedelta(days=STARTING_SOON_DAYS))
    without = set(Commission.objects.without_wood().values_list("pk", flat=True))
    either = Q(pk__in=without) | Q(pk__in=soon.values("pk"))
    rows = Commission.objects.open().filter(either).select_related("client")
    return tuple(Wanting(row, start_words(row, on), row.pk not in without) for row in rows)


def slow_movers(on: date) -> SlabQuerySet:
    """In stock for two years or more."""
    return Slab.objects.in_stock().filter(received_at__lt=worth.received_before(on, SLOW_YEARS))


def stock_at_a_glance() -> Stock:
    row = Slab.objects.in_stock().aggregate(
        pieces=Count("pk"), volume=Sum("volume_mm3"), asking=Sum("asking_price"), cost=Sum("cost")
    )
    nothing = Decimal(0)
    return Stock(
        row["pieces"], row["volume"] or 0.0, row["asking"] or nothing, row["cost"] or nothing
    )


def _few(slabs: SlabQuerySet, *order: str) -> Few:
    """The first few, in the order given or by tag, and the count of all."""
    shown = tuple(slabs.for_cards().order_by(*order, "code")[:SHOWN])
    return Few(slabs.count() if len(shown) == SHOWN else len(shown), shown)


def _air_words(at: datetime | None, on: date) -> str:
    if at is None:
        return "never written down"
    day = timezone.localtime(at).date()
    return f"last written down on {day_words(day, on)}"


def _lapse_words(hold: Hold, on: date) -> str:
    assert hold.until is not None
    days = (hold.until - on).days
    near = {0: "today is its last day", 1: "until tomorrow"}
    return near.get(days, f"until {day_words(hold.until, on)}, {days} days more")
