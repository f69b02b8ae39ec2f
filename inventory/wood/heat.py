"""Whether heat was held through: a core temperature kept up for a time at every probe at once.

ISPM 15 (*Regulation of wood packaging material in international trade*, International Plant
Protection Convention), treatment HT: at least 56 °C for at least 30 minutes without a break
through the whole profile of the wood, its core included. The same core target is the usual working
rule against insects in lumber.

Between two readings the temperature is taken to run straight; so the moment of crossing is found by
linear interpolation. What nobody measured is not taken as hot: a gap between readings longer than
three times the log's own interval, or longer than ten minutes, breaks the run.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

HOLD_TEMP_C = 56.0
HOLD_MINUTES = 30.0
GAP_INTERVALS = 3.0
LONGEST_GAP_S = 600.0
# Half an hour is half an hour though a crossing is reckoned in binary fractions of a second.
DUST_S = 1e-3

Log = Sequence[tuple[float, float]]  # (seconds on one clock, °C)


@dataclass(frozen=True)
class Span:
    """From one moment to another, seconds on the log's clock."""

    begin_s: float
    end_s: float

    @property
    def seconds(self) -> float:
        return self.end_s - self.begin_s


@dataclass(frozen=True)
class HeatHold:
    """What a log of core temperatures shows.

    `spans` are the runs, oldest first, in which every probe was at `temp_c` or above; `held` is the
    first of them that lasted `minutes`, None where none did. `coldest_c` is the highest temperature
    that the least hot of the probes reached (None without a reading). `gaps` counts the breaks
    between readings, of all probes, that were too long to count across.
    """

    temp_c: float
    minutes: float
    probes: tuple[str, ...]
    spans: tuple[Span, ...]
    held: Span | None
    coldest_c: float | None
    gaps: int

    @property
    def is_held(self) -> bool:
        return self.held is not None

    @property
    def reached_s(self) -> float | None:
        """When the time was full, seconds on the log's clock."""
        return None if self.held is None else self.held.begin_s + self.minutes * 60.0

    @property
    def longest(self) -> Span | None:
        return max(self.spans, key=lambda span: span.seconds, default=None)


def held_through(
    logs: Mapping[str, Log], *, temp_c: float = HOLD_TEMP_C, minutes: float = HOLD_MINUTES
) -> HeatHold:
    """Whether and when every probe was at `temp_c` (°C) or above for `minutes` without a break.

    `logs` gives each probe's readings in any order; of two at one instant the colder counts. A
    probe without readings is one that was not hot.
    """
    ordered = {name: _ordered(log) for name, log in logs.items()}
    runs = [_hot_spans(log, temp_c) for log in ordered.values()]
    spans = _together(runs) if runs else []
    held = next((span for span in spans if span.seconds >= minutes * 60.0 - DUST_S), None)
    tops = [max(c for _, c in log) for log in ordered.values() if log]
    return HeatHold(
        temp_c=temp_c,
        minutes=minutes,
        probes=tuple(logs),
        spans=tuple(spans),
        held=held,
        coldest_c=min(tops) if tops and len(tops) == len(ordered) else None,
        gaps=sum(_gaps(log) for log in ordered.values()),
    )


def gap_limit_s(times_s: Sequence[float]) -> float:
    """The longest time between two readings that still counts as without a break.

    Three times the usual interval (the median), and ten minutes at most.
    """
    steps = [later - earlier for earlier, later in pairwise(times_s)]
    return min(GAP_INTERVALS * median(steps), LONGEST_GAP_S) if steps else 0.0


def _ordered(log: Log) -> list[tuple[float, float]]:
    """By time, each instant once with its colder reading."""
    colder: dict[float, float] = {}
    for at_s, temp_c in log:
        colder[at_s] = min(temp_c, colder.get(at_s, temp_c))
    return sorted(colder.items())


def _gaps(log: Log) -> int:
    limit_s = gap_limit_s([at_s for at_s, _ in log])
    return sum(later[0] - earlier[0] > limit_s + DUST_S for earlier, later in pairwise(log))


def _hot_spans(log: Log, temp_c: float) -> list[Span]:
    """The runs in which one probe was hot, oldest first."""
    limit_s = gap_limit_s([at_s for at_s, _ in log])
    spans: list[Span] = []
    for earlier, later in pairwise(log):
        if later[0] - earlier[0] > limit_s + DUST_S:
            continue
        hot = _hot_part(earlier, later, temp_c)
        if hot is None:
            continue
        if spans and spans[-1].end_s == hot.begin_s:
            spans[-1] = Span(spans[-1].begin_s, hot.end_s)
        else:
            spans.append(hot)
    return spans


def _hot_part(
    earlier: tuple[float, float], later: tuple[float, float], temp_c: float
) -> Span | None:
    """The hot part of the straight line from one reading to the next; None where it is not hot."""
    (begin_s, begin_c), (end_s, end_c) = earlier, later
    if begin_c >= temp_c and end_c >= temp_c:
        return Span(begin_s, end_s)
    if begin_c < temp_c and end_c < temp_c:
        return None
    crossing_s = begin_s + (end_s - begin_s) * (temp_c - begin_c) / (end_c - begin_c)
    return Span(crossing_s, end_s) if end_c >= temp_c else Span(begin_s, crossing_s)


def _together(runs: Sequence[Sequence[Span]]) -> list[Span]:
    """Where the runs of all probes lie upon each other."""
    common = list(runs[0])
    for others in runs[1:]:
        common = _overlaps(common, others)
    return [span for span in common if span.seconds > 0]


def _overlaps(ones: Sequence[Span], others: Sequence[Span]) -> list[Span]:
    found: list[Span] = []
    i = j = 0
    while i < len(ones) and j < len(others):
        begin_s = max(ones[i].begin_s, others[j].begin_s)
        end_s = min(ones[i].end_s, others[j].end_s)
        if end_s > begin_s:
            found.append(Span(begin_s, end_s))
        if ones[i].end_s < others[j].end_s:
            i += 1
        else:
            j += 1
    return found
