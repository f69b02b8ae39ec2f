"""The records of the demo yard, as `source` reads them from `fixtures/yard.toml`.

Days are counted from today: `..._days_ago` back, `..._in_days` ahead.
"""

from dataclasses import dataclass
from decimal import Decimal

from inventory.demo.look import SpeciesLook
from inventory.demo.shape import DemoShape, LogShape, slabs_of

ROLES = frozenset({"owner", "worker", "buyer"})
PLACE_KINDS = frozenset({"yard", "shed", "kiln", "conditioning", "shop", "showroom"})
METER_METHODS = frozenset({"pin", "pinless", "weighing"})
STAGE_KINDS = frozenset({"air", "kiln", "conditioning", "shop"})
TOP_SHAPES = frozenset({"rectangle", "round", "oval", "live_edge"})
METHODS = frozenset({"one_slab", "bookmatched_pair", "resin_pair"})
HOLD_KINDS = frozenset({"held", "allotted"})
ENDS = frozenset({"sold", "used", "written off"})


@dataclass(frozen=True)
class Workshop:
    """Who and where we pretend to be."""

    name: str
    place: str
    address: str
    about: str


@dataclass(frozen=True)
class Person:
    """Somebody who signs in; `role` is one of ROLES."""

    user_name: str
    full_name: str
    role: str


@dataclass(frozen=True)
class Climate:
    """A place's air: mean of the year, swing by season and by day, spread of weather."""

    temp_mean_c: float
    temp_season_c: float
    temp_day_c: float
    temp_noise_c: float
    rh_mean_pct: float
    rh_season_pct: float
    rh_day_pct: float
    rh_noise_pct: float


@dataclass(frozen=True)
class Place:
    """Somewhere slabs lie; `kind` is one of PLACE_KINDS."""

    name: str
    kind: str
    bays: tuple[str, ...]
    climate: Climate


@dataclass(frozen=True)
class Meter:
    """A way of measuring; `corrects` names what it already allows for."""

    name: str
    method: str
    reads_from_pct: float
    reads_to_pct: float
    corrects: tuple[str, ...]
    note: str


@dataclass(frozen=True)
class Parcel:
    """One purchase, with its four costs in the shop's currency."""

    code: str
    supplier: str
    bought_days_ago: int
    timber_cost: Decimal
    sawing_cost: Decimal
    haulage_cost: Decimal
    drying_cost: Decimal
    note: str


@dataclass(frozen=True)
class Stage:
    """Where a log's slabs went, from that day until the next stage."""

    kind: str
    place: str
    from_days_ago: int


@dataclass(frozen=True)
class Log:
    """One log, sawn through and through; a thickness (mm) for each slab in sawn order."""

    code: str
    species: str
    parcel: str
    shape: LogShape
    thicknesses_mm: tuple[float, ...]
    figure: tuple[str, ...]
    faults: tuple[str, ...]
    felled_days_ago: int
    sawn_days_ago: int
    stages: tuple[Stage, ...]

    def slabs(self) -> list[DemoShape]:
        """The shapes of its slabs, in sawn order."""
        return slabs_of(self.shape, self.thicknesses_mm)


@dataclass(frozen=True)
class Client:
    """Somebody a piece is made for."""

    name: str
    place: str
    note: str


@dataclass(frozen=True)
class Commission:
    """A top to make: finished size (mm), method, species wished, money, dates, home air."""

    title: str
    client: str
    top: str
    length_mm: float
    width_mm: float
    thickness_mm: float
    method: str
    species: tuple[str, ...]
    budget: Decimal
    asked_days_ago: int
    starts_in_days: int
    home_temp_c: float
    home_rh_pct: float
    note: str


@dataclass(frozen=True)
class Hold:
    """Slabs kept for a commission; `until_in_days`: None for an allotment, below 0 once lapsed."""

    log: str
    slabs: tuple[int, ...]
    commission: str
    kind: str
    made_days_ago: int
    until_in_days: int | None


@dataclass(frozen=True)
class Gone:
    """Slabs that left the stock; `how` is one of ENDS."""

    log: str
    slabs: tuple[int, ...]
    how: str
    days_ago: int
    note: str


@dataclass(frozen=True)
class Charge:
    """The logs whose slabs were in the kiln together; `heated_days_ago`: when it was taken hot
    enough to kill what lives in wood, None where it was not."""

    name: str
    place: str
    logs: tuple[str, ...]
    heated_days_ago: int | None
    note: str


@dataclass(frozen=True)
class BlockTest:
    """A meter held on a block of known value, %; `due_in_days` after today, below 0 when past."""

    meter: str
    days_ago: int
    block_pct: float
    read_pct: float
    due_in_days: int


@dataclass(frozen=True)
class OwnTable:
    """A meter's own table for one species: readings and what they stand for, %, in pairs."""

    meter: str
    species: str
    readings_pct: tuple[float, ...]
    corrected_pct: tuple[float, ...]


@dataclass(frozen=True)
class DemoSource:
    """The whole demo yard as read."""

    workshop: Workshop
    people: tuple[Person, ...]
    places: tuple[Place, ...]
    meters: tuple[Meter, ...]
    parcels: tuple[Parcel, ...]
    logs: tuple[Log, ...]
    clients: tuple[Client, ...]
    commissions: tuple[Commission, ...]
    holds: tuple[Hold, ...]
    gone: tuple[Gone, ...]
    charges: tuple[Charge, ...]
    block_tests: tuple[BlockTest, ...]
    own_tables: tuple[OwnTable, ...]
    looks: dict[str, SpeciesLook]
