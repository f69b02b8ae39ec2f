"""A forecast as a joiner would say it: dates, chances, and what stands in the way."""

from dataclasses import dataclass
from datetime import date

from inventory.models import ForecastState, SlabForecast
from inventory.readiness import INTERIOR, Target
from inventory.words import day_words

NBSP = "\N{NO-BREAK SPACE}"
GREEN_PCT = 30.0
# This near the edge of the target a meter cannot tell.
EDGE_PCT = 0.3
# Above this, wood that goes into warm dry air loses moisture faster than is safe for it.
WET_PCT = 20.0
WET_CAUTION = (
    "Wet wood put straight into warm, dry air can crack: bring it below 20 % in slower air first."
)
FEW_CHECKS = 2
GREEN_NOTE = (
    "It is above fibre saturation still. Wet wood dries faster and not along a single curve, so "
    "look at this again once it is below 30 %."
)
NOT_A_PROMISE = (
    "This is when the mean will have come down. Whether it is ready is for a check to say, with "
    "the core, the spread and the rest counted too."
)


@dataclass(frozen=True)
class Answer:
    """What is said of one slab in one place, for one target. `place` is its name, "" without."""

    state: ForecastState
    target: Target
    place: str
    on: date
    now_pct: float | None = None
    low_on: date | None = None
    median_on: date | None = None
    high_on: date | None = None
    emc_pct: float | None = None
    checks: int = 0

    @property
    def sentence(self) -> str:
        return _SENTENCES[self.state](self)

    @property
    def notes(self) -> list[str]:
        """What to bear in mind: wood still green, few checks to go by."""
        said = []
        if self.now_pct is not None and self.now_pct >= GREEN_PCT:
            said.append(GREEN_NOTE)
        if self.is_dated and 0 < self.checks <= FEW_CHECKS:
            count = "one check" if self.checks == 1 else "two checks"
            is_are = "is" if self.checks == 1 else "are"
            said.append(f"There {is_are} only {count} to go by: another would narrow it.")
        return said

    @property
    def is_too_dry(self) -> bool:
        """Whether it is not on its way down at all, but below what is wanted."""
        is_there = self.state == ForecastState.DRY_NOW and self.now_pct is not None
        return is_there and (self.now_pct or 0.0) < self.target.low_pct - EDGE_PCT

    @property
    def is_dated(self) -> bool:
        return self.state in (ForecastState.WILL_ARRIVE, ForecastState.BEYOND)

    @property
    def when(self) -> str:
        """In a word or two, for a table: a day, `already`, `not in this air`."""
        if self.state == ForecastState.WILL_ARRIVE and self.median_on:
            return day_words(self.median_on, self.on)
        return _SHORT[self.state]

    @property
    def between(self) -> str:
        """The 80 % interval, for a table; "" where there is none."""
        if self.state != ForecastState.WILL_ARRIVE or self.low_on is None:
            return ""
        low = "now" if self.low_on <= self.on else day_words(self.low_on, self.on)
        return f"{low} to {day_words(self.high_on, self.on)}" if self.high_on else f"from {low} on"


def stored_answer(row: SlabForecast, on: date) -> Answer:
    """What the stored row says; `place` is read with it."""
    return Answer(
        state=ForecastState(row.state),
        target=_target_of(row),
        place=row.place.name if row.place else "",
        on=on,
        now_pct=row.now_pct,
        low_on=row.low_on,
        median_on=row.median_on,
        high_on=row.high_on,
        emc_pct=row.emc_in_the_way_pct,
        checks=row.checks,
    )


def moved_words(row: SlabForecast, on: date) -> str:
    """Where it would get there, for wood that will not where it lies; "" when nowhere is known."""
    if row.moved_place is None:
        return ""
    if row.moved_median_on is None:
        return f"Nor would it in {row.moved_place.name}."
    about = _around(row.moved_median_on, on)
    said = f"Moved to {row.moved_place.name} today, it would most likely be dry enough {about}."
    return f"{said} {WET_CAUTION}" if (row.now_pct or 0.0) > WET_PCT else said


