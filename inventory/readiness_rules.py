"""The seven rules of readiness, each one sentence a worker understands, and their numbers.

Pure: no database. A rule is met, not met, or not known. Readings that are uncorrected or outside
the meter's range can never make a rule met: they make it not known.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum

from inventory.words import day_words

# Differences of corrected readings carry the dust of binary fractions: 9.3 − 7.3 is not above 2.
DUST = 1e-6


class Outcome(StrEnum):
    MET = "met"
    NOT_MET = "not_met"
    NOT_KNOWN = "not_known"


class Use(StrEnum):
    INTERIOR = "interior"
    RESIN = "resin"
    OUTDOOR = "outdoor"


_USE_WORDS = {
    Use.INTERIOR: "interior furniture",
    Use.RESIN: "resin work",
    Use.OUTDOOR: "outdoor use",
}


@dataclass(frozen=True)
class Rules:
    """The shop's numbers; design/rules.md is their source where none is named here."""

    check_days: int = 30
    least_places: int = 3
    # 1¼ in: thicker wood hides a wet core.
    core_above_mm: float = 32.0
    wild_above_pct: float = 2.0
    # AH-188 (Dry Kiln Operator's Manual), from memory.
    gradient_pct: float = 2.0
    spread_pct: float = 2.0
    steady_days: int = 14
    steady_pct: float = 0.5
    drift_days: int = 28
    drift_pct_a_week: float = 0.25
    rest_days: int = 14
    # No correction of a pin reading moves it further than this between 0 and 30 % (the shop's
    # own margin): beyond it even an uncorrected reading says wet.
    doubt_pct: float = 5.0
    # When to look again (the shop's own choice).
    far_above_pct: float = 4.0
    far_check_days: int = 90
    recheck_days: int = 7
    drying_check_days_an_inch: float = 21.0
    longest_check_days: int = 60


RULES = Rules()


@dataclass(frozen=True)
class Target:
    """Moisture wanted, % MC, both ends included; `named` is the one piece it is for, if any."""

    low_pct: float
    high_pct: float
    use: Use
    named: str = ""

    @property
    def use_words(self) -> str:
        return self.named or _USE_WORDS[self.use]

    @property
    def range_words(self) -> str:
        return f"{plain(self.low_pct)}–{plain(self.high_pct)} %"


@dataclass(frozen=True, slots=True)
class CheckFacts:
    """The figures of one moisture check, % MC; see wood/moisture.py CheckFigures.

    A weighing of the whole slab (`is_weighed`) tells the mean alone: see `as_of`. `expected_pct`
    and its spread are what the forecast before it said of its day, where there was one.
    """

    pk: int
    on: date
    mean_pct: float
    max_pct: float
    shell_pct: float | None
    core_pct: float | None
    spread_pct: float | None
    places: int
    is_trusted: bool
    is_weighed: bool = False
    expected_pct: float | None = None
    expected_sd_pct: float | None = None


@dataclass(frozen=True, slots=True)
class StageFacts:
    """One drying stage; `ended_on` None while the slab is in it."""

    kind: str
    started_on: date
    ended_on: date | None
    is_shop_air: bool


@dataclass(frozen=True, slots=True)
class Facts:
    """What a verdict is made from. Checks latest first, superseded ones left out; stages oldest
    first. Fibre saturation is about 30 % (Wood Handbook, chapter 4)."""

    checks: tuple[CheckFacts, ...]
    stages: tuple[StageFacts, ...]
    thickness_mm: float
    fsp_pct: float = 30.0

    @property
    def latest(self) -> CheckFacts | None:
        return self.checks[0] if self.checks else None


@dataclass(frozen=True, slots=True)
class Reason:
    """One rule's outcome, in a sentence; where it is not known, `settle` says what would tell.

    `settle` is written by readiness_advice.py, which knows the viewer's units.
    """

    rule: str
    outcome: Outcome
    sentence: str
    settle: str = ""

    @property
    def outcome_words(self) -> str:
        """Met, Not met, Not known: said beside the shape."""
        return {"met": "Met.", "not_met": "Not met.", "not_known": "Not known."}[self.outcome]

    @property
    def icon(self) -> str:
        """The shape's name in static/icons.svg."""
        return {"met": "tick", "not_met": "close", "not_known": "question"}[self.outcome]


Rule = Callable[[Facts, Target, date, Rules], tuple[Outcome, str]]


