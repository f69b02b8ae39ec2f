"""The score of a forecast beside its rivals and beside what nobody could better, as a table."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np

from tests.bench.questions import FRACTIONS, Answer, Question
from tests.bench.truth import Floats

Group = tuple[str, list[int]]


def share(flags: Iterable[bool]) -> float:
    found = list(flags)
    return float(np.mean(found)) if found else float("nan")


def median_miss(answers: Sequence[Answer], whose: str = "median") -> float:
    """Median of |said − true| over the time that truly remained."""
    return float(np.median([a.share_off(getattr(a, whose)) for a in answers]))


def arriving(answers: Sequence[Answer]) -> list[Answer]:
    return [a for a in answers if a.question.arrival is not None]


def cells(answers: Sequence[Answer]) -> list[tuple[float, str, float, list[Answer]]]:
    """Arriving answers by fraction of the way, climate and thickness."""
    found: dict[tuple[float, str, float], list[Answer]] = {}
    for answer in arriving(answers):
        asked = answer.question
        key = (asked.fraction, asked.slab.climate.name, asked.slab.thickness_mm)
        found.setdefault(key, []).append(answer)
    return [(*key, found[key]) for key in sorted(found)]


def never_rates(answers: Sequence[Answer]) -> tuple[float, float]:
    """How often "never in this air" was said, of those that never do and of the others."""
    never = [a for a in answers if a.question.arrival is None]
    return share(a.is_never for a in never), share(a.is_never for a in arriving(answers))


def table(answers: Sequence[Answer], best: Floats) -> str:
    """The whole score as text. `best` has the best possible share off for each answer, or NaN."""
    title = f"{'':28s}   n  cover  open  width  early | error  best   line  year/in"
    floor = {id(answer): float(off) for answer, off in zip(answers, best, strict=True)}
    lines = [f"{name:28s} {_line(group, floor)}" for name, group in _groups(arriving(answers))]
    return "\n".join([title, *lines, *_footnotes(answers)])


def by_fraction(asked: Sequence[Question], misses: Mapping[str, Floats]) -> str:
    """Median share off (%) of several answers to the same questions, by fraction and thickness."""
    thicknesses = sorted({question.slab.thickness_mm for question in asked})
    groups = [
        *[[q.fraction == fraction for q in asked] for fraction in FRACTIONS],
        *[[q.slab.thickness_mm == thickness for q in asked] for thickness in thicknesses],
        [True] * len(asked),
    ]
    names = [*(f"{f:g}" for f in FRACTIONS), *(f"{t:g} mm" for t in thicknesses), "all"]
    lines = [f"{'':32s}" + "".join(f"{name:>8s}" for name in names)]
    for name, off in misses.items():
        cells = [f"{100 * np.median(off[np.array(group)]):8.1f}" for group in groups]
        lines.append(f"{name:32s}" + "".join(cells))
    return "\n".join(lines)


def _groups(answers: Sequence[Answer]) -> Iterator[tuple[str, list[Answer]]]:
    for fraction in FRACTIONS:
        at = [a for a in answers if a.question.fraction == fraction]
        yield f"at {fraction:.2f} of the way", at
        for _, climate, thickness, group in cells(at):
            yield f"  {climate}, {thickness:g} mm", group
    for thickness in sorted({a.question.slab.thickness_mm for a in answers}):
        same = [a for a in answers if a.question.slab.thickness_mm == thickness]
        yield f"all of {thickness:g} mm", same
    for target in sorted({a.question.target_pct for a in answers}):
        yield f"all to {target:g} %", [a for a in answers if a.question.target_pct == target]
    few = [a for a in answers if len({r.day for r in a.question.readings}) <= 2]
    yield "all with two checks or fewer", few
    yield "all that arrive", list(answers)


def _line(group: Sequence[Answer], floor: dict[int, float]) -> str:
    cover, is_open = share(a.is_covered for a in group), share(a.is_open for a in group)
    width = float(np.median([a.width_share for a in group]))
    early = share(a.median < a.question.remaining for a in group)
    best = float(np.nanmedian([floor[id(a)] for a in group]))
    ours, line, inch = (median_miss(group, whose) for whose in ("median", "line", "year_an_inch"))
    return (
        f"{len(group):4d}  {100 * cover:5.0f} {100 * is_open:5.0f}  {100 * width:5.0f} "
        f" {100 * early:5.0f} | {100 * ours:5.1f} {100 * best:5.1f} {100 * line:6.0f} "
        f" {100 * inch:7.0f}"
    )


def _footnotes(answers: Sequence[Answer]) -> list[str]:
    rightly, wrongly = never_rates(answers)
    come = arriving(answers)
    near = [abs(a.median - a.question.remaining) for a in come if a.question.remaining < 30]
    return [
        f'"never in this air": rightly {100 * rightly:.1f} % of {len(answers) - len(come)}, '
        f"wrongly {100 * wrongly:.1f} % of {len(come)}",
        f"under 30 days left: median miss {np.median(near):.1f} days of {len(near)}",
        "width, error, best and rivals in % of the time that remained; cover of the 80 % interval",
    ]