def chance_words(p: float) -> str:
    """`about 7 in 10`; never certain, never impossible."""
    if p < 0.05:
        return "less than 1 in 20"
    if p > 0.95:
        return "better than 19 in 20"
    return f"about {min(max(round(p * 10), 1), 9)} in 10"


def p_by(row: SlabForecast, day: date) -> float:
    """Probability, to about 3 in 100, that the mean is down to the target by a day; 0…1."""
    ahead = (day - row.made_on).days
    arrivals: list[int | None] = row.arrival_days
    steps = [(0.05 * (i + 1), days) for i, days in enumerate(arrivals)]
    reached: list[float] = [share for share, days in steps if days is not None and days <= ahead]
    if not reached:
        return 0.02 if steps and ahead >= 0 else 0.0
    last = len(reached) - 1
    if last + 1 == len(steps):
        return 0.98
    here, following = steps[last][1], steps[last + 1][1]
    if here is None or following is None:
        return reached[-1]
    part = (ahead - here) / max(following - here, 1)
    return reached[-1] + 0.05 * min(part, 1.0)


def _target_of(row: SlabForecast) -> Target:
    return Target(row.target_low_pct, row.target_high_pct, INTERIOR.use)


def _dry_now(answer: Answer) -> str:
    now = answer.now_pct or 0.0
    stands = f"it stands at about {now:.1f}{NBSP}%, by its checks and the air since."
    if answer.is_too_dry:
        return f"Drier than wanted already: {stands}"
    if now > answer.target.high_pct - EDGE_PCT:
        return f"Just about dry enough: {stands}"
    return f"Dry enough already: {stands}"


def _will_arrive(answer: Answer) -> str:
    assert answer.median_on is not None
    said = f"Most likely dry enough {_around(answer.median_on, answer.on)}"
    if answer.low_on is None:
        return f"{said}."
    low = "now" if answer.low_on <= answer.on else day_words(answer.low_on, answer.on)
    if answer.high_on is None:
        return f"{said}; 1 chance in 10 that it takes more than four years, if it gets there."
    return f"{said}; 8 chances in 10 between {low} and {day_words(answer.high_on, answer.on)}."


def _never(answer: Answer) -> str:
    where = answer.place or "it lies"
    if answer.emc_pct is None:
        return f"Will not get there in the air of {where}."
    settles = f"{answer.emc_pct:.1f}{NBSP}%"
    wanted = f"{answer.target.high_pct:g}{NBSP}%"
    said = f"Will not get there in this air: in {where} it settles at about {settles}"
    if answer.emc_pct <= answer.target.high_pct:
        return f"{said}, too near the {wanted} wanted to come down to it."
    return f"{said}, above the {wanted} wanted."


def _beyond(answer: Answer) -> str:
    if answer.low_on is None:
        return "Not within the next four years, as far as can be seen."
    return (
        "More likely than not later than can be seen, four years from now; 1 chance in 10 before "
        f"{day_words(answer.low_on, answer.on)}."
    )


def _no_checks(answer: Answer) -> str:
    return "No forecast yet: it wants a moisture check in air that is on record."


def _no_air(answer: Answer) -> str:
    return f"No forecast: nobody has written down the air of {answer.place or 'its place'}."


def _no_place(answer: Answer) -> str:
    return "No forecast: it has not been put anywhere."


_SENTENCES = {
    ForecastState.DRY_NOW: _dry_now,
    ForecastState.WILL_ARRIVE: _will_arrive,
    ForecastState.NEVER: _never,
    ForecastState.BEYOND: _beyond,
    ForecastState.NO_CHECKS: _no_checks,
    ForecastState.NO_AIR: _no_air,
    ForecastState.NO_PLACE: _no_place,
}
_SHORT = {
    ForecastState.DRY_NOW: "already",
    ForecastState.WILL_ARRIVE: "on its way",
    ForecastState.NEVER: "not in this air",
    ForecastState.BEYOND: "not within four years",
    ForecastState.NO_CHECKS: "not known",
    ForecastState.NO_AIR: "air not known",
    ForecastState.NO_PLACE: "not known",
}


def _around(day: date, on: date) -> str:
    return "within a day or two" if (day - on).days <= 2 else f"around {day_words(day, on)}"
