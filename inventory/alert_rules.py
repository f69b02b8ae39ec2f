"""When to warn, and in which sentence: one pure detector a kind, with the numbers beside them.

Facts in, a `Finding` or nothing out; no database. inventory/watch.py reads the facts and keeps
what is found. Moisture in % MC, air as EMC in %.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import pairwise

import numpy as np

from inventory.models import AlertKind
from inventory.readiness_rules import (
    DUST,
    CheckFacts,
    Facts,
    StageFacts,
    Target,
    beyond,
    plain,
)
from inventory.slab_histories import UNCORRECTED_WEIGHT
from inventory.wood import drying_rates
from inventory.wood.drying_history import METER_SD_PCT, reading_sd_pct
from inventory.words import day_words

Numbers = dict[str, float | int | str]


@dataclass(frozen=True)
class AlertRules:
    """The shop's own numbers; the safe rates are published (wood/drying_rates.py).

    A meter's noise is that which the forecast reckons with (wood/drying_history.py).
    """

    scale_sd_pct: float = 0.2
    surely_sds: float = 2.0
    stalled_days: int = 42
    stalled_pct: float = 0.5
    # A check disagrees with its curve this many standard deviations off. Where no forecast stood
    # before it, the air is known to about 1.5 % EMC and the rate of drying to about half.
    curve_sds: float = 3.0
    emc_sd_pct: float = 1.5
    rate_sd_share: float = 0.5
    silent_days: int = 7
    # An air record a week over the month before makes a place one that has regular records.
    regular_records: int = 4
    regular_days: int = 30


ALERTS = AlertRules()


@dataclass(frozen=True)
class Finding:
    """A warning the facts call for; `stands_on` tells whether it is still about the same facts."""

    kind: AlertKind
    sentence: str
    stands_on: str
    facts: Numbers = field(default_factory=dict)


@dataclass(frozen=True)
class SlabSeen:
    """What is looked at of a slab; `emc_pct` is the working EMC of `place`, None when not known."""

    facts: Facts
    species: str
    botanical: str
    target: Target
    place: str = ""
    emc_pct: float | None = None


@dataclass(frozen=True)
class PlaceSeen:
    """`records` counts those of the month up to `last_on`; `pieces` and `ready` are in stock."""

    emc_pct: float | None
    pieces: int
    ready: int
    last_on: date | None
    records: int


@dataclass(frozen=True)
class Expected:
    """What a check should have found, % MC, and its standard deviation, the meter's included."""

    pct: float
    sd_pct: float


def of_slab(seen: SlabSeen, on: date, rules: AlertRules = ALERTS) -> list[Finding]:
    """Everything to warn of on a slab."""
    expected = forecast_expectations(seen) or first_order_expectations(seen, rules)
    found = (
        too_fast(seen, on, rules),
        regaining(seen, on, rules),
        stalled(seen, rules),
        off_curve(seen, on, expected, rules),
    )
    return [finding for finding in found if finding is not None]


def of_place(
    seen: PlaceSeen, target: Target, on: date, rules: AlertRules = ALERTS
) -> list[Finding]:
    found = (damp_air(seen, target), silent(seen, on, rules))
    return [finding for finding in found if finding is not None]


def too_fast(seen: SlabSeen, on: date, rules: AlertRules = ALERTS) -> Finding | None:
    """More lost between the last two checks than the published safe rate allows.

    The rate governs above 20 % MC only, so only what was lost above that is counted: the wood
    lost at least this much there, in these days at most.
    """
    pair = _last_two(seen.facts)
    limit = drying_rates.safe_rate(seen.botanical, seen.facts.thickness_mm)
    if pair is None or limit is None:
        return None
    before, latest = pair
    lost_pct = before.mean_pct - max(latest.mean_pct, drying_rates.GOVERNS_ABOVE_PCT)
    days = (latest.on - before.on).days
    rate = lost_pct / days
    if rate <= limit.pct_per_day + DUST or lost_pct <= _noise_pct(before, latest, rules):
        return None
    carried = ", the published rate carried on to this thickness" if limit.is_extrapolated else ""
    sentence = (
        f"It lost {lost_pct:.1f} % in {_days(days)}, {rate:.1f} % a day: {seen.species} this thick "
        f"may lose {limit.pct_per_day:.1f} % a day while it is wet, or it cracks{carried}. "
        "Slow the air or raise its humidity."
    )
    numbers: Numbers = {"lost_pct": lost_pct, "days": days, "safe_pct_a_day": limit.pct_per_day}
    return Finding(AlertKind.TOO_FAST, sentence, _check_mark(latest), numbers)


