"""The slabs that come nearest to a top without becoming it, and what rules each out."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from itertools import chain

import numpy as np
from django.db.models import Case, Exists, F, FloatField, OuterRef, Value, When
from django.db.models.functions import Greatest

from catalogue import options
from catalogue.layout import pair_search, quick
from catalogue.layout.laid import Layout
from catalogue.layout.rules import ALLOWANCES
from catalogue.layout.tops import Top
from catalogue.match_words import Voice
from catalogue.matching import Ranking, is_too_wet_to_start, slabs_wished
from catalogue.models import Commission, CommissionHold, HowMade
from inventory import shapes
from inventory.models import Hold, Slab, Standing
from inventory.models.slab import SlabQuerySet
from inventory.readiness import Target
from inventory.wood.shape import Shape
from inventory.words import day_words, join_words

SHOWN = 12
LOOKED_AT = 40
# So many slabs are tried beside one that has no partner.
PARTNERS_MOST = 1000
JUST_MM = 1.0
NARROWED_TIMES = 5
LEAST_MM = 20.0
HAIR = 1e-6
# Where a promise or moisture is all that is wrong, it counts like so much of the size missing.
HELD_SHARE, ALLOTTED_SHARE, MOISTURE_SHARE_A_PCT = 0.03, 0.06, 0.02


@dataclass(frozen=True)
class Bar:
    """One thing that rules a slab out: the sentence's part, and how far off as a share."""

    words: str
    share: float


@dataclass(frozen=True)
class NearMiss:
    slab: Slab
    bars: tuple[Bar, ...]

    @property
    def share(self) -> float:
        return sum(bar.share for bar in self.bars)

    @property
    def in_words(self) -> str:
        words = join_words([bar.words for bar in self.bars])
        return f"{words[:1].upper()}{words[1:]}."


def near_misses(
    commission: Commission, ranking: Ranking, on: date, voice: Voice | None = None
) -> list[NearMiss]:
    """The dozen nearest slabs in stock that are no candidate, nearest first; none that is gone."""
    slabs = list(_nearest(commission, ranking))
    until = _held_until(slabs)
    known = shapes.shapes_of(slabs)
    beside = _partners(commission, slabs)
    view = _View(commission, ranking, voice or Voice(), on, until, known, beside)
    misses = [NearMiss(slab, tuple(view.bars(slab))) for slab in slabs]
    missed = [miss for miss in misses if miss.bars]
    return sorted(missed, key=lambda miss: (miss.share, miss.slab.code))[:SHOWN]


def _nearest(commission: Commission, ranking: Ranking) -> SlabQuerySet:
    """By the sum of what is missing of length, width and thickness, each as a share."""
    own = CommissionHold.objects.filter(
        commission=commission, hold__slab=OuterRef("pk"), hold__ended_at__isnull=True
    )
    rest = slabs_wished(commission).exclude(pk__in=ranking.fitting_slabs).filter(~Exists(own))
    short = _missing("length_mm", commission.top_length_mm)
    narrow = _missing("greatest_width_mm", options.width_asked_mm(commission))
    thin = _missing("thickness_mm", options.rough_thickness_mm(commission))
    promised = Case(When(standing=Standing.FREE, then=Value(0)), default=Value(1))
    ordered = rest.annotate(missing=short + narrow + thin, promised=promised)
    related = ordered.for_cards().select_related("latest_check")
    return related.order_by("missing", "promised", "code")[:LOOKED_AT]


def _missing(field: str, wanted_mm: float) -> Greatest:
    share = (Value(wanted_mm) - F(field)) / Value(wanted_mm)
    return Greatest(Value(0.0), share, output_field=FloatField())


def _held_until(slabs: list[Slab]) -> dict[int, date]:
    held = Hold.objects.active().filter(slab__in=slabs, until__isnull=False)
    return {slab_id: until for slab_id, until in held.values_list("slab_id", "until") if until}


