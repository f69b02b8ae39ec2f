"""What the bench's own physics would say, were the wood known only from the same readings.

`ideal` knows the wood; nobody with a meter does. Here the true equations and the very scatter the
pieces were drawn with are fitted to each question's readings (Gauss-Newton, then weighted samples
of the Laplace covariance) and carried through the same air to come as the forecast. What this
misses comes of the meter, of few checks and of the weather, not of the forecast's physics.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.stats import norm

from inventory.wood.drying_fit import standard_points
from tests.bench import truth
from tests.bench.ideal import wood_of
from tests.bench.questions import METER_NOISE_PCT, Question, air_to_come, place_of
from tests.bench.truth import RECORD_BEFORE, Floats, Wood

UNKNOWNS = 7
ITERATIONS = 8
DIFFERENCE = 0.05
LONGEST_STEP, FARTHEST = 1.5, 4.0
SAMPLES = 128
AT_ONCE = 16
AHEAD_DAYS = 1000

Places = npt.NDArray[np.intp]


@dataclass
class _Local:
    """The best point of one question so far, with its slopes and misfits in standard deviations."""

    z: Floats
    objective: float
    slopes: Floats
    misfit: Floats
    damping: float = 0.03

    @property
    def curvature(self) -> Floats:
        return np.asarray(self.slopes.T @ self.slopes + np.eye(UNKNOWNS))

    def next(self) -> Floats:
        """The damped step from here, no unknown by more than LONGEST_STEP."""
        bent = self.curvature + self.damping * np.diag(np.diag(self.curvature))
        step = -np.linalg.solve(bent, self.z - self.slopes.T @ self.misfit)
        step *= min(1.0, LONGEST_STEP / max(float(np.abs(step).max()), 1e-9))
        return np.clip(self.z + step, -FARTHEST, FARTHEST)


def medians(asked: Sequence[Question], samples: int = SAMPLES) -> Floats:
    """Median days from now for each question; infinite beyond AHEAD_DAYS."""
    parts = [asked[at : at + AT_ONCE] for at in range(0, len(asked), AT_ONCE)]
    return np.concatenate([_medians(part, samples) for part in parts])


def medians_knowing_the_wood(asked: Sequence[Question], samples: int = SAMPLES) -> Floats:
    """The same where the wood and its state now are the true ones: only the air is to be guessed.

    The climate is what the place's own record tells, as for the forecast.
    """
    parts = [asked[at : at + AT_ONCE] for at in range(0, len(asked), AT_ONCE)]
    return np.concatenate([_knowing(part, samples) for part in parts])


def _knowing(asked: Sequence[Question], samples: int) -> Floats:
    which = np.repeat(np.arange(len(asked)), samples)
    wood = wood_of([question.slab for question in asked]).take(which)
    now = np.stack([question.slab.profile[question.day] for question in asked]).astype(np.float64)
    days = _arrivals(asked, wood, which, now[None, which], samples)
    return np.asarray(np.median(days.reshape(len(asked), samples), axis=1))


def _medians(asked: Sequence[Question], samples: int) -> Floats:
    points = standard_points(samples, UNKNOWNS)
    found = _most_probable(asked)
    spreads = [np.linalg.cholesky(np.linalg.inv(at.curvature)) for at in found]
    z = np.hstack([at.z[:, None] + wide @ points for at, wide in zip(found, spreads, strict=True)])
    z = np.clip(z, -FARTHEST, FARTHEST)
    which = np.repeat(np.arange(len(asked)), samples)
    wood = _wood_of(z, asked, which)
    lived = _lived(asked, wood, which)
    days = _arrivals(asked, wood, which, lived, samples).reshape(len(asked), samples)
    gain = 0.5 * ((points**2).sum(axis=0) - (z**2).sum(axis=0).reshape(len(asked), samples))
    for i, question in enumerate(asked):
        for s in range(samples):
            off = _misfit(question, lived[:, i * samples + s])
            gain[i, s] -= 0.5 * float(off @ off)
    return np.array([_weighted_median(d, g) for d, g in zip(days, gain, strict=True)])


def _weighted_median(days: Floats, gain: Floats) -> float:
    weights = np.exp(gain - gain.max())
    order = np.argsort(days)
    reached = np.cumsum(weights[order]) / weights.sum()
    return float(days[order][np.searchsorted(reached, 0.5)])


def _most_probable(asked: Sequence[Question]) -> list[_Local]:
    columns = UNKNOWNS + 1
    which = np.repeat(np.arange(len(asked)), columns)
    nudges = np.hstack([np.zeros((UNKNOWNS, 1)), DIFFERENCE * np.eye(UNKNOWNS)])
    best: list[_Local] = []
    for _ in range(ITERATIONS):
        tried = [at.next() for at in best] or [np.zeros(UNKNOWNS)] * len(asked)
        z = np.hstack([point[:, None] + nudges for point in tried])
        lived = _lived(asked, _wood_of(z, asked, which), which)
        looked = [
            _look(question, tried[i], lived[:, i * columns : (i + 1) * columns])
            for i, question in enumerate(asked)
        ]
        best = [_better(*pair) for pair in zip(best, looked, strict=True)] if best else looked
    return best


def _look(question: Question, z: Floats, lived: Floats) -> _Local:
    off = np.stack([_misfit(question, lived[:, column]) for column in range(UNKNOWNS + 1)])
    objective = 0.5 * float(off[0] @ off[0] + z @ z)
    return _Local(z, objective, (off[0] - off[1:]).T / DIFFERENCE, off[0])


def _better(old: _Local, new: _Local) -> _Local:
    if new.objective < old.objective:
        new.damping = old.damping * 0.2
        return new
    old.damping *= 10.0
    return old


def _misfit(question: Question, lived: Floats) -> Floats:
    """(read − simulated) / noise for each reading, from the profiles of every day."""
    thickness = question.slab.thickness_mm
    cut = truth.edges(np.array([thickness]))[0]
    middles = (cut[1:] + cut[:-1]) / 2
    off = []
    for reading in question.readings:
        day = int(reading.day)
        assert reading.depth_share is not None  # the bench asks no weighings
        low, high = (
            np.interp(reading.depth_share * thickness, middles, lived[min(at, question.day)])
            for at in (day, day + 1)
        )
        off.append(reading.mc_pct - low - (reading.day - day) * (high - low))
    return np.array(off) / METER_NOISE_PCT


def _wood_of(z: Floats, asked: Sequence[Question], which: Places) -> Wood:
    """Pieces as `truth.pieces` scatters them, from standard normal z (unknowns, columns).

    Both faces alike: from one side's readings the difference hardly shows.
    """
    sg = np.array([question.slab.sg for question in asked])[which]
    face = 2.5 * (0.55 / sg) * np.exp(0.30 * z[4])
    return Wood(
        fsp=(28.5 + 1.2 * z[0])[:, None],
        scale=(3.8 * (0.55 / sg) ** 1.5 * np.exp(0.30 * z[1]))[:, None],
        vapour_share=(0.2 + 0.3 * norm.cdf(z[2]))[:, None],
        free=np.exp(-0.2 + 0.4 * z[3])[:, None],
        near_face=face,
        far_face=face,
        sorption=np.exp(0.02 * z[5]),
        start=np.clip(110 - 65 * sg + 10 * z[6], 42, 110),
    )


def _lived(asked: Sequence[Question], wood: Wood, which: Places) -> Floats:
    """Profiles of each day up to the question's, (days + 1, columns, cells)."""
    last = np.array([question.day for question in asked])
    thickness = np.array([question.slab.thickness_mm for question in asked])[which]
    widths = np.diff(truth.edges(thickness), axis=1)
    found = np.repeat(wood.start[None, :, None], truth.CELLS, axis=2)
    found = np.repeat(found, last.max() + 1, axis=0)
    for day in range(last.max()):
        going = np.flatnonzero(last[which] > day)
        air = [question.slab.air for question in asked]
        emc, temp = (
            np.array([a[RECORD_BEFORE + day] for a in column])[which[going]]
            for column in ([a.emc for a in air], [a.temp for a in air])
        )
        part = wood.take(going)
        found[day + 1 :, going] = truth.step(
            found[day, going], widths[going], part, emc * part.sorption, temp
        )
    return found