def regaining(seen: SlabSeen, on: date, rules: AlertRules = ALERTS) -> Finding | None:
    """Wetter than at the check before by more than the meter's noise, above its target.

    Above fibre saturation a meter's numbers jump about: a rise there says nothing.
    """
    pair = _last_two(seen.facts)
    if pair is None or not all(_is_sure(check, seen.facts) for check in pair):
        return None
    before, latest = pair
    rise_pct = latest.mean_pct - before.mean_pct
    meant_to_dry = latest.mean_pct > seen.target.high_pct + DUST
    if not meant_to_dry or rise_pct <= _noise_pct(before, latest, rules) + DUST:
        return None
    sentence = (
        f"It took up {rise_pct:.1f} % since {day_words(before.on, on)}, from {before.mean_pct:.1f} "
        f"to {latest.mean_pct:.1f} %, while it should be drying: look at the air and the cover."
    )
    numbers: Numbers = {"rise_pct": rise_pct, "from_pct": before.mean_pct}
    return Finding(AlertKind.REGAINING, sentence, _check_mark(latest), numbers)


def stalled(seen: SlabSeen, rules: AlertRules = ALERTS) -> Finding | None:
    """Hardly any drier than six weeks or more ago in the same stage, and surely above the target.

    Within the meter's noise of the target's top it may as well be there.
    """
    latest, stage = seen.facts.latest, _open_stage(seen.facts)
    if latest is None or stage is None or not _is_sure(latest, seen.facts):
        return None
    earlier = _check_before(seen.facts, latest, stage, rules)
    surely_above_pct = seen.target.high_pct + METER_SD_PCT
    if earlier is None or latest.mean_pct <= surely_above_pct + DUST:
        return None
    fall_pct = earlier.mean_pct - latest.mean_pct
    # Risen by more than the noise it has not stood: that is regaining.
    if not -_noise_pct(earlier, latest, rules) <= fall_pct < rules.stalled_pct - DUST:
        return None
    weeks = (latest.on - earlier.on).days // 7
    stood = f"It has stood at about {latest.mean_pct:.1f} % for {weeks} weeks"
    sentence = f"{stood}, above the {seen.target.range_words} wanted{_why_stalled(seen)}"
    numbers: Numbers = {"mean_pct": latest.mean_pct, "weeks": weeks, "fall_pct": fall_pct}
    return Finding(AlertKind.STALLED, sentence, f"stage of {stage.started_on}", numbers)


def off_curve(
    seen: SlabSeen, on: date, expected: Sequence[Expected], rules: AlertRules = ALERTS
) -> Finding | None:
    """The latest check disagrees with everything that could be expected of it."""
    latest = seen.facts.latest
    if latest is None or not expected:
        return None
    near = min(expected, key=lambda one: abs(latest.mean_pct - one.pct) / one.sd_pct)
    if abs(latest.mean_pct - near.pct) <= rules.curve_sds * near.sd_pct + DUST:
        return None
    sentence = (
        f"The check of {day_words(latest.on, on)} says {latest.mean_pct:.1f} %, where the checks "
        f"before it and the air led to expect about {near.pct:.1f} %: look at the readings, or "
        "check it again."
    )
    numbers: Numbers = {"mean_pct": latest.mean_pct, "expected_pct": near.pct, "sd": near.sd_pct}
    return Finding(AlertKind.OFF_CURVE, sentence, _check_mark(latest), numbers)


