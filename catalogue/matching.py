"""Commission × slabs → candidates in order, each with its reasons, and what rules out the rest.

Only free slabs are candidates. The database narrows them by stored figures, arrays keep those the
top can lie on (pool.py, options.py), the record says how dry they are, and the best are laid out
exactly. The number of queries does not grow with the yard.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial

import numpy as np
import numpy.typing as npt
from django.db.models import Count

from catalogue import drying_chances, match_words, options, pool, top_figures
from catalogue.drying_chances import Chances
from catalogue.layout import offcuts
from catalogue.match_words import Left, Said, Voice
from catalogue.models import Commission
from catalogue.options import JUDGED_MOST, Looked, Option, Way
from catalogue.pool import Pool
from catalogue.top_figures import TopFigures
from inventory import readiness
from inventory.models import ShapeBasis, Slab
from inventory.models.slab import SlabQuerySet
from inventory.readiness import Target, Use, Verdict
from inventory.wood.shape import Shape

Mask = npt.NDArray[np.bool_]
SHOWN = 12
# No slab outside the target today can be shown to be steady within it sooner (readiness, rule 6).
LEAST_DAYS_TO_DRY = readiness.RULES.steady_days
ORDER = (
    "Ready slabs first, then those nearest to the moisture wanted; then within the budget; "
    "then pairs of one log; then traced outlines before approximate ones; then the least wood "
    "left over. Of those shown and not ready, the likeliest to be dry by the start come first."
)


@dataclass(frozen=True)
class Candidate:
    """An option with what was judged of it."""

    option: Option
    verdicts: tuple[Verdict, ...]
    said: tuple[Said, ...]
    figures: TopFigures
    p_dry_by_start: float | None = None

    @property
    def slabs(self) -> tuple[Slab, ...]:
        return self.option.slabs

    @property
    def is_ready(self) -> bool:
        return all(verdict.is_ready for verdict in self.verdicts)


@dataclass(frozen=True)
class Counted:
    """How many slabs were free (of the species wished), large enough by figures, and looked at."""

    free: int
    large_enough: int
    looked_at: int

    @property
    def is_capped(self) -> bool:
        return self.looked_at < self.large_enough

    @property
    def in_words(self) -> str:
        slabs = "1 free slab" if self.free == 1 else f"{self.free:,} free slabs"
        large = f"Of {slabs}, {self.large_enough:,} could be large enough by length, width"
        if self.is_capped:
            return f"{large} and thickness; the {self.looked_at:,} most promising were looked at."
        return f"{large} and thickness; all of them were looked at."


@dataclass(frozen=True)
class Ranking:
    """What was found for a commission on a day. `fitting` counts the ways that do, within a
    centimetre or so, without those laid out and refused; each one found was proved by exact
    geometry.
    """

    target: Target
    found: tuple[Candidate, ...]
    fitting: int
    fitting_slabs: frozenset[int]
    counted: Counted
    order: str = ORDER


def candidates(commission: Commission, on: date, voice: Voice | None = None) -> Ranking:
    """The best slabs, or pairs, for the commission's top on that day."""
    target, voice = target_of(commission), voice or Voice()
    wished = slabs_wished(commission)
    large = pool.pool_of(_large_enough(wished.free(), commission))
    in_time = large.at(~too_wet(large, commission, target, on))
    looked = options.look_through(commission, in_time, target)
    shown, refused = _shown(looked, in_time, commission, target, on)
    known = _chances(shown, commission, target, on)
    shown.sort(key=lambda judged: _unlikeliness(judged, known))
    beside = _free_beside([slab for option, _ in shown for slab in option.slabs])
    tell = partial(_candidate, known=known, commission=commission, free=beside, voice=voice, on=on)
    standing = [way for way in looked.ways if way.rows not in refused]
    rows = {row for way in standing for row in way.rows}
    return Ranking(
        target=target,
        found=tuple(tell(judged) for judged in shown),
        fitting=len(standing),
        fitting_slabs=frozenset(int(in_time.pk[row]) for row in rows),
        counted=_counted(wished, len(large), looked),
    )


