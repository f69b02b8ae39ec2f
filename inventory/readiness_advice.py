"""What would settle what is not known of a slab, and the next thing to do with it: sentences.

Pure: facts, a verdict on them and the air of places in, the verdict with its sentences out. Lengths
are in the viewer's units, which is why readiness.judge does not write these itself.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from inventory.models import Condition
from inventory.readiness import RULES, Verdict, check_due_on
from inventory.readiness_rules import (
    DUST,
    CheckFacts,
    Facts,
    Outcome,
    Rules,
    as_of,
    plain,
    resting_since,
)
from inventory.reading_plan import CORE_SHARE, SHELL_SHARE, depth_text
from inventory.wood.moisture import AIM_SHARE, PIN_FROM_PCT, PIN_TO_PCT
from inventory.words import day_words

# Wood goes into a kiln or a heated room at or below about 20 % (common practice); wetter wood
# brought into dry air cracks.
WARM_AIR_FROM_PCT = 20.0


@dataclass(frozen=True)
class Air:
    """A place and the EMC (%) wood in it heads for; None where its air is not on record."""

    place: str
    emc_pct: float | None
    is_shop_air: bool
    is_kiln: bool = False


@dataclass(frozen=True)
class Surroundings:
    """The air where the slab lies, and that of the shop's other places in walking order."""

    here: Air | None = None
    others: tuple[Air, ...] = ()


@dataclass(frozen=True)
class Arrival:
    """The days by which a forecast made since the latest check gives one chance in ten, and even
    chances, that the target is reached; None where there are none."""

    low_on: date | None = None
    median_on: date | None = None


@dataclass(frozen=True)
class _Case:
    """What a sentence is made from; `facts` are those of the verdict's day."""

    facts: Facts
    verdict: Verdict
    due_on: date | None
    system: str
    around: Surroundings
    rules: Rules
    arrival: Arrival

    @property
    def on(self) -> date:
        return self.verdict.on

    @property
    def latest(self) -> CheckFacts:
        assert self.facts.latest is not None
        return self.facts.latest

    def outcome(self, rule: str) -> Outcome:
        return self.verdict.reason(rule).outcome

    def depth(self, share: float) -> str:
        return depth_text(share * self.facts.thickness_mm, self.system)


def advised(
    verdict: Verdict,
    facts: Facts,
    system: str,
    around: Surroundings | None = None,
    rules: Rules = RULES,
    arrival: Arrival | None = None,
) -> Verdict:
    """The verdict with what would settle each rule not known, and with its next step.

    `facts` are those it was judged on. Without `around` nothing is said of the air of places.
    `arrival` is when wet wood will be there, where a forecast tells.
    """
    seen, foreseen = as_of(facts, verdict.on), arrival or Arrival()
    due_on = check_due_on(seen, verdict, rules, foreseen.low_on)
    case = _Case(seen, verdict, due_on, system, around or Surroundings(), rules, foreseen)
    reasons = tuple(
        replace(reason, settle=_SETTLE[reason.rule](case))
        if reason.outcome is Outcome.NOT_KNOWN
        else reason
        for reason in verdict.reasons
    )
    return replace(verdict, reasons=reasons, next_step=_next_step(case))


# --- what would settle a rule that is not known ------------------------------------------


def _settle_checked(case: _Case) -> str:
    return f"Check it with a meter: {_whole_check(case)}."


def _settle_target(case: _Case) -> str:
    if case.facts.latest is None:
        aim = case.depth(AIM_SHARE)
        return f"Read it with the pins at {aim}: the mean of the thickness lies there."
    return _trust(case)


def _settle_gradient(case: _Case) -> str:
    latest = case.facts.latest
    core, shell = case.depth(CORE_SHARE), case.depth(SHELL_SHARE)
    if latest is None or (latest.core_pct is None and latest.shell_pct is None):
        return f"Take a core reading in the middle, at {core}, and a shell reading, at {shell}."
    if latest.core_pct is None:
        return f"Take a core reading in the middle, at {core}."
    if latest.shell_pct is None:
        return f"Take a shell reading in the middle, at {shell}."
    return _trust(case)


def _settle_spread(case: _Case) -> str:
    latest = case.facts.latest
    if latest is not None and latest.spread_pct is not None:
        return _trust(case)
    aim = case.depth(AIM_SHARE)
    return f"Read {case.rules.least_places} places along it at one depth, {aim}."


