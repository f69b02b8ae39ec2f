"""How wood moves: a slab on its way to another moisture, a finished top through the year.

Numbers come from wood/shrinkage.py and wood/humidity.py; the sentences are made here.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from inventory.models import Slab, Species
from inventory.wood import humidity, measure, shrinkage
from inventory.wood.lengths import MM_PER_IN
from inventory.wood.shrinkage import WoodMovement
from inventory.words import join_words

# Indoor air of the two seasons unless a home's own is given; the shop's choice, shown on the page.
USUAL_WINTER_AIR = (20.0, 30.0)
USUAL_SUMMER_AIR = (24.0, 60.0)
# The faults that leave a face hollow under a straightedge.
HOLLOW_FAULTS = ("cup", "bow", "twist")
WAY_WORDS = {shrinkage.FLAT: "flat-sawn", shrinkage.QUARTER: "quarter-sawn"}

W = TypeVar("W", "SlabWay", "TopWay")


@dataclass(frozen=True)
class Size:
    """A size (mm) now and by how much it changes; the change None where it is not known."""

    now_mm: float
    change_mm: float | None

    @property
    def then_mm(self) -> float | None:
        return None if self.change_mm is None else self.now_mm + self.change_mm


@dataclass(frozen=True)
class SlabWay:
    """The slab as it moves if sawn that way; `flat_mm` is least and greatest once flattened."""

    sawn: str
    width: Size
    thickness: Size
    flat_mm: tuple[float, float] | None

    @property
    def words(self) -> str:
        return WAY_WORDS[self.sawn]


@dataclass(frozen=True)
class Masses:
    """kg: the slab now and then, and once flattened then, least and greatest."""

    now_kg: float
    then_kg: float
    flat_kg: tuple[float, float] | None
    caution: str | None

    @property
    def water_kg(self) -> float:
        """Water that leaves; below zero where it is taken up."""
        return self.now_kg - self.then_kg


@dataclass(frozen=True)
class SlabMovement:
    """A slab from the moisture it has (% MC) to another; `masses` None without its density."""

    sawn: str
    from_pct: float
    to_pct: float
    ways: tuple[SlabWay, ...]
    masses: Masses | None

    @property
    def is_known(self) -> bool:
        return any(way.thickness.change_mm is not None for way in self.ways)


@dataclass(frozen=True)
class Air:
    """Air of a home in one season."""

    temp_c: float
    rh_pct: float

    @property
    def emc_pct(self) -> float:
        return humidity.emc_pct(self.temp_c, self.rh_pct)


@dataclass(frozen=True)
class TopWay:
    """A top's width against the day it was made (mm), in winter's air and in summer's."""

    sawn: str
    winter_mm: float | None
    summer_mm: float | None

    @property
    def words(self) -> str:
        return WAY_WORDS[self.sawn]

    @property
    def year_mm(self) -> float | None:
        """The whole way between the two seasons."""
        if self.winter_mm is None or self.summer_mm is None:
            return None
        return abs(self.summer_mm - self.winter_mm)

    @property
    def edge_mm(self) -> float | None:
        """What each long edge moves where the top is held fast along its middle."""
        return None if self.year_mm is None else self.year_mm / 2


@dataclass(frozen=True)
class Bar:
    """The top's width in one season as drawn: per cent of the drawing, its change enlarged."""

    season: str
    pct: float
    x: float
    width: float
    change_mm: float | None


@dataclass(frozen=True)
class TopMovement:
    """A finished top of that width across the grain, made at that moisture."""

    width_mm: float
    made_pct: float
    winter: Air
    summer: Air
    sawn: str
    ways: tuple[TopWay, ...]

    @property
    def most(self) -> TopWay | None:
        """The way that moves most; None where the species' figures are not known."""
        known = [way for way in self.ways if way.year_mm is not None]
        return max(known, key=lambda way: way.year_mm or 0.0, default=None)


# A bar drawn as made takes up this much of the drawing, and the greatest change adds this much.
_BAR, _BAR_CHANGE = 72.0, 12.0


