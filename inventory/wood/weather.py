"""How long weather lasts: what the departures of the last days say of the days to come.

A warm, dry spell is not over tomorrow. How a place's departures from its typical year fade is
taken from its own record: their autocovariance, as a sum of exponentials with weights not below
nil (so that it is one a real series can have). By it the departures drawn for the days to come are
conditioned on those of the last days on record, as kriging conditions a simulation (Journel and
Huijbregts, *Mining Geostatistics*, 1978, chapter VII, from memory): drawn + gain × (seen − drawn).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.optimize import nnls

Floats = npt.NDArray[np.float64]

# From a passing front to a dry season (days).
MEMORIES_DAYS = np.array([0.5, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0])
LONGEST_LAG_DAYS = 64
LOOK_BACK_DAYS = 60
LOOK_AHEAD_DAYS = 180


def memory_weights(departures: Floats) -> Floats:
    """Variance that fades with each of MEMORIES_DAYS: daily departures (days,) → (memories,)."""
    lags = np.arange(min(LONGEST_LAG_DAYS, len(departures) // 4))
    found = [float(np.mean(departures[lag:] * departures[: len(departures) - lag])) for lag in lags]
    weights, _ = nnls(covariance(lags, np.eye(len(MEMORIES_DAYS))), np.array(found))
    return np.asarray(weights)


def covariance(lag_days: npt.NDArray[np.integer], weights: Floats) -> Floats:
    """Covariance of departures so many days apart: any shape, with `weights`' columns last."""
    fading = np.exp(-np.abs(lag_days)[..., None] / MEMORIES_DAYS)
    return np.asarray(fading @ weights)


def gain(
    seen_days: npt.NDArray[np.integer], days: npt.NDArray[np.integer], weights: Floats
) -> Floats:
    """What each seen day says of each day to come: (days, seen days)."""
    among = covariance(seen_days[:, None] - seen_days[None, :], weights)
    among += np.eye(len(seen_days)) * 1e-6 * max(weights.sum(), 1e-9)
    across = covariance(days[:, None] - seen_days[None, :], weights)
    return np.asarray(np.linalg.solve(among, across.T).T)
