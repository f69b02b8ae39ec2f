"""Fitting the diffusion model to what was read: maximum a posteriori, then weighted samples.

Levenberg-Marquardt with finite differences finds the most probable unknowns; the curvature there
gives a covariance (Laplace), from which quasi-random samples are drawn and weighed anew by how
well each explains the readings (importance weights, capped). Student-t noise keeps one wild
reading from deciding. All slabs of a batch go together.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt
from scipy.stats import norm, qmc

from inventory.wood.diffusion import Array, Wood, march, mean_of_cells, parabolic_start
from inventory.wood.drying_history import Batch
from inventory.wood.drying_priors import GRADIENT, START, Piece, start_of, wood_of

DEGREES_OF_FREEDOM = 4.0
ITERATIONS = 7
DIFFERENCE = 0.05
LONGEST_STEP = 1.5
FARTHEST = 4.0
FIRST_DAMPING = 0.03
# No sample may count for more than this many times its even share.
WEIGHT_CAP = 6.0


@dataclass(frozen=True)
class Fitted:
    """What is known of each slab now, as weighted samples.

    `z` (unknowns, slabs, samples); `weights` (slabs, samples) sum to 1; `state` (cells, slabs,
    samples) is the moisture now. `misfit` (slabs, readings) is (read − fitted) / standard
    deviation at the most probable unknowns, 0 where there is no reading.
    """

    piece: Piece
    z: Array
    weights: Array
    state: Array
    misfit: Array

    def __len__(self) -> int:
        return len(self.weights)

    @property
    def wood(self) -> Wood:
        return wood_of(self.z, self.piece)

    @property
    def mean_now_pct(self) -> Array:
        """Mean moisture now, (slabs, samples)."""
        return mean_of_cells(self.state)

    def take(self, slabs: slice | npt.NDArray[np.intp]) -> Fitted:
        """The same for some of the slabs."""
        piece = Piece(self.piece.half_mm[slabs], self.piece.sg[slabs], self.piece.start_pct[slabs])
        return Fitted(
            piece,
            self.z[:, slabs],
            self.weights[slabs],
            self.state[:, slabs],
            self.misfit[slabs],
        )


@dataclass(frozen=True)
class _Local:
    """What is known about the objective at a point: its value, gradient and curvature."""

    z: Array
    objective: Array
    gradient: Array
    curvature: Array
    misfit: Array


def fit(batch: Batch, samples: int = 64) -> Fitted:
    """Weighted samples of every slab's unknowns and of its state now."""
    best = _most_probable(batch)
    points = standard_points(samples, best.z.shape[1])
    spread = np.linalg.cholesky(np.linalg.inv(best.curvature))
    offsets = np.einsum("sij,jn->isn", spread, points)
    z = np.clip(best.z.T[:, :, None] + offsets, -FARTHEST, FARTHEST)
    predicted, state = _predict(batch, z)
    gain = 0.5 * (points**2).sum(axis=0) - _objective(batch, z, predicted)
    return Fitted(batch.piece, z, _capped_weights(gain), state, best.misfit)


@cache
def standard_points(samples: int, unknowns: int) -> Array:
    """Quasi-random standard normal points, (unknowns, samples), mean nil, always the same."""
    sobol = qmc.Sobol(unknowns, scramble=True, rng=20)
    points = norm.ppf(np.clip(sobol.random(samples), 1e-6, 1.0 - 1e-6)).T
    points = points - points.mean(axis=1, keepdims=True)
    points.setflags(write=False)
    return np.asarray(points)


def _most_probable(batch: Batch) -> _Local:
    unknowns = START + 1 if batch.starts_even else GRADIENT + 1
    best = _look(batch, np.zeros((len(batch), unknowns)))
    damping = np.full(len(batch), FIRST_DAMPING)
    for _ in range(ITERATIONS):
        tried = _look(batch, _stepped(best, damping))
        better = tried.objective < best.objective
        best = _pick(better, tried, best)
        damping = np.where(better, damping * 0.2, np.minimum(damping * 10.0, 1e4))
    return best


