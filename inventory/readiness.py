"""Whether a slab is ready for a use, and why not: the one place that says so.

`judge` is pure: facts, a target and a day in, a verdict out. `facts_of` reads the facts of many
slabs at once; `stored` and `stored_many` give what inventory/derive.py keeps on the row. The seven
rules stand in readiness_rules.py, their numbers in `Rules`.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import islice
from typing import Any

from django.db.models import Q

from inventory.models import (
    Condition,
    DryingStage,
    MoistureCheck,
    Slab,
    SlabForecast,
    StageKind,
)
from inventory.models.place import SHOP_AIR
from inventory.readiness_rules import (
    RULES,
    CheckFacts,
    Facts,
    Outcome,
    Reason,
    Rules,
    StageFacts,
    Target,
    Use,
    as_of,
    last_metered,
    reasons_for,
    resting_since,
)
from inventory.wood import humidity

__all__ = [
    "INTERIOR",
    "RULES",
    "CheckFacts",
    "Facts",
    "Outcome",
    "Reason",
    "Rules",
    "StageFacts",
    "Target",
    "Use",
    "Verdict",
    "check_due_on",
    "facts_of",
    "judge",
    "stored",
    "stored_many",
    "target_for",
    "target_for_home",
    "verdict_of",
    "verdicts_of",
]

# Interior furniture 6–8 %: Wood Handbook (FPL-GTR-190, 2010), chapter 13. Resin: the same.
# Outdoor 9–14 %: the same chapter's exterior trim, 12 (9–14) in most areas (from memory).
INTERIOR = Target(6.0, 8.0, Use.INTERIOR)
TARGETS = {
    Use.INTERIOR: INTERIOR,
    Use.RESIN: Target(6.0, 8.0, Use.RESIN),
    Use.OUTDOOR: Target(9.0, 14.0, Use.OUTDOOR),
}
# Resin wants wood no wetter than about 12 % (common practice).
RESIN_TOP_PCT = 12.0
HOME_MARGIN_PCT = 1.0
ONE_DAY = timedelta(days=1)
# SQLite takes some 32,000 parameters in a statement; more slabs than this go in several.
SLABS_A_QUERY = 20_000


@dataclass(frozen=True)
class Verdict:
    """What the facts say on a day, for a target.

    `until` is the last day on which `condition` stays true without a new fact; None when it
    stays so until somebody measures or moves the slab. `next_step` is one sentence, written by
    readiness_advice.py where somebody will read it.
    """

    condition: Condition
    is_ready: bool
    reasons: tuple[Reason, ...]
    until: date | None
    target: Target
    on: date
    next_step: str = ""

    def reason(self, rule: str) -> Reason:
        return next(reason for reason in self.reasons if reason.rule == rule)

    @property
    def unmet(self) -> tuple[Reason, ...]:
        """What stands in the way: the rules not met and those not known."""
        return tuple(reason for reason in self.reasons if reason.outcome is not Outcome.MET)

    @property
    def shape(self) -> str:
        """The condition's shape in static/icons.svg."""
        return f"condition-{self.condition.value}"

    @property
    def in_words(self) -> str:
        """One sentence for the top of a page."""
        if self.is_ready:
            return f"Ready for {self.target.use_words}."
        return _CONDITION_WORDS[self.condition].format(use=self.target.use_words)


_CONDITION_WORDS = {
    Condition.GREEN: "Green: above fibre saturation, a long way from {use}.",
    Condition.DRYING: "Still drying: too wet for {use}.",
    Condition.RESTING: "Dry enough for {use}, and not settled yet.",
    Condition.TOO_DRY: "Drier than {use} wants.",
    Condition.UNKNOWN: "Whether it is ready for {use} is not known.",
}


def target_for(use: Use | str) -> Target:
    """The default target of a use. Raises ValueError for a use we do not know."""
    return TARGETS[Use(use)]


def target_for_home(temp_c: float, rh_pct: float, use: Use | str = Use.INTERIOR) -> Target:
    """The EMC of the air where the piece will live, ± 1; resin never above 12 %.

    Raises:
        humidity.OutOfRange: with a sentence, for air that cannot be.
    """
    emc = humidity.emc_pct(temp_c, rh_pct)
    high = emc + HOME_MARGIN_PCT
    if Use(use) is Use.RESIN:
        high = min(high, RESIN_TOP_PCT)
    return Target(max(0.0, high - 2 * HOME_MARGIN_PCT), high, Use(use))