def as_of(facts: Facts, on: date, rules: Rules = RULES) -> Facts:
    """The facts that were facts on that day.

    A weighing tells the mean and neither core nor places. Where it is the latest check, those are
    taken from the last trusted meter check that still counted on that day; without one it has none.
    """
    checks = tuple(check for check in facts.checks if check.on <= on)
    stages = tuple(stage for stage in facts.stages if stage.started_on <= on)
    if checks and checks[0].is_weighed:
        whole = _with_meter_figures(checks[0], last_metered(checks), on, rules)
        checks = (whole, *checks[1:])
    elif len(checks) == len(facts.checks) and len(stages) == len(facts.stages):
        return facts
    return Facts(checks, stages, facts.thickness_mm, facts.fsp_pct)


def last_metered(checks: Sequence[CheckFacts]) -> CheckFacts | None:
    return next((check for check in checks if not check.is_weighed), None)


def _with_meter_figures(
    weighed: CheckFacts, metered: CheckFacts | None, on: date, rules: Rules
) -> CheckFacts:
    counts = metered is not None and (on - metered.on).days <= rules.check_days
    if metered is None or not counts or not metered.is_trusted:
        return replace(weighed, places=0)
    return replace(
        weighed,
        max_pct=max(weighed.max_pct, metered.max_pct),
        shell_pct=metered.shell_pct,
        core_pct=metered.core_pct,
        spread_pct=metered.spread_pct,
        places=metered.places,
    )


def reasons_for(facts: Facts, target: Target, on: date, rules: Rules) -> tuple[Reason, ...]:
    """Every rule's reason, in the order of the rules."""
    return tuple(Reason(name, *rule(facts, target, on, rules)) for name, rule in _RULES.items())


def resting_since(stages: Sequence[StageFacts]) -> date | None:
    """First day of the unbroken run in shop air that the last stage belongs to, else None."""
    since: date | None = None
    last_end: date | None = None
    for stage in stages:
        broken = last_end is not None and stage.started_on > last_end + timedelta(days=1)
        if not stage.is_shop_air:
            since = None
        elif since is None or broken:
            since = stage.started_on
        last_end = stage.ended_on
    return since


def _checked(facts: Facts, target: Target, on: date, rules: Rules) -> tuple[Outcome, str]:
    if facts.latest is None:
        return Outcome.NOT_KNOWN, "It has never been checked with a meter."
    days = (on - facts.latest.on).days
    if days > rules.check_days:
        return Outcome.NOT_MET, (
            f"Last checked {days} days ago, on {day_words(facts.latest.on, on)}: "
            f"it may be {rules.check_days} days at most."
        )
    ago = {0: "today", 1: "yesterday"}.get(days, f"{days} days ago")
    return Outcome.MET, f"Checked {ago}: a check counts for {rules.check_days} days."


def _readings(facts: Facts, target: Target, on: date, rules: Rules) -> tuple[Outcome, str]:
    latest = facts.latest
    needs_core = facts.thickness_mm > rules.core_above_mm
    if latest is None:
        core = ", and its core" if needs_core else ""
        return Outcome.NOT_KNOWN, f"No readings yet: read {rules.least_places} places{core}."
    if latest.is_weighed and latest.places == 0:
        core = ", and the core" if needs_core else ""
        return Outcome.NOT_MET, (
            "Weighed whole, which tells the mean and not how it lies in the slab: "
            f"it takes {rules.least_places} places read with a meter{core}."
        )
    read = f"Read at {_count(latest.places, 'place')}"
    lacks_core = needs_core and latest.core_pct is None
    if latest.places < rules.least_places:
        core = ", and the core as well, at this thickness" if lacks_core else ""
        return Outcome.NOT_MET, f"{read}: it takes {rules.least_places}{core}."
    if lacks_core:
        return Outcome.NOT_MET, f"{read}, without the core: at this thickness it takes one there."
    core = ", the core among them" if latest.core_pct is not None else ""
    return Outcome.MET, f"{read}{core}: it takes {rules.least_places}."


def _target(facts: Facts, target: Target, on: date, rules: Rules) -> tuple[Outcome, str]:
    latest = facts.latest
    if latest is None:
        return Outcome.NOT_KNOWN, f"How wet it is is not known: {target.range_words} is wanted."
    mean = latest.mean_pct
    if not latest.is_trusted:
        return _target_doubted(mean, target, rules)
    if mean > target.high_pct + DUST:
        return Outcome.NOT_MET, _outside(mean, target, "wetter", target.high_pct)
    if mean < target.low_pct - DUST:
        return Outcome.NOT_MET, _outside(mean, target, "drier", target.low_pct)
    most = target.high_pct + rules.wild_above_pct
    if latest.max_pct > most + DUST:
        wettest = beyond(latest.max_pct, most)
        return Outcome.NOT_MET, (
            f"One reading is {wettest} %: none may be above {plain(most)} %, "
            f"though the mean of {mean:.1f} % would do."
        )
    return Outcome.MET, f"Mean is {mean:.1f} %, within the {target.range_words} wanted."