def target_of(commission: Commission) -> Target:
    """The moisture wanted: the range given, else from the home's air, else the use's own."""
    low, high = commission.target_low_pct, commission.target_high_pct
    if low is not None and high is not None:
        return Target(low, high, Use(commission.use))
    if commission.home_temp_c is not None and commission.home_rh_pct is not None:
        return readiness.target_for_home(
            commission.home_temp_c, commission.home_rh_pct, commission.use
        )
    return readiness.target_for(commission.use)


def slabs_wished(commission: Commission) -> SlabQuerySet:
    """In stock and measured, of the species wished; of every species when none is."""
    measured = Slab.objects.in_stock().filter(greatest_width_mm__gt=0)
    wished = [species.pk for species in commission.species.all()]
    return measured.filter(species__in=wished) if wished else measured


def is_too_wet_to_start(slab: Slab, commission: Commission, target: Target, on: date) -> bool:
    """Whether its last check puts it outside the target with too little time left to change.

    A reading that is uncorrected or out of the meter's range must lie further outside.
    """
    start, check = commission.start_on, slab.latest_check
    if start is None or check is None or (start - on).days >= LEAST_DAYS_TO_DRY:
        return False
    doubt_pct = 0.0 if check.is_trusted else readiness.RULES.doubt_pct
    return options.moisture_off_pct(slab, target) > doubt_pct + 1e-6


def too_wet(slabs: Pool, commission: Commission, target: Target, on: date) -> Mask:
    """The rows whose last check puts them outside the target with too little time left to change.

    As `is_too_wet_to_start`; a doubtful reading must lie further outside.
    """
    start = commission.start_on
    if start is None or (start - on).days >= LEAST_DAYS_TO_DRY:
        return np.zeros(len(slabs), dtype=np.bool_)
    off = slabs.off_pct(target)
    known = ~np.isnan(slabs.mc_pct)
    doubt = np.where(slabs.is_trusted, 0.0, readiness.RULES.doubt_pct)
    return np.asarray(known & (off > doubt + 1e-6), dtype=np.bool_)


def _large_enough(slabs: SlabQuerySet, commission: Commission) -> SlabQuerySet:
    return slabs.filter(**options.figures_asked(commission))


def _counted(wished: SlabQuerySet, large: int, looked: Looked) -> Counted:
    free = wished.free().aggregate(free=Count("pk"))["free"]
    return Counted(free, large, looked.looked_at)


Judged = tuple[Option, tuple[Verdict, ...]]


def _shown(
    looked: Looked, slabs: Pool, commission: Commission, target: Target, on: date
) -> tuple[list[Judged], set[tuple[int, ...]]]:
    """The most promising, judged by every rule, in their final order; only what fits exactly. And
    the rows of the ways that do not.

    Layouts are made one after another until enough of them fit: a look by arrays let through what
    exact geometry may refuse.
    """
    ways = looked.ways[:JUDGED_MOST]
    keys = {int(slabs.pk[row]) for way in ways for row in way.rows}
    by_key = Slab.objects.for_cards().select_related("latest_check").in_bulk(keys)
    verdicts = readiness.verdicts_of(by_key.values(), on, target)
    judged = []
    for way in ways:
        given = tuple(by_key[int(slabs.pk[row])] for row in way.rows)
        option = _option(commission, given, looked.shapes)
        judged.append((way, option, tuple(verdicts[slab.pk] for slab in given)))
    judged.sort(key=lambda one: _place(one, commission, target))
    shown: list[Judged] = []
    refused: set[tuple[int, ...]] = set()
    for way, option, found in judged:
        if option.layout.fits:
            shown.append((option, found))
        else:
            refused.add(way.rows)
        if len(shown) == SHOWN:
            break
    return shown, refused


def _option(commission: Commission, slabs: tuple[Slab, ...], known: Mapping[int, Shape]) -> Option:
    given = [known[slab.pk] for slab in slabs]
    return Option(slabs, partial(options.lay, commission, given))


