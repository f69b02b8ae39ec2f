"""Slips of the pen in moisture readings: 92 for 9.2, 29 for 92, 144 for 14.

A slip is asked about, never corrected by itself. Wood dries by any amount between two visits, and
the core of a wet slab holds several times what its shell does, so neither alone is a slip; what
is asked about is a sudden rise, a number that no wood outside an oven has, and a number that a
common slip of the fingers explains.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, pairwise
from statistics import median

MOST_PCT = 250.0
# Wood in any inhabited air stays above this; below it a reading is doubted.
DRIEST_PCT = 5.0
WILD_RATIO = 2.0
WILD_POINTS = 6.0
# Above fibre saturation a meter's numbers jump about; a rise there says nothing.
STEADY_BELOW_PCT = 30.0
# Without an earlier visit, only this much above every other reading is wild of itself.
WILD_AMONG_OTHERS = 5.0
EXPLAINED_RATIO = 1.35


@dataclass(frozen=True)
class Doubt:
    """A question about a reading, and the number likely meant, if a slip explains it."""

    question: str
    suggestion_pct: float | None


def doubtful(raw_pct: float, *, last_pct: float | None, others: Sequence[float]) -> Doubt | None:
    """A question about a doubtful reading, or None.

    `last_pct` is the slab's last known figure, `others` the other readings of this visit. What the
    person confirms is kept.
    """
    if not 0.0 < raw_pct <= MOST_PCT:
        return _implausible(raw_pct, last_pct, others)
    if last_pct is not None and _is_wild(raw_pct, last_pct):
        meant = _likely(raw_pct, last_pct)
        lone = not any(_is_near(raw_pct, other) for other in others)
        if meant is not None or (lone and _is_unlikely_change(raw_pct, last_pct)):
            return _ask(raw_pct, f"The last was {last_pct:.4g}", meant)
    return _doubt_among(raw_pct, others) if others else None


def _doubt_among(raw_pct: float, others: Sequence[float]) -> Doubt | None:
    """Doubt of a reading beside the others of the same visit.

    A wet slab's core holds three times what its shell does, so only a tenfold slip of the point
    counts here, and a number far from every other.
    """
    if any(_is_near(raw_pct, other) for other in others):
        return None
    typical = median(others)
    wild = raw_pct < DRIEST_PCT or raw_pct > WILD_AMONG_OTHERS * max(others)
    if not wild:
        return None
    meant = _first_near(_moved_point(f"{raw_pct:g}"), typical)
    said = (
        f"The other reading is {typical:.4g}"
        if len(others) == 1
        else f"The others are around {typical:.3g}"
    )
    return _ask(raw_pct, said, meant)


def _implausible(raw_pct: float, last_pct: float | None, others: Iterable[float]) -> Doubt:
    if not raw_pct > 0.0:
        return Doubt(f"{raw_pct:g}? Wood always holds some water: please look again.", None)
    near = last_pct if last_pct is not None else next(iter(others), None)
    meant = None if near is None else _likely(raw_pct, near)
    return _ask(raw_pct, f"No wood holds more than {MOST_PCT:.0f} %", meant)


def _ask(raw_pct: float, said: str, meant: float | None) -> Doubt:
    if meant is None:
        return Doubt(f"{raw_pct:g}? {said} — is that right?", None)
    return Doubt(f"{raw_pct:g}? {said} — did you mean {meant:g}?", meant)


def _is_near(one: float, other: float) -> bool:
    low, high = sorted((one, other))
    return not (high > WILD_RATIO * low and high - low > WILD_POINTS)


def _is_wild(raw_pct: float, last_pct: float) -> bool:
    """Far from the last, and not merely drier: drying is what slabs are there for."""
    if _is_near(raw_pct, last_pct):
        return False
    return raw_pct > last_pct or raw_pct < DRIEST_PCT


def _is_unlikely_change(raw_pct: float, last_pct: float) -> bool:
    return raw_pct < DRIEST_PCT or last_pct < STEADY_BELOW_PCT


def _likely(raw_pct: float, near_pct: float) -> float | None:
    """The number a common slip would have made of one near `near_pct`, the commonest slip first."""
    text = f"{raw_pct:g}"
    if not set(text) <= set("0123456789."):
        return None
    slips = [_extra_key(text), _moved_point(text)] if "." in text else []
    slips = [*slips, _moved_point(text), _extra_key(text), _swapped(text)]
    return _first_near(chain.from_iterable(slips), near_pct)


def _first_near(candidates: Iterable[float], near_pct: float) -> float | None:
    return next((meant for meant in candidates if _explains(meant, near_pct)), None)


def _explains(meant: float, near_pct: float) -> bool:
    return meant > 0 and max(meant, near_pct) <= EXPLAINED_RATIO * min(meant, near_pct)


def _moved_point(text: str) -> Iterator[float]:
    """The point left out or put in too early: 92 → 9.2, 0.92 → 9.2."""
    for factor in (0.1, 10.0, 0.01):
        yield round(float(text) * factor, 2)


def _extra_key(text: str) -> Iterator[float]:
    """One key too many: 144 → 14."""
    for at in range(len(text)):
        shorter = text[:at] + text[at + 1 :]
        if text[at] != "." and sum(figure.isdigit() for figure in shorter) > 1:
            yield float(shorter)


def _swapped(text: str) -> Iterator[float]:
    """Two neighbouring figures changed about, the point staying: 2.9 → 9.2."""
    places = [at for at, figure in enumerate(text) if figure.isdigit()]
    for one, other in pairwise(places):
        figures = list(text)
        figures[one], figures[other] = figures[other], figures[one]
        if figures != list(text):
            yield float("".join(figures))