def _stepped(at: _Local, damping: Array) -> Array:
    """The damped Gauss-Newton step from a point, no unknown by more than LONGEST_STEP."""
    diagonal = np.einsum("sii->si", at.curvature) * damping[:, None]
    damped = at.curvature + diagonal[:, :, None] * np.eye(at.z.shape[1])
    step = np.linalg.solve(damped, -at.gradient[:, :, None])[:, :, 0]
    longest = np.abs(step).max(axis=1, keepdims=True)
    step *= np.minimum(1.0, LONGEST_STEP / np.maximum(longest, 1e-12))
    return np.clip(at.z + step, -FARTHEST, FARTHEST)


def _pick(better: npt.NDArray[np.bool_], tried: _Local, best: _Local) -> _Local:
    def chosen(new: Array, old: Array) -> Array:
        return np.where(better.reshape(-1, *[1] * (new.ndim - 1)), new, old)

    return _Local(
        chosen(tried.z, best.z),
        chosen(tried.objective, best.objective),
        chosen(tried.gradient, best.gradient),
        chosen(tried.curvature, best.curvature),
        chosen(tried.misfit, best.misfit),
    )


def _look(batch: Batch, z: Array) -> _Local:
    """Value and derivatives at z (slabs, unknowns): one march with a column a difference."""
    unknowns = z.shape[1]
    columns = np.repeat(z.T[:, :, None], unknowns + 1, axis=2)
    for i in range(unknowns):
        columns[i, :, i + 1] += DIFFERENCE
    predicted, _ = _predict(batch, columns)
    misfit = _misfit(batch, predicted[:, :, 0])
    rises = predicted[:, :, 1:] - predicted[:, :, :1]
    slopes = rises * (batch.precision[:, :, None] / DIFFERENCE)
    pull = (DEGREES_OF_FREEDOM + 1.0) / (DEGREES_OF_FREEDOM + misfit**2)
    gradient = z - np.einsum("srp,sr->sp", slopes, pull * misfit)
    curvature = np.einsum("srp,sr,srq->spq", slopes, pull, slopes) + np.eye(unknowns)
    objective = _objective(batch, columns[:, :, :1], predicted[:, :, :1])[:, 0]
    return _Local(z, objective, gradient, curvature, misfit)


def _misfit(batch: Batch, predicted: Array) -> Array:
    return np.asarray((batch.mc_pct - predicted) * batch.precision)


def _objective(batch: Batch, z: Array, predicted: Array) -> Array:
    """Minus the log posterior up to a constant: z (unknowns, slabs, columns) → (slabs, columns)."""
    misfit = (batch.mc_pct[:, :, None] - predicted) * batch.precision[:, :, None]
    nu = DEGREES_OF_FREEDOM
    noise = (nu + 1.0) / 2.0 * np.log1p(misfit**2 / nu).sum(axis=1)
    return np.asarray(noise + 0.5 * (z**2).sum(axis=0))


def _predict(batch: Batch, z: Array) -> tuple[Array, Array]:
    """What each reading should have been (slabs, readings, columns), and the state now."""
    mean, gradient = start_of(z, batch.piece)
    state = parabolic_start(mean, gradient, np.broadcast_to(batch.first_emc_pct, mean.shape))
    np.clip(state, 0.5, None, out=state)
    predicted = np.zeros((*batch.mc_pct.shape, z.shape[2]))
    for visit, now in zip(batch.visits, _states(state, batch, z), strict=True):
        state = now
        if visit is not None:
            seen = np.einsum("nc,cnp->np", visit.weights, now[:, visit.slab])
            predicted[visit.slab, visit.reading] += seen
    return predicted, state.copy()


def _states(start: Array, batch: Batch, z: Array) -> Iterator[Array]:
    yield start
    yield from march(start, wood_of(z, batch.piece), batch.air)


def _capped_weights(log_weights: Array) -> Array:
    """Weights (slabs, samples) that sum to 1, none far above an even share."""
    weights = np.exp(log_weights - log_weights.max(axis=1, keepdims=True))
    weights /= weights.sum(axis=1, keepdims=True)
    weights = np.minimum(weights, WEIGHT_CAP / weights.shape[1])
    return np.asarray(weights / weights.sum(axis=1, keepdims=True))