def judge(facts: Facts, target: Target, on: date, rules: Rules = RULES) -> Verdict:
    """The verdict of the seven rules on a day; facts dated after that day are not looked at."""
    verdict = _judge_day(facts, target, on, rules)
    return replace(verdict, until=_until(facts, verdict, rules))


def verdict_of(slab: Slab, on: date, target: Target | None = None) -> Verdict:
    """The verdict on one slab, read from the record; interior furniture unless told otherwise."""
    return verdicts_of([slab], on, target)[slab.pk]


def verdicts_of(
    slabs: Iterable[Slab], on: date, target: Target | None = None
) -> dict[int, Verdict]:
    """The verdict on each of many slabs, by primary key, in two queries."""
    facts = facts_of(slabs)
    return {pk: judge(found, target or INTERIOR, on) for pk, found in facts.items()}


def stored(slab: Slab, on: date) -> dict[str, Any]:
    """What the slab's row keeps of its moisture (see `stored_many`)."""
    return stored_many([slab], on)[slab.pk]


def stored_many(slabs: Iterable[Slab], on: date) -> dict[int, dict[str, Any]]:
    """By primary key, the moisture fields of Slab: the verdict for interior furniture on a day.

    Three queries however many slabs (three for every 20,000). `condition_until` is the last day
    on which `condition` is true without a new fact; `ready_since` the first day of the present
    unbroken readiness; `check_due_on` see `check_due_on`.
    """
    found = facts_of(slabs)
    earliest = _earliest_arrivals(list(found))
    return {
        pk: _row_of(facts, on, earliest.get((pk, facts.latest.pk)) if facts.latest else None)
        for pk, facts in found.items()
    }


def _earliest_arrivals(pks: Sequence[int]) -> dict[tuple[int, int | None], date]:
    """By slab and latest check, the stored forecasts' 10 % points of reaching interior dryness."""
    found: dict[tuple[int, int | None], date] = {}
    remaining = iter(pks)
    while batch := list(islice(remaining, SLABS_A_QUERY)):
        rows = SlabForecast.objects.filter(slab__in=batch)
        for slab, check, low_on in rows.values_list("slab_id", "check_id", "low_on"):
            if low_on is not None:
                found[slab, check] = low_on
    return found


def facts_of(slabs: Iterable[Slab]) -> dict[int, Facts]:
    """The facts of each slab, by primary key: its checks no correction has replaced, its stages."""
    found: dict[int, Facts] = {}
    remaining = iter(slabs)
    while batch := list(islice(remaining, SLABS_A_QUERY)):
        found |= _facts_of_batch(batch)
    return found


def _facts_of_batch(slabs: Sequence[Slab]) -> dict[int, Facts]:
    pks = [slab.pk for slab in slabs]
    checks: dict[int, list[CheckFacts]] = {pk: [] for pk in pks}
    stages: dict[int, list[StageFacts]] = {pk: [] for pk in pks}
    for slab_id, check in _checks(pks):
        checks[slab_id].append(check)
    for slab_id, stage in _stages(pks):
        stages[slab_id].append(stage)
    return {
        slab.pk: Facts(tuple(checks[slab.pk]), tuple(stages[slab.pk]), slab.thickness_mm)
        for slab in slabs
    }


def _checks(pks: Sequence[int]) -> Iterator[tuple[int, CheckFacts]]:
    """Latest first."""
    names = ("pk", "on", "mean_pct", "max_pct", "shell_pct", "core_pct", "spread_pct", "places")
    rows = MoistureCheck.objects.current().filter(slab__in=pks, mean_pct__isnull=False)
    told = rows.annotate(is_weighed=Q(weighing__isnull=False))
    expected = ("expected_pct", "expected_sd_pct")
    named = told.values_list("slab_id", *names, "is_trusted", "is_weighed", *expected)
    for slab_id, *values in named:
        yield slab_id, CheckFacts(*values)


