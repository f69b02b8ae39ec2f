"""Commission × slabs → candidates in order, each with its reasons, and what rules out the rest.

Only free slabs are candidates. The database narrows them by stored figures, cheap geometry keeps
those the top can lie on (options.py), the record says how dry they are, and the best are laid out
exactly. The number of queries does not grow with the yard.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Case, Count, IntegerField, Q, Value, When

from catalogue import drying_chances, match_words, options
from catalogue.drying_chances import Chances
from catalogue.match_words import Said, Voice
from catalogue.models import Commission, HowMade
from catalogue.options import Option
from inventory import readiness
from inventory.models import Condition, Slab
from inventory.models.slab import SlabQuerySet
from inventory.readiness import Target, Use, Verdict

# So many slabs are looked at closely; the page says when there were more.
LOOKED_AT_MOST = {
    HowMade.ONE_SLAB: 800,
    HowMade.BOOKMATCHED: 2000,
    HowMade.RESIN_PAIR: 400,
    HowMade.RESIN_SIDES: 800,
}
# So many, the nearest to the target by their last check, are judged by every rule of readiness.
JUDGED_MOST = 60
SHOWN = 12
# No slab outside the target today can be shown to be steady within it sooner (readiness, rule 6).
LEAST_DAYS_TO_DRY = readiness.RULES.steady_days
ORDER = (
    "Ready slabs first, then those nearest to the moisture wanted; then within the budget; "
    "then pairs of one log; then the least wood left over. Of those shown and not ready, the "
    "likeliest to be dry by the start come before the rest."
)


@dataclass(frozen=True)
class Candidate:
    """An option with what was judged of it."""

    option: Option
    verdicts: tuple[Verdict, ...]
    said: tuple[Said, ...]
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
            return f"{large} and thickness; the {self.looked_at:,} most likely were looked at."
        return f"{large} and thickness; all of them were looked at."


@dataclass(frozen=True)
class Ranking:
    """What was found for a commission on a day. `fitting` counts every option that fits."""

    target: Target
    found: tuple[Candidate, ...]
    fitting: int
    fitting_slabs: frozenset[int]
    counted: Counted
    order: str = ORDER


def candidates(commission: Commission, on: date, voice: Voice | None = None) -> Ranking:
    """The best slabs, or pairs, for the commission's top on that day."""
    target = target_of(commission)
    pool = slabs_wished(commission)
    large = _large_enough(pool.free(), commission)
    looked_at = _most_likely(large, commission)
    in_time = [s for s in looked_at if not is_too_wet_to_start(s, commission, target, on)]
    fitting = options.options_for(commission, in_time, target)
    shown = _judged(fitting, commission, target, on)[:SHOWN]
    known = _chances(shown, commission, target, on)
    shown.sort(key=lambda judged: _unlikeliness(judged, known))
    beside = _free_beside([slab for option, _ in shown for slab in option.slabs])
    voice = voice or Voice()
    return Ranking(
        target=target,
        found=tuple(_candidate(pair, known, commission, beside, voice, on) for pair in shown),
        fitting=len(fitting),
        fitting_slabs=frozenset(slab.pk for option in fitting for slab in option.slabs),
        counted=_counted(pool, commission, len(looked_at)),
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


def _large_enough(slabs: SlabQuerySet, commission: Commission) -> SlabQuerySet:
    return slabs.filter(**_figures(commission))


def _figures(commission: Commission) -> dict[str, float | bool]:
    figures: dict[str, float | bool] = {
        "length_mm__gte": commission.top_length_mm,
        "greatest_width_mm__gte": options.width_asked_mm(commission),
        "thickness_mm__gte": options.rough_thickness_mm(commission),
        "area_mm2__gte": options.area_asked_mm2(commission),
    }
    if commission.how_made == HowMade.BOOKMATCHED:
        figures["number_in_log__isnull"] = False
        figures["log__isnull"] = False
    return figures


def _most_likely(slabs: SlabQuerySet, commission: Commission) -> list[Slab]:
    """Wide enough on the mean first, then ready by the interior standard, then the smallest.

    For bookmatches log by log instead, so that neighbours are not parted.
    """
    wide = Q(mean_width_mm__gte=options.mean_width_hoped_mm(commission))
    order: list[str | Case] = [
        _first(wide),
        _first(Q(condition=Condition.READY)),
        "area_mm2",
        "code",
    ]
    if commission.how_made == HowMade.BOOKMATCHED:
        order = [_first(wide), "log", "number_in_log", "code"]
    related = slabs.for_cards().select_related("latest_check")
    return list(related.order_by(*order)[: LOOKED_AT_MOST[HowMade(commission.how_made)]])


def _first(condition: Q) -> Case:
    return Case(When(condition, then=Value(0)), default=Value(1), output_field=IntegerField())


def _counted(pool: SlabQuerySet, commission: Commission, looked_at: int) -> Counted:
    row = pool.free().aggregate(
        free=Count("pk"), large=Count("pk", filter=Q(**_figures(commission)))
    )
    return Counted(row["free"], row["large"], looked_at)


Judged = tuple[Option, tuple[Verdict, ...]]


def _judged(
    fitting: Sequence[Option], commission: Commission, target: Target, on: date
) -> list[Judged]:
    """The most promising, judged by every rule, in their final order; only layouts that fit."""
    promising = sorted(fitting, key=lambda option: _promise(option, commission, target))
    kept = [option for option in promising[:JUDGED_MOST] if option.layout.fits]
    slabs = {slab.pk: slab for option in kept for slab in option.slabs}
    verdicts = readiness.verdicts_of(slabs.values(), on, target)
    judged = [(option, tuple(verdicts[slab.pk] for slab in option.slabs)) for option in kept]
    return sorted(judged, key=lambda pair: _place(pair[0], pair[1], commission, target))


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


def _promise(option: Option, commission: Commission, target: Target) -> tuple[float, int, float]:
    """Before the rules are asked: moisture outside the target, money, size."""
    off = max(options.moisture_off_pct(slab, target) for slab in option.slabs)
    return off, _money(option, commission), option.volume_mm3


def _place(
    option: Option, verdicts: tuple[Verdict, ...], commission: Commission, target: Target
) -> tuple[bool, float, int, bool, float, tuple[str, ...]]:
    """The order of ORDER; the tag settles what is left."""
    is_ready = all(verdict.is_ready for verdict in verdicts)
    off = max(options.moisture_off_pct(slab, target) for slab in option.slabs)
    off_pct = 0.0 if is_ready else round(off, 1)
    other_logs = len(option.slabs) > 1 and not option.is_one_log
    left = option.left_over_mm3
    return not is_ready, off_pct, _money(option, commission), other_logs, left, option.codes


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
    known: Chances,
    commission: Commission,
    free: Beside,
    voice: Voice,
    on: date,
) -> Candidate:
    option, verdicts = judged
    is_ready = all(verdict.is_ready for verdict in verdicts)
    chance = drying_chances.least(option.slabs, verdicts, known)
    said: list[Said | None] = [
        match_words.fit(option, voice),
        match_words.thickness(option, commission, voice),
        *match_words.moistures(option.slabs, verdicts, commission),
        match_words.start(option, commission, is_ready, on, chance),
        match_words.price(option, commission, voice),
        match_words.log(option, _beside(option.slabs[0], free)),
        match_words.resin(option, commission, voice) if option.layout.gap_mm else None,
        match_words.left_over(option, voice),
    ]
    reasons = tuple(reason for reason in said if reason is not None)
    return Candidate(option, verdicts, reasons, chance.p if chance else None)