def bars(moves: TopMovement) -> tuple[Bar, ...]:
    """Winter, as made, summer, one below the other about one middle, for the way that moves most;
    empty where that is not known or nothing moves."""
    most = moves.most
    if most is None or most.winter_mm is None or most.summer_mm is None:
        return ()
    greatest_mm = max(abs(most.winter_mm), abs(most.summer_mm))
    if greatest_mm == 0:
        return ()
    return (
        _bar("Winter", moves.winter.emc_pct, most.winter_mm, greatest_mm),
        Bar("As made", moves.made_pct, (100 - _BAR) / 2, _BAR, None),
        _bar("Summer", moves.summer.emc_pct, most.summer_mm, greatest_mm),
    )


def _bar(season: str, pct: float, change_mm: float, greatest_mm: float) -> Bar:
    width = _BAR + _BAR_CHANGE * change_mm / greatest_mm
    return Bar(season, pct, (100 - width) / 2, width, change_mm)


def wood_of(species: Species) -> WoodMovement:
    return WoodMovement(
        cr=species.cr,
        ct=species.ct,
        radial_pct=species.shrink_radial_pct,
        tangential_pct=species.shrink_tangential_pct,
    )


def slab_movement(
    slab: Slab, from_pct: float, to_pct: float, *, system: str, hollow_mm: float = 0.0
) -> SlabMovement:
    """Width (the mean), thickness, what flattening leaves and mass, from one % MC to another."""
    changes = shrinkage.size_changes(
        slab.mean_width_mm,
        slab.thickness_mm,
        from_pct,
        to_pct,
        wood=wood_of(slab.species),
        sawn=slab.sawn,
    )
    ways = tuple(
        SlabWay(
            change.sawn,
            Size(slab.mean_width_mm, change.width_mm if slab.mean_width_mm else None),
            Size(slab.thickness_mm, change.thickness_mm),
            _flat_mm(slab.thickness_mm, change.thickness_mm, hollow_mm),
        )
        for change in changes
    )
    masses = _masses(slab, from_pct, to_pct, ways, system)
    return SlabMovement(slab.sawn, from_pct, to_pct, ways, masses)


def _flat_mm(
    thickness_mm: float, change_mm: float | None, hollow_mm: float
) -> tuple[float, float] | None:
    if change_mm is None:
        return None
    return shrinkage.flattened_mm(thickness_mm + change_mm, hollow_mm)


def _masses(
    slab: Slab, from_pct: float, to_pct: float, ways: Sequence[SlabWay], system: str
) -> Masses | None:
    sg_green = slab.species.sg_green
    if sg_green is None or not slab.volume_mm3:
        return None
    now_kg = shrinkage.mass_kg(slab.volume_mm3, sg_green, from_pct)
    then_kg = shrinkage.mass_at_kg(now_kg, from_pct, to_pct)
    shares = [
        flat / way.thickness.then_mm
        for way in ways
        if way.flat_mm and way.thickness.then_mm
        for flat in way.flat_mm
    ]
    flat_kg = (min(shares) * then_kg, max(shares) * then_kg) if shares else None
    return Masses(now_kg, then_kg, flat_kg, measure.lifting_caution(now_kg, system))


def top_movement(
    width_mm: float,
    made_pct: float,
    winter: Air,
    summer: Air,
    *,
    wood: WoodMovement,
    sawn: str,
) -> TopMovement:
    """How a finished top moves across the grain between the air of two seasons.

    Raises:
        humidity.OutOfRange: with a sentence, for air that cannot be.
    """

    def change(sawn_so: str, to_pct: float) -> float | None:
        (found,) = shrinkage.changes_mm(
            width_mm, made_pct, to_pct, wood=wood, sawn=sawn_so
        ).values()
        return found

    ways = tuple(
        TopWay(way, change(way, winter.emc_pct), change(way, summer.emc_pct))
        for way in shrinkage.ways_sawn(sawn)
    )
    return TopMovement(width_mm, made_pct, winter, summer, sawn, ways)


