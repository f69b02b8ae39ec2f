"""On which days somebody went to a stack with a meter.

A stack is visited as a workshop does it: a few slabs of a log stand for the rest while it dries,
all of them are read at a change of stage, and twice before they are called ready. Some stacks have
been forgotten.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from catalogue.demo.clock import chance
from inventory.demo.yard import Log

FORGOTTEN_SHARE = 0.14
_DAYS_BETWEEN = {"air": 75, "kiln": 7, "conditioning": 12, "shop": 62}


@dataclass(frozen=True)
class Visit:
    """A day with the meter at one log's stack; `is_last` is what today's condition stands on."""

    days_ago: int
    everyone: bool
    is_last: bool = False


def visits(log: Log, seed: int) -> list[Visit]:
    """Every visit to a log's stack, oldest first, one a day at most."""
    rng = chance(seed, "visits", log.code)
    by_day: dict[int, Visit] = {}
    for visit in [*_closing(log, rng), *_along_the_way(log, rng)]:
        known = by_day.get(visit.days_ago)
        if visit.days_ago >= 1 and not (known and known.everyone):
            by_day[visit.days_ago] = visit
    last = min(day for day, visit in by_day.items() if visit.is_last)
    return [by_day[day] for day in sorted(by_day, reverse=True) if day >= last]


def samples(count: int) -> frozenset[int]:
    """Which of a log's slabs stand for all: one near either side, one from the middle."""
    return frozenset({min(2, count), (count + 1) // 2, max(count - 1, 1)})


def _along_the_way(log: Log, rng: np.random.Generator) -> Iterator[Visit]:
    yield Visit(log.sawn_days_ago - 1, everyone=False)
    for stage, (start, end) in zip(log.stages, pairwise(_turns(log)), strict=True):
        if stage.kind != "air":
            # What goes into the kiln is read the day before, all else when it has come.
            yield Visit(start + 1 if stage.kind == "kiln" else start - 1, everyone=True)
        step = _DAYS_BETWEEN[stage.kind]
        jitter = 0 if stage.kind == "kiln" else step // 5
        day = start - step
        while day > end:
            yield Visit(day, everyone=stage.kind == "air" and rng.random() < 0.3)
            day -= step + int(rng.integers(-jitter, jitter + 1))


def _turns(log: Log) -> Sequence[int]:
    """Days ago on which the stages began, and today."""
    return [*(stage.from_days_ago for stage in log.stages), 0]


def _closing(log: Log, rng: np.random.Generator) -> Iterator[Visit]:
    lain = log.stages[-1].from_days_ago
    is_forgotten = rng.random() < FORGOTTEN_SHARE and lain > 120
    last = int(rng.integers(33, 58)) if is_forgotten else int(rng.integers(1, 22))
    last = min(last, max(1, lain - 1))
    yield Visit(last, everyone=True, is_last=True)
    before = last + int(rng.integers(15, 24))
    if before < log.sawn_days_ago and log.stages[-1].kind != "kiln":
        yield Visit(before, everyone=True)