def _partners(commission: Commission, slabs: list[Slab]) -> dict[int, dict[int, Shape]]:
    """Species → the free slabs large enough to be half of a pair with resin, by their keys."""
    if commission.how_made != HowMade.RESIN_PAIR:
        return {}
    free = Slab.objects.free().filter(species__in={slab.species_id for slab in slabs})
    large = free.filter(**options.figures_asked(commission)).order_by("pk")
    species = dict(large.values_list("pk", "species_id")[:PARTNERS_MOST])
    found: dict[int, dict[int, Shape]] = {}
    for pk, shape in shapes.stored(species).items():
        found.setdefault(species[pk], {})[pk] = shape
    return found


@dataclass(frozen=True)
class _View:
    """What the bars of every slab are judged by."""

    commission: Commission
    ranking: Ranking
    voice: Voice
    on: date
    until: dict[int, date]
    shapes: Mapping[int, Shape]
    beside: Mapping[int, Mapping[int, Shape]]

    def bars(self, slab: Slab) -> Iterator[Bar]:
        size = list(chain(self._length(slab), self._width(slab), self._thickness(slab)))
        yield from size
        yield from self._promise(slab)
        wet = list(self._moisture(slab))
        yield from wet
        if not (size or wet) and slab.standing == Standing.FREE:
            yield from self._partner(slab)

    def _length(self, slab: Slab) -> Iterator[Bar]:
        wanted = self.commission.top_length_mm
        if slab.length_mm < wanted * (1 - HAIR):
            yield self._short("too short", wanted - slab.length_mm, wanted)

    def _width(self, slab: Slab) -> Iterator[Bar]:
        """By the layout where the length allows it, else by the greatest width."""
        wanted = options.width_asked_mm(self.commission)
        if slab.length_mm < self.commission.top_length_mm * (1 - HAIR):
            missing = wanted - slab.greatest_width_mm
        else:
            missing = self._width_missing(slab, wanted)
        if missing > JUST_MM:
            yield self._short("too narrow", missing, wanted)

    def _width_missing(self, slab: Slab, wanted: float) -> float:
        """How much narrower the top, or its half, would have to be for this slab."""
        shape = self.shapes.get(slab.pk)
        how = self.commission.how_made
        if shape is None or how in (HowMade.RESIN_PAIR, HowMade.RESIN_SIDES):
            return wanted - slab.greatest_width_mm
        top = options.top_of(self.commission)
        if how == HowMade.BOOKMATCHED:
            half = top.width_mm / 2 + ALLOWANCES.joint_mm
            top = Top("rectangle", top.length_mm, half)
        kept_mm = self.commission.margin_mm + self.commission.wane_mm
        return _width_missing_mm(top, shape, kept_mm)

    def _thickness(self, slab: Slab) -> Iterator[Bar]:
        wanted = options.rough_thickness_mm(self.commission)
        if slab.thickness_mm < wanted:
            yield self._short("too thin", wanted - slab.thickness_mm, wanted)

    def _promise(self, slab: Slab) -> Iterator[Bar]:
        if slab.standing == Standing.HELD:
            until = self.until.get(slab.pk)
            when = f" until {day_words(until, self.on)}" if until else ""
            yield Bar(f"held{when}", HELD_SHARE)
        elif slab.standing == Standing.ALLOTTED:
            yield Bar("allotted to another piece", ALLOTTED_SHARE)

    def _moisture(self, slab: Slab) -> Iterator[Bar]:
        target = self.ranking.target
        if not is_too_wet_to_start(slab, self.commission, target, self.on):
            return
        off = options.moisture_off_pct(slab, target)
        yield Bar(_moisture_words(slab, target), off * MOISTURE_SHARE_A_PCT)

    def _partner(self, slab: Slab) -> Iterator[Bar]:
        how_made = self.commission.how_made
        if how_made == HowMade.BOOKMATCHED:
            yield Bar(self._no_bookmatch(slab), ALLOTTED_SHARE)
        elif how_made == HowMade.RESIN_SIDES:
            yield from self._resin_beside(slab)
        elif how_made == HowMade.RESIN_PAIR and not self._may_pair(slab):
            yield Bar("no other free slab of its species goes with it", HELD_SHARE)
        elif how_made == HowMade.ONE_SLAB:
            yield from self._not_quite(slab)

    def _not_quite(self, slab: Slab) -> Iterator[Bar]:
        """By the exact layout: a slab that is large enough and does not hold the top's shape."""
        laid = self._laid(slab)
        if laid is not None and not laid.fits:
            missing, top = max(0.0, -laid.margin_mm), self.commission.top_width_mm
            by = self.voice.length(missing) if missing > JUST_MM else "a hair"
            yield Bar(f"misses by {by} where it would fit best", missing / top)

    def _laid(self, slab: Slab) -> Layout | None:
        shape = self.shapes.get(slab.pk)
        try:
            return options.lay(self.commission, [shape]) if shape else None
        except ValueError:
            return None

    def _resin_beside(self, slab: Slab) -> Iterator[Bar]:
        """Laid out: a slab that would do and was not among those looked at is no miss."""
        laid = self._laid(slab)
        if laid and laid.gap_mm and not laid.fits:
            wide, top = laid.gap_mm[2], self.commission.top_width_mm
            allowed = ALLOWANCES.resin_gap_share * top
            if wide > allowed:
                said = f"{self.voice.length(wide)} wide, {self.voice.length(allowed)} is allowed"
                yield Bar(f"the resin beside it would be {said}", (wide - allowed) / top)
            else:
                yield Bar("it does not reach from end to end", -laid.margin_mm / top)

    def _may_pair(self, slab: Slab) -> bool:
        shape = self.shapes.get(slab.pk)
        others = [
            other for pk, other in self.beside.get(slab.species_id, {}).items() if pk != slab.pk
        ]
        return shape is not None and pair_search.may_pair(
            options.top_of(self.commission),
            shape,
            others,
            margin_mm=self.commission.margin_mm,
            wane_mm=self.commission.wane_mm,
            rules=ALLOWANCES,
        )

    def _no_bookmatch(self, slab: Slab) -> str:
        if slab.log_id is None or slab.number_in_log is None:
            return "not numbered in a log, so its neighbour is not known"
        thicker = self.voice.length(ALLOWANCES.pair_thickness_mm)
        return f"no free neighbour of its log fits with it, within {thicker} of its thickness"

    def _short(self, words: str, missing_mm: float, wanted_mm: float) -> Bar:
        return Bar(f"{words} by {self.voice.length(missing_mm)}", missing_mm / wanted_mm)