def _stages(pks: Sequence[int]) -> Iterator[tuple[int, StageFacts]]:
    """Oldest first."""
    rows = DryingStage.objects.filter(slab__in=pks).order_by("started_on", "pk")
    names = ("slab_id", "kind", "place__kind", "started_on", "ended_on")
    for slab_id, kind, place_kind, started_on, ended_on in rows.values_list(*names):
        yield slab_id, StageFacts(kind, started_on, ended_on, _is_shop_air(kind, place_kind))


def _is_shop_air(stage_kind: str, place_kind: str | None) -> bool:
    """The place tells where one is named; a kiln run is never rest."""
    if stage_kind == StageKind.KILN:
        return False
    if place_kind is not None:
        return place_kind in SHOP_AIR
    return stage_kind in (StageKind.SHOP, StageKind.CONDITIONING)


def _judge_day(facts: Facts, target: Target, on: date, rules: Rules) -> Verdict:
    """The verdict without its last day."""
    seen = as_of(facts, on, rules)
    reasons = reasons_for(seen, target, on, rules)
    is_ready = all(reason.outcome is Outcome.MET for reason in reasons)
    condition = Condition.READY if is_ready else _condition(seen, target, on, rules, reasons)
    return Verdict(condition, is_ready, reasons, None, target, on)


def _condition(
    facts: Facts, target: Target, on: date, rules: Rules, reasons: Sequence[Reason]
) -> Condition:
    """How dry, short of ready.

    Wet wood is called wet on any evidence; dry enough, or too dry, only on readings that are
    trusted and enough: a few readings at the shell say nothing of the core. A weighing is of the
    whole slab, core and all.
    """
    latest = facts.latest
    if latest is None or on > _believed_until(facts, target, rules):
        return Condition.UNKNOWN
    if latest.mean_pct > facts.fsp_pct:
        return Condition.GREEN
    outcome = {reason.rule: reason.outcome for reason in reasons}
    if outcome["target"] is Outcome.NOT_MET and not latest.mean_pct < target.low_pct:
        return Condition.DRYING
    is_enough = latest.is_weighed or outcome["readings"] is Outcome.MET
    if not latest.is_trusted or not is_enough:
        return Condition.UNKNOWN
    return Condition.RESTING if outcome["target"] is Outcome.MET else Condition.TOO_DRY


def _believed_until(facts: Facts, target: Target, rules: Rules) -> date:
    """Last day on which the latest check still says how dry the slab is.

    30 days; but one far above the target is believed for 90, out of the kiln: no air takes a slab
    from there to dry in a month, and a yard is not walked with the meter every month.
    """
    latest = facts.latest
    assert latest is not None
    is_far = latest.mean_pct > target.high_pct + rules.far_above_pct
    days = rules.far_check_days if is_far and not _kilned_since(facts, latest) else rules.check_days
    return latest.on + timedelta(days=days)


def _kilned_since(facts: Facts, check: CheckFacts) -> bool:
    return any(
        stage.kind == StageKind.KILN and (stage.ended_on is None or stage.ended_on >= check.on)
        for stage in facts.stages
    )


def _until(facts: Facts, verdict: Verdict, rules: Rules) -> date | None:
    """The last day before the condition changes by the calendar alone, None when it never does."""
    for day in sorted(_turning_days(facts, verdict.on, rules)):
        later = _judge_day(facts, verdict.target, day + ONE_DAY, rules)
        if later.condition != verdict.condition:
            return day
    return None


def _turning_days(facts: Facts, on: date, rules: Rules) -> set[date]:
    """Every day from `on` after which a verdict could differ though nobody does anything."""
    seen = as_of(facts, on)
    days: set[date] = set()
    if seen.latest is not None:
        days |= {
            seen.latest.on + timedelta(days=n) for n in (rules.check_days, rules.far_check_days)
        }
    metered = last_metered(seen.checks)
    if metered is not None:
        days.add(metered.on + timedelta(days=rules.check_days))
    since = resting_since(seen.stages)
    if since is not None:
        days.add(since + timedelta(days=rules.rest_days - 1))
    days |= {check.on - ONE_DAY for check in facts.checks}
    days |= {stage.started_on - ONE_DAY for stage in facts.stages}
    days |= {stage.ended_on for stage in facts.stages if stage.ended_on is not None}
    return {day for day in days if day >= on}