def _settle_steady(case: _Case) -> str:
    days = case.rules.steady_days
    latest = case.facts.latest
    if latest is None:
        return f"Check it twice, {days} days or more apart."
    if not latest.is_trusted:
        return _trust(case)
    again = latest.on + timedelta(days=days)
    if again <= case.on:
        return "Check it again now."
    return f"Check it again on {day_words(again, case.on)} or later."


def _settle_rested(case: _Case) -> str:
    return "Write down where it lies and since when, by moving it there."


_SETTLE: dict[str, Callable[[_Case], str]] = {
    "checked": _settle_checked,
    "readings": _settle_checked,
    "target": _settle_target,
    "gradient": _settle_gradient,
    "spread": _settle_spread,
    "steady": _settle_steady,
    "rested": _settle_rested,
}


def _whole_check(case: _Case) -> str:
    """`read 3 places along it with the pins at 11 mm, and the core in the middle at 27 mm`."""
    aim = case.depth(AIM_SHARE)
    read = f"read {case.rules.least_places} places along it with the pins at {aim}"
    if case.facts.thickness_mm <= case.rules.core_above_mm:
        return read
    return f"{read}, and the core in the middle at {case.depth(CORE_SHARE)}"


def _trust(case: _Case) -> str:
    """How the doubt about an uncorrected reading, or one outside the range, is got rid of."""
    if case.latest.max_pct > PIN_TO_PCT:
        return (
            f"Weigh it, or check it again when it is drier: "
            f"above {plain(PIN_TO_PCT)} % pins tell nothing sure."
        )
    if case.latest.mean_pct < PIN_FROM_PCT:
        return f"Weigh it: below {plain(PIN_FROM_PCT)} % pins tell nothing sure."
    return "Check it again: write down the wood's temperature, and set the meter to the species."


# --- the next thing to do -----------------------------------------------------------------


def _next_step(case: _Case) -> str:
    """The first step that applies, in the order of `_STEPS`; the last always does."""
    return next(sentence for step in _STEPS if (sentence := step(case)) is not None)


def _first_check(case: _Case) -> str | None:
    return _settle_checked(case) if case.facts.latest is None else None


def _use_it(case: _Case) -> str | None:
    if not case.verdict.is_ready:
        return None
    last = case.latest.on + timedelta(days=case.rules.check_days)
    return f"It may be worked; check it again by {day_words(last, case.on)} to keep it so."


def _look_again(case: _Case) -> str | None:
    """Too old to tell, or due: nothing else is worth doing before it is known how dry it is."""
    is_unknown = case.verdict.condition is Condition.UNKNOWN
    is_stale = is_unknown and case.outcome("checked") is Outcome.NOT_MET
    is_due = not is_unknown and case.due_on is not None and case.due_on <= case.on
    return f"Check it again: {_whole_check(case)}." if is_stale or is_due else None


def _read_more(case: _Case) -> str | None:
    """What is missing from the last check of wood that may be dry enough."""
    if case.verdict.condition in (Condition.GREEN, Condition.DRYING):
        return None
    lacks_places = case.latest.places < case.rules.least_places
    if case.outcome("readings") is Outcome.NOT_MET and lacks_places:
        return f"Read more of it: {_whole_check(case)}."
    if case.outcome("readings") is Outcome.NOT_MET:
        return f"Take a core reading in the middle, at {case.depth(CORE_SHARE)}."
    for rule in ("target", "gradient", "spread"):
        if case.outcome(rule) is Outcome.NOT_KNOWN:
            return _SETTLE[rule](case)
    return None


def _out_of_this_air(case: _Case) -> str | None:
    """The air here will not dry it to the target, and it is dry enough for warmer air."""
    here, target = case.around.here, case.verdict.target
    if case.verdict.condition is not Condition.DRYING or here is None or here.is_kiln:
        return None
    is_damp = here.emc_pct is not None and here.emc_pct > target.high_pct + DUST
    if not is_damp or case.latest.mean_pct > WARM_AIR_FROM_PCT + DUST:
        return None
    why = f"the air in {here.place} keeps wood at about {here.emc_pct:.1f} %"
    better = _drier_place(case)
    if better is None:
        return (
            f"It takes drier air than any place here has on record: {why}, "
            f"and {target.range_words} is wanted."
        )
    return f"Move it to {_with_emc(better)}: {why}, and will not dry it to {target.range_words}."