def _chances(shown: Sequence[Judged], commission: Commission, target: Target, on: date) -> Chances:
    """Of the slabs shown and not ready, whether they will be dry by the start; bounded work."""
    slabs = [slab for option, _ in shown for slab in option.slabs]
    verdicts = [verdict for _, some in shown for verdict in some]
    return drying_chances.of_unready(slabs, verdicts, target, commission.start_on, on)


def _unlikeliness(judged: Judged, known: Chances) -> int:
    """What the shown are put in order by, in tenths: ready wood first, 10 for no chance at all.

    Options alike in this keep their order (the sort is stable); without a start date all wet wood
    is alike.
    """
    option, verdicts = judged
    if all(verdict.is_ready for verdict in verdicts):
        return -1
    chance = drying_chances.least(option.slabs, verdicts, known)
    return 10 - round(10 * (chance.p if chance and chance.p is not None else 0.0))


def _place(
    judged: tuple[Way, Option, tuple[Verdict, ...]], commission: Commission, target: Target
) -> tuple[bool, float, int, bool, bool, float, tuple[str, ...]]:
    """The order of ORDER; the tag settles what is left."""
    way, option, verdicts = judged
    is_ready = all(verdict.is_ready for verdict in verdicts)
    off = max(options.moisture_off_pct(slab, target) for slab in option.slabs)
    return (
        not is_ready,
        0.0 if is_ready else round(off, 1),
        _money(option, commission),
        len(option.slabs) > 1 and not option.is_one_log,
        any(slab.shape_basis != ShapeBasis.TRACED for slab in option.slabs),
        way.left_mm3,
        option.codes,
    )


def _money(option: Option, commission: Commission) -> int:
    """0 within the budget or none given, 1 without a price, 2 over it."""
    if commission.budget is None:
        return 0
    if option.asking is None:
        return 1
    return 2 if option.asking > commission.budget else 0


Beside = dict[tuple[int | None, int | None], Slab]


def _free_beside(slabs: Iterable[Slab]) -> Beside:
    """Free slabs of the same logs by log and number."""
    logs = {slab.log_id for slab in slabs if slab.log_id is not None}
    free = Slab.objects.free().filter(log__in=logs, number_in_log__isnull=False)
    return {(slab.log_id, slab.number_in_log): slab for slab in free.only(*_BESIDE_FIELDS)}


_BESIDE_FIELDS = ("code", "log_id", "number_in_log")


def _beside(slab: Slab, free: Beside) -> list[Slab]:
    if slab.log_id is None or slab.number_in_log is None:
        return []
    numbers = (slab.number_in_log - 1, slab.number_in_log + 1)
    return [free[slab.log_id, number] for number in numbers if (slab.log_id, number) in free]


def _candidate(
    judged: Judged,
    *,
    known: Chances,
    commission: Commission,
    free: Beside,
    voice: Voice,
    on: date,
) -> Candidate:
    option, verdicts = judged
    is_ready = all(verdict.is_ready for verdict in verdicts)
    chance = drying_chances.least(option.slabs, verdicts, known)
    target = target_of(commission)
    middle_pct = (target.low_pct + target.high_pct) / 2
    figures = top_figures.figures_of(
        option.layout, option.slabs, commission.finished_thickness_mm, middle_pct, voice.system
    )
    said: list[Said | None] = [
        match_words.fit(option, voice, commission.margin_mm),
        match_words.thickness(option, commission, voice),
        *match_words.moistures(option.slabs, verdicts, commission),
        match_words.start(option, commission, is_ready, on, chance),
        match_words.price(option, commission, voice),
        match_words.log(option, _beside(option.slabs[0], free)),
        match_words.resin(option, figures, voice),
        match_words.mass(figures, voice),
        match_words.left_over(option, _left(option), voice),
        match_words.outline(option),
    ]
    reasons = tuple(reason for reason in said if reason is not None)
    return Candidate(option, verdicts, reasons, figures, chance.p if chance else None)


def _left(option: Option) -> Left:
    """The largest rectangle and round still in what is left of its slabs."""
    pieces = option.layout.offcuts
    return Left(offcuts.largest_rectangle(pieces), offcuts.largest_round(pieces))