def _arrivals(
    asked: Sequence[Question], wood: Wood, which: Places, lived: Floats, samples: int
) -> Floats:
    """Days from now of every column to its target, each in its own sample of the air to come."""
    steps = [air_to_come(question, place_of(question), samples).steps for question in asked]
    emc, temp = (
        np.hstack(
            [
                np.repeat(of, step.days[:, 0].astype(int), axis=0)[:AHEAD_DAYS]
                for of, step in zip(column, steps, strict=True)
            ]
        )
        for column in ([step.emc_pct for step in steps], [step.temp_c for step in steps])
    )
    thickness = np.array([question.slab.thickness_mm for question in asked])[which]
    target = np.array([question.target_pct for question in asked])[which]
    widths = np.diff(truth.edges(thickness), axis=1)
    now, means = lived[-1].copy(), (lived[-1] * widths).sum(axis=1) / thickness
    found = np.where(means <= target, 0.0, np.inf)
    for day in range(AHEAD_DAYS):
        left = np.flatnonzero(np.isinf(found))
        if not left.size:
            break
        part = wood.take(left)
        now[left] = truth.step(
            now[left], widths[left], part, emc[day, left] * part.sorption, temp[day, left]
        )
        new = (now[left] * widths[left]).sum(axis=1) / thickness[left]
        into = (means[left] - target[left]) / np.maximum(means[left] - new, 1e-9)
        found[left] = np.where(new <= target[left], day + into, np.inf)
        means[left] = new
    return found