def _target_doubted(mean: float, target: Target, rules: Rules) -> tuple[Outcome, str]:
    if mean > target.high_pct + rules.doubt_pct:
        return Outcome.NOT_MET, (
            f"It reads {mean:.1f} %: wetter than the {target.range_words} wanted, "
            "whatever the correction."
        )
    return Outcome.NOT_KNOWN, (
        f"It reads {mean:.1f} %, but a reading is uncorrected or outside the meter's range: "
        f"that cannot show the {target.range_words} wanted."
    )


def _outside(mean: float, target: Target, word: str, limit: float) -> str:
    return f"Mean is {beyond(mean, limit)} %: {word} than the {target.range_words} wanted."


def _gradient(facts: Facts, target: Target, on: date, rules: Rules) -> tuple[Outcome, str]:
    latest = facts.latest
    if latest is None:
        return Outcome.NOT_KNOWN, "Core and shell have not been read."
    if latest.shell_pct is None or latest.core_pct is None:
        return _gradient_unread(facts, latest, rules)
    gradient = latest.core_pct - latest.shell_pct
    one, other = ("Core", "shell") if gradient >= 0 else ("Shell", "core")
    limit = plain(rules.gradient_pct)
    if abs(gradient) > rules.gradient_pct + DUST:
        size = beyond(abs(gradient), rules.gradient_pct)
        return Outcome.NOT_MET, f"{one} is {size} above the {other}: it may be {limit} at most."
    size = f"{abs(gradient):.1f}"
    said = f"{one} is {size} above the {other}" if size != "0.0" else "Core and shell are the same"
    return _if_trusted(latest, said, f": it may be {limit} at most.")


def _gradient_unread(facts: Facts, latest: CheckFacts, rules: Rules) -> tuple[Outcome, str]:
    if facts.thickness_mm <= rules.core_above_mm:
        return Outcome.MET, "Thin enough to be even through: no core reading is asked for."
    if latest.shell_pct is None and latest.core_pct is None:
        missing = "neither core nor shell was read"
    else:
        missing = f"the {'core' if latest.core_pct is None else 'shell'} was not read"
    return Outcome.NOT_KNOWN, f"How much wetter the core is is not known: {missing}."


def _spread(facts: Facts, target: Target, on: date, rules: Rules) -> tuple[Outcome, str]:
    latest = facts.latest
    if latest is None or latest.spread_pct is None:
        return Outcome.NOT_KNOWN, (
            "How even it is along its length is not known: "
            "it takes one depth read at two places or more."
        )
    limit = plain(rules.spread_pct)
    said = "Along the length the readings differ by"
    if latest.spread_pct > rules.spread_pct + DUST:
        size = beyond(latest.spread_pct, rules.spread_pct)
        return Outcome.NOT_MET, f"{said} {size}: it may be {limit} at most."
    return _if_trusted(latest, f"{said} {latest.spread_pct:.1f}", f": it may be {limit} at most.")


def _steady(facts: Facts, target: Target, on: date, rules: Rules) -> tuple[Outcome, str]:
    """Two checks 14 days apart within 0.5, or a drift under 0.25 a week over 28 days."""
    latest = facts.latest
    if latest is None:
        return Outcome.NOT_KNOWN, "It takes two checks to see whether it is steady."
    if not latest.is_trusted:
        return Outcome.NOT_KNOWN, (
            "Whether it is steady is not known: a reading is uncorrected or outside "
            "the meter's range."
        )
    earlier = _check_before(facts, latest, rules)
    if earlier is None and latest.is_weighed and latest.places:
        metered = tuple(check for check in facts.checks if not check.is_weighed)
        return _steady(replace(facts, checks=metered), target, on, rules)
    if earlier is None:
        return Outcome.NOT_KNOWN, (
            f"Whether it is steady is not known: no trusted check {rules.steady_days} days or more "
            "before the last."
        )
    return _steadiness(facts, latest, earlier, on, rules)