def _drier_place(case: _Case) -> Air | None:
    """Air within the target, else drier air, else a kiln whose air is not on record."""
    target = case.verdict.target
    known = [air for air in case.around.others if air.emc_pct is not None]
    within = [air for air in known if _is_within(air, case)]
    if within:
        return min(within, key=lambda air: abs((air.emc_pct or 0.0) - _middle(case)))
    drier = [air for air in known if (air.emc_pct or 0.0) < target.low_pct]
    if drier:
        return max(drier, key=lambda air: air.emc_pct or 0.0)
    return next((a for a in case.around.others if a.is_kiln and a.emc_pct is None), None)


def _leave_to_dry(case: _Case) -> str | None:
    if case.verdict.condition not in (Condition.GREEN, Condition.DRYING):
        return None
    here = case.around.here
    where = "in the kiln" if here is not None and here.is_kiln else "to dry"
    due, there = case.due_on, case.arrival.median_on
    if there is None or there <= case.on:
        return f"Leave it {where} until {_due_words(case)}, then check it again."
    until = f"Leave it {where} until about {day_words(there, case.on)}"
    if due is None or due >= there:
        return f"{until}, then check it again."
    return f"{until}, and check it on the way, by {day_words(due, case.on)}."


def _bring_up(case: _Case) -> str | None:
    """Wood too dry takes up moisture where the air is as the target wants it."""
    if case.verdict.condition is not Condition.TOO_DRY:
        return None
    here = case.around.here
    if here is None or here.emc_pct is None or not _is_within(here, case):
        fit = [air for air in case.around.others if _is_within(air, case) and air.is_shop_air]
        if fit:
            better = min(fit, key=lambda air: abs((air.emc_pct or 0.0) - _middle(case)))
            return f"Move it to {_with_emc(better)}, where it takes up moisture again."
    return f"Leave it to take up moisture until {_due_words(case)}, then check it again."


def _say_where(case: _Case) -> str | None:
    return _settle_rested(case) if case.outcome("rested") is Outcome.NOT_KNOWN else None


def _bring_in(case: _Case) -> str | None:
    """Dry enough, and in outdoor air or in the kiln, or in shop air that would wet it again."""
    here, target = case.around.here, case.verdict.target
    is_out = resting_since(case.facts.stages) is None
    is_damp = here is not None and (here.emc_pct or 0.0) > target.high_pct + DUST
    if not (is_out or is_damp):
        return None
    fit = [air for air in case.around.others if air.is_shop_air and _is_within(air, case)]
    shops = fit or [a for a in case.around.others if a.is_shop_air and a.emc_pct is None]
    to = f"Move it to {_with_emc(shops[0])}" if shops else "Move it into dry shop air"
    if is_out:
        return f"{to}: it rests {case.rules.rest_days} days there before it is worked."
    assert here is not None
    return f"{to}: the air in {here.place} would take it up to about {here.emc_pct:.1f} %."


def _let_it_rest(case: _Case) -> str:
    """Only time is wanting: until the rest is done, until two checks can show it steady."""
    waits = {reason.rule for reason in case.verdict.unmet}
    days = [case.on]
    since = resting_since(case.facts.stages)
    if since is not None:
        days.append(since + timedelta(days=case.rules.rest_days))
    if waits - {"rested"}:
        days.append(case.latest.on + timedelta(days=case.rules.steady_days))
    until = day_words(max(days), case.on)
    if waits == {"rested"}:
        return f"Leave it until {until}: then it has rested."
    return f"Leave it until {until}, then check it again."


_STEPS: tuple[Callable[[_Case], str | None], ...] = (
    _first_check,
    _use_it,
    _look_again,
    _read_more,
    _out_of_this_air,
    _leave_to_dry,
    _bring_up,
    _say_where,
    _bring_in,
    _let_it_rest,
)


def _is_within(air: Air, case: _Case) -> bool:
    target = case.verdict.target
    return air.emc_pct is not None and (
        target.low_pct - DUST <= air.emc_pct <= target.high_pct + DUST
    )


def _middle(case: _Case) -> float:
    return (case.verdict.target.low_pct + case.verdict.target.high_pct) / 2


def _with_emc(air: Air) -> str:
    """`Conditioning room, about 7.1 %`, or the name alone."""
    return air.place if air.emc_pct is None else f"{air.place} (about {air.emc_pct:.1f} %)"


def _due_words(case: _Case) -> str:
    assert case.due_on is not None
    return day_words(case.due_on, case.on)