def forecast_expectations(seen: SlabSeen) -> tuple[Expected, ...]:
    """What the forecast that stood before the latest check said of it; nothing where none did.

    A weighing is allowed a meter's noise too: the forecast was made from the meter's readings, and
    no model is better than its own shortcomings.
    """
    latest = seen.facts.latest
    if latest is None or latest.expected_pct is None or latest.expected_sd_pct is None:
        return ()
    noise_pct = _meter_sd_pct(latest.expected_pct, latest.is_trusted)
    return (Expected(latest.expected_pct, math.hypot(latest.expected_sd_pct, noise_pct)),)


def first_order_expectations(seen: SlabSeen, rules: AlertRules = ALERTS) -> tuple[Expected, ...]:
    """What a single exponential toward the place's EMC, through two checks before, leads to.

    From the two before, and from the two before those: had the last but one been the wrong one,
    the latest still agrees with the others. Nothing without two sure checks in the stage the
    latest was made in, or when the slab has left that stage's air since.
    """
    latest, stage = seen.facts.latest, _open_stage(seen.facts)
    if latest is None or stage is None or seen.emc_pct is None or latest.on < stage.started_on:
        return ()
    prior = [c for c in _alike_before(seen.facts, latest) if c.on >= stage.started_on]
    sure = [check for check in prior if _is_sure(check, seen.facts)][:3]
    emc = seen.emc_pct
    return tuple(_expected(older, newer, latest, emc, rules) for newer, older in pairwise(sure))


def _expected(
    older: CheckFacts, newer: CheckFacts, latest: CheckFacts, emc_pct: float, rules: AlertRules
) -> Expected:
    """Where the curve through two checks stands on the day of the latest, with a wide spread."""
    began, left = older.mean_pct - emc_pct, newer.mean_pct - emc_pct
    days, ahead = (newer.on - older.on).days, (latest.on - newer.on).days
    rate_a_day = math.log(began / left) / days if days and left and began / left > 1 else 0.0
    share = math.exp(-rate_a_day * ahead)
    spreads = (
        _sd_pct(newer.mean_pct, newer, rules),
        _sd_pct(newer.mean_pct, latest, rules),
        rules.rate_sd_share * rate_a_day * ahead * share * left,
        rules.emc_sd_pct * (1.0 - share),
        # Without a rate to go by, half of what is left may be gone or not.
        0.5 * left if rate_a_day == 0.0 else 0.0,
    )
    return Expected(emc_pct + left * share, math.hypot(*spreads))


def damp_air(seen: PlaceSeen, target: Target) -> Finding | None:
    """Ready wood lies in air that would take it above its target."""
    if seen.emc_pct is None or not seen.ready or seen.emc_pct <= target.high_pct + DUST:
        return None
    wood = "the ready slab lying here" if seen.ready == 1 else f"the {seen.ready} ready slabs here"
    sentence = (
        f"The air keeps wood at about {beyond(seen.emc_pct, target.high_pct)} %: {wood} would take "
        f"up moisture past the {plain(target.high_pct)} % wanted. Dry the air or move the wood."
    )
    numbers: Numbers = {"emc_pct": seen.emc_pct, "ready": seen.ready}
    return Finding(AlertKind.DAMP_AIR, sentence, "ready wood", numbers)


def silent(seen: PlaceSeen, on: date, rules: AlertRules = ALERTS) -> Finding | None:
    """No air record for over a week where there were regular ones, and wood lies there."""
    if seen.last_on is None or not seen.pieces or seen.records < rules.regular_records:
        return None
    days = (on - seen.last_on).days
    if days <= rules.silent_days:
        return None
    sentence = (
        f"No word of the air since {day_words(seen.last_on, on)}, after {seen.records} records in "
        "the month before: look at the sensor, or write the air down."
    )
    numbers: Numbers = {"last_on": seen.last_on.isoformat(), "records": seen.records}
    return Finding(AlertKind.SILENT, sentence, f"last on {seen.last_on}", numbers)