def _steadiness(
    facts: Facts, latest: CheckFacts, earlier: CheckFacts, on: date, rules: Rules
) -> tuple[Outcome, str]:
    change = latest.mean_pct - earlier.mean_pct
    days = (latest.on - earlier.on).days
    limit = plain(rules.steady_pct)
    if abs(change) <= rules.steady_pct + DUST:
        moved = f"{abs(change):.1f}"
        return Outcome.MET, f"Steady: it changed by {moved} in {days} days, {limit} at most."
    drift = _drift_pct_a_week(facts, latest, rules)
    if drift is not None and abs(drift) < rules.drift_pct_a_week - DUST:
        return Outcome.MET, (
            f"Steady: it drifts by {abs(drift):.2f} a week over the last {rules.drift_days} days, "
            f"under {plain(rules.drift_pct_a_week)}."
        )
    moves = "still drying" if change < 0 else "taking up moisture"
    size = beyond(abs(change), rules.steady_pct)
    return Outcome.NOT_MET, (
        f"Not steady, {moves}: it changed by {size} in {days} days, and may by {limit} at most."
    )


def _check_before(facts: Facts, latest: CheckFacts, rules: Rules) -> CheckFacts | None:
    """The latest trusted check 14 days or more before, weighed as this one was or read as it was.

    A scale and a meter may differ by half a point on the same day, which is no movement.
    """
    day = latest.on - timedelta(days=rules.steady_days)
    return next((check for check in _alike(facts, latest) if check.on <= day), None)


def _alike(facts: Facts, latest: CheckFacts) -> list[CheckFacts]:
    """The trusted checks made in the same way as this one."""
    return [c for c in facts.checks if c.is_trusted and c.is_weighed == latest.is_weighed]


def _drift_pct_a_week(facts: Facts, latest: CheckFacts, rules: Rules) -> float | None:
    """Least-squares slope through the trusted checks of the last 28 days, % MC a week.

    None unless they span 14 days: a few days' slope is the meter's noise.
    """
    begin = latest.on - timedelta(days=rules.drift_days)
    recent = [check for check in _alike(facts, latest) if check.on >= begin]
    weeks = [(check.on - begin).days / 7 for check in recent]
    if (max(weeks) - min(weeks)) * 7 < rules.steady_days:
        return None
    middle = sum(weeks) / len(weeks)
    pull = sum((w - middle) * c.mean_pct for w, c in zip(weeks, recent, strict=True))
    return pull / sum((week - middle) ** 2 for week in weeks)


def _rested(facts: Facts, target: Target, on: date, rules: Rules) -> tuple[Outcome, str]:
    if not facts.stages:
        return Outcome.NOT_KNOWN, "Nothing on record says where it has dried and rested."
    stage = facts.stages[-1]
    if stage.ended_on is not None and stage.ended_on < on:
        ended = day_words(stage.ended_on, on)
        return Outcome.NOT_KNOWN, f"Nothing on record says where it has lain since {ended}."
    since = resting_since(facts.stages)
    if since is None:
        where = "It is in the kiln" if stage.kind == "kiln" else "It lies in outdoor air"
        return Outcome.NOT_MET, f"{where}: {rules.rest_days} days of rest in shop air come after."
    days = (on - since).days
    if days < rules.rest_days:
        done = day_words(since + timedelta(days=rules.rest_days), on)
        return Outcome.NOT_MET, (
            f"In shop air for {_count(days, 'day')}: it rests {rules.rest_days}, until {done}."
        )
    return Outcome.MET, f"Has rested in shop air for {days} days: it takes {rules.rest_days}."


_RULES: dict[str, Rule] = {
    "checked": _checked,
    "readings": _readings,
    "target": _target,
    "gradient": _gradient,
    "spread": _spread,
    "steady": _steady,
    "rested": _rested,
}


def _if_trusted(latest: CheckFacts, said: str, limit: str) -> tuple[Outcome, str]:
    """Within the limit: met when the check is trusted, else not known."""
    if latest.is_trusted:
        return Outcome.MET, said + limit
    return Outcome.NOT_KNOWN, f"{said}, but a reading is uncorrected or outside the meter's range."


def beyond(value: float, limit: float) -> str:
    """To a tenth, or finer where a tenth would hide on which side of the limit it lies."""
    text = f"{value:.1f}"
    return f"{value:.2f}" if abs(float(text) - limit) < DUST else text


def plain(number: float) -> str:
    """8.0 → 8, 7.25 → 7.2, 0.25 → 0.25."""
    return f"{number:.1f}".removesuffix(".0") if number >= 1 else f"{number:g}"


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"