def slab_words(moves: SlabMovement, system: str) -> str:
    """`Drying from 18.0 to 7.0 % it gets ¾ in narrower and ⅛ in thinner.`"""
    if not moves.is_known:
        return "How it will move is not known: its species has no figures of shrinkage on record."
    if abs(moves.to_pct - moves.from_pct) < 0.05:
        return f"It is at {_pct(moves.to_pct)} already: nothing changes."
    doing = "Drying" if moves.to_pct < moves.from_pct else "Taking up moisture"
    width = _span(moves.ways, lambda way: way.width.change_mm, ("narrower", "wider"), system)
    thick = _span(moves.ways, lambda way: way.thickness.change_mm, ("thinner", "thicker"), system)
    changes = join_words([words for words in (width, thick) if words])
    return f"{doing} from {_pct(moves.from_pct)} to {_pct(moves.to_pct)} it gets {changes}."


def top_words(moves: TopMovement, system: str) -> str:
    """What the top does in winter and in summer, and over the year."""
    if moves.most is None:
        return "How a top of it would move is not known: its species has no figures on record."
    wide = measure.format_fine(moves.width_mm, system)
    seasons = [
        f"{_span(moves.ways, get, ('narrower', 'wider'), system)} in {season}"
        for season, get in (("winter", _in_winter), ("summer", _in_summer))
    ]
    year = _between([way.year_mm for way in moves.ways if way.year_mm is not None], system)
    return (
        f"A top {wide} wide, made at {_pct(moves.made_pct)}, will be {join_words(seasons)}: "
        f"it moves {year} over the year."
    )


def fixing_words(moves: TopMovement, system: str) -> str:
    """How to fix such a top (common practice: tight at the middle, free to slide elsewhere)."""
    most = moves.most
    if most is None or most.edge_mm is None:
        return ""
    play = _between([most.edge_mm], system)
    return (
        "Let it move: hold it fast along the middle only, and screw the rest through slots or "
        f"buttons that run across the grain. At the edges they need {play} of play in all; "
        "a top that is held fast all round cracks or pulls its frame apart."
    )


def way_words(sawn: str) -> str:
    """What is shown where it may be sawn either way; "" where that is known."""
    if sawn == "rift":
        return "It is rift-sawn, which lies between flat- and quarter-sawn: both are shown."
    if sawn in WAY_WORDS:
        return ""
    return "How it was sawn is not on record: it is shown flat-sawn and quarter-sawn."


def hollow_words(slab: Slab, hollow_mm: float) -> str:
    """Asks for the hollow where the slab is noted as cupped, bowed or twisted."""
    noted = [fault for fault in HOLLOW_FAULTS if fault in slab.faults]
    if not noted or hollow_mm:
        return ""
    known = {"cup": "cup", "bow": "bow", "twist": "twist"}
    return (
        f"It is noted for {join_words([known[fault] for fault in noted])}: lay a straightedge "
        "across it and type the hollow, which comes off as well."
    )


def _in_winter(way: TopWay) -> float | None:
    return way.winter_mm


def _in_summer(way: TopWay) -> float | None:
    return way.summer_mm


def _span(
    ways: Sequence[W],
    change_of: Callable[[W], float | None],
    words: tuple[str, str],
    system: str,
) -> str:
    """`3⁄16 in narrower`, or `from ⅛ to ¼ in narrower` where it may be sawn either way."""
    changes = [change for way in ways if (change := change_of(way)) is not None]
    if not changes:
        return ""
    word = words[max(changes, key=abs) > 0]
    return f"{_between([abs(change) for change in changes], system)} {word}"


def _between(amounts: Sequence[float], system: str) -> str:
    """One amount, or the span of two; one that rounds to nothing is only an upper bound."""
    least, most = min(amounts), max(amounts)
    words = measure.format_fine(most, system)
    if _rounds_to_nothing(most, system):
        return f"less than {measure.format_fine(_finest_mm(system), system)}"
    if _rounds_to_nothing(least, system):
        return f"up to {words}"
    from_words = measure.format_fine(least, system)
    return words if from_words == words else f"from {from_words} to {words}"


def _finest_mm(system: str) -> float:
    """The finest step a change is written in."""
    return 0.1 if system == measure.METRIC else MM_PER_IN / 32


def _rounds_to_nothing(mm: float, system: str) -> bool:
    return mm < _finest_mm(system) / 2


def _pct(value: float) -> str:
    return f"{value:.1f}{measure.NBSP}%"