def _width_missing_mm(top: Top, shape: Shape, kept_mm: float) -> float:
    """By how much the top's width is more than this slab holds, its length as it is.

    A curved top that is made narrower also changes its curve, so it is asked again.
    """
    if top.shape == "round":
        return top.width_mm + 2 * kept_mm - shape.circle[2]
    width = top.width_mm
    for _ in range(NARROWED_TIMES):
        tried = replace(top, width_mm=width, end_width_mm=min(top.end_width_mm, width))
        (spare,) = quick.spare_mm(tried, [shape.profile_mm])
        if not np.isfinite(spare):
            return top.width_mm - shape.least_width_mm
        width += 2 * float(spare - kept_mm)
        if width <= LEAST_MM or abs(spare - kept_mm) < JUST_MM / 2:
            break
    return top.width_mm - max(width, 0.0)


def _moisture_words(slab: Slab, target: Target) -> str:
    mean = slab.mc_pct or 0.0
    is_wet = mean > target.high_pct
    limit = target.high_pct if is_wet else target.low_pct
    said, needed = _told_apart(mean, limit)
    return f"moisture {said} %, needs {needed} at {'most' if is_wet else 'least'}"


def _told_apart(one: float, other: float) -> tuple[str, str]:
    """Both to a tenth, or to as many places as it takes to see that they differ."""
    for places in (1, 2, 3):
        words = f"{one:.{places}f}", f"{other:.{places}f}"
        if words[0] != words[1]:
            break
    return words[0], words[1].removesuffix(".0")