def _row_of(facts: Facts, on: date, arrives_from: date | None = None) -> dict[str, Any]:
    verdict = judge(facts, INTERIOR, on)
    seen = as_of(facts, on)
    latest = seen.latest
    return {
        "latest_check_id": latest.pk if latest else None,
        "checked_on": latest.on if latest else None,
        "mc_pct": latest.mean_pct if latest else None,
        "check_due_on": check_due_on(seen, verdict, RULES, arrives_from),
        "condition": verdict.condition.value,
        "condition_until": verdict.until,
        "ready_since": _ready_since(facts, verdict, RULES) if verdict.is_ready else None,
    }


def _ready_since(facts: Facts, verdict: Verdict, rules: Rules) -> date:
    """First day of the unbroken readiness that a ready verdict stands in.

    Readiness can only begin with a check or with the last day of rest, so only those days are
    looked at, backwards, until the day before one was not ready.
    """
    rest = timedelta(days=rules.rest_days)
    begins = {check.on for check in facts.checks} | {s.started_on + rest for s in facts.stages}
    since = verdict.on
    for day in sorted((day for day in begins if day <= verdict.on), reverse=True):
        since = day
        if not _judge_day(facts, verdict.target, day - ONE_DAY, rules).is_ready:
            break
    return since


def check_due_on(
    facts: Facts, verdict: Verdict, rules: Rules, arrives_from: date | None = None
) -> date | None:
    """When the slab wants its next check; None (never checked) means now.

    `arrives_from` is the day by which a forecast made since the latest check gives one chance in
    ten that the target is reached: wet wood outside the kiln is due then, a week after its latest
    check at the soonest and 60 days after it at the latest.

    ready, too dry: on the last day the check counts (30 days). Resting: when 14 days have passed
    if that could show it steady or even, else as for ready. Drying and green without a
    forecast: by thickness, and at half the way to the target where two checks tell the pace,
    between 14 and 60 days; weekly in the kiln. Not known for want of readings or trust: a week
    after.
    """
    if facts.latest is None:
        return None
    days = rules.check_days
    if verdict.condition in (Condition.DRYING, Condition.GREEN):
        days = _drying_check_days(facts, verdict.target, rules, arrives_from)
    elif verdict.condition is Condition.RESTING:
        waits = {reason.rule for reason in verdict.unmet} - {"rested"}
        days = rules.steady_days if waits else rules.check_days
    elif verdict.condition is Condition.UNKNOWN:
        fresh = _judge_day(facts, verdict.target, facts.latest.on, rules)
        if fresh.condition is Condition.UNKNOWN:
            days = rules.recheck_days
    return facts.latest.on + timedelta(days=days)


def _drying_check_days(
    facts: Facts, target: Target, rules: Rules, arrives_from: date | None
) -> int:
    """Days between checks of wet wood; thicker wood changes more slowly (time ~ thickness^1.5)."""
    if facts.stages and facts.stages[-1].kind == StageKind.KILN and not facts.stages[-1].ended_on:
        return rules.recheck_days
    if arrives_from is not None and facts.latest is not None:
        ahead = (arrives_from - facts.latest.on).days
        return min(max(ahead, rules.recheck_days), rules.longest_check_days)
    inches: float = max(1.0, facts.thickness_mm / 25.4)
    by_thickness: float = rules.drying_check_days_an_inch * inches**1.5
    days = min(by_thickness, _half_way_days(facts, target) or by_thickness)
    return round(min(max(days, rules.steady_days), rules.longest_check_days))


def _half_way_days(facts: Facts, target: Target) -> float | None:
    """Half the time the last two checks' pace would take to the target's top, a hopeful line."""
    if len(facts.checks) < 2:
        return None
    latest, before = facts.checks[0], facts.checks[1]
    days = (latest.on - before.on).days
    fall_pct = before.mean_pct - latest.mean_pct
    if days <= 0 or fall_pct <= 0:
        return None
    return (latest.mean_pct - target.high_pct) / fall_pct * days / 2