def meter_due(test_due_on: date | None, tested_on: date | None, on: date) -> Finding | None:
    """Its test against a reference block was due before that day."""
    if test_due_on is None or on <= test_due_on:
        return None
    last = f"; the last was on {day_words(tested_on, on)}" if tested_on else ""
    sentence = (
        f"Its test against a reference block was due on {day_words(test_due_on, on)}{last}. "
        "Until it is tested its readings are taken on trust."
    )
    return Finding(AlertKind.METER_DUE, sentence, f"due on {test_due_on}")


def recently_checked(seen: SlabSeen, on: date, days: int = 7) -> bool:
    """Whether the air of the last weeks is still the air its latest check was made in."""
    latest = seen.facts.latest
    return latest is not None and (on - latest.on).days <= days


def _last_two(facts: Facts) -> tuple[CheckFacts, CheckFacts] | None:
    """The latest check and the one before it of the same kind, on an earlier day: (before, it)."""
    latest = facts.latest
    if latest is None:
        return None
    before = next(_alike_before(facts, latest), None)
    return None if before is None else (before, latest)


def _alike_before(facts: Facts, latest: CheckFacts) -> Iterator[CheckFacts]:
    """Checks before that day made in the same way, latest first.

    A scale and a meter differ by a constant; a mean with the wet core in it and one without
    differ by the gradient.
    """
    return (c for c in facts.checks if c.on < latest.on and _way(c) == _way(latest))


def _way(check: CheckFacts) -> str:
    if check.is_weighed:
        return "scale"
    return "meter" if check.core_pct is None else "meter, with the core"


def _check_before(
    facts: Facts, latest: CheckFacts, stage: StageFacts, rules: AlertRules
) -> CheckFacts | None:
    """The last sure check of the stage made six weeks or more before the latest."""
    by = latest.on - timedelta(days=rules.stalled_days)
    for check in _alike_before(facts, latest):
        if stage.started_on <= check.on <= by and _is_sure(check, facts):
            return check
    return None


def _open_stage(facts: Facts) -> StageFacts | None:
    last = facts.stages[-1] if facts.stages else None
    return last if last is not None and last.ended_on is None else None


def _is_sure(check: CheckFacts, facts: Facts) -> bool:
    """Trusted, and below fibre saturation, where readings tell."""
    return check.is_trusted and check.mean_pct <= facts.fsp_pct


def _noise_pct(one: CheckFacts, other: CheckFacts, rules: AlertRules) -> float:
    """What two checks of unchanged wood may differ by, 19 times in 20."""
    spreads = (_sd_pct(check.mean_pct, check, rules) for check in (one, other))
    return rules.surely_sds * math.hypot(*spreads)


def _sd_pct(true_pct: float, check: CheckFacts, rules: AlertRules) -> float:
    """Standard deviation of what such a check finds in wood of that moisture."""
    if check.is_weighed:
        return rules.scale_sd_pct
    return _meter_sd_pct(true_pct, check.is_trusted)


def _meter_sd_pct(true_pct: float, is_trusted: bool) -> float:
    """As the forecast reckons with it: more in wet wood, and more where a reading is doubtful."""
    sd_pct = float(reading_sd_pct(np.asarray(true_pct)))
    return sd_pct if is_trusted else sd_pct / math.sqrt(UNCORRECTED_WEIGHT)


def _why_stalled(seen: SlabSeen) -> str:
    if seen.emc_pct is None or seen.emc_pct <= seen.target.high_pct:
        return ": look at how it is stacked, and whether the air reaches it."
    return (
        f": the air in {seen.place} keeps wood at about {seen.emc_pct:.1f} %; it takes drier air."
    )


def _check_mark(check: CheckFacts) -> str:
    return f"check {check.pk}"


def _days(days: int) -> str:
    return "1 day" if days == 1 else f"{days} days"
