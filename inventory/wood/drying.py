"""A slab's history → its drying curve → the date it is dry, and how sure that is.

The public face of the forecasting modules:

* `climate` — a place's own records, its typical year, and the air to come;
* `diffusion` — moisture moving out through the thickness;
* `drying_priors`, `drying_history`, `drying_fit` — what the readings say of a slab;
* `forecast` — the samples carried through the air to come;
* `drying_rates` — published figures, for warnings and for checks.

A forecast is not a promise: it knows no end drying, no hysteresis, and a meter it cannot check.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt

from inventory.wood.climate import FutureAir
from inventory.wood.drying_fit import Fitted, fit
from inventory.wood.drying_history import Reading, SlabHistory, batch_of
from inventory.wood.forecast import Forecast, carry

__all__ = ["Forecast", "Reading", "SlabHistory", "fit_one", "fit_parts", "forecast_many"]

SAMPLES = 64
FITTED_AT_ONCE = 64


def fit_one(history: SlabHistory, samples: int = SAMPLES) -> Fitted:
    """What one slab's readings say of it, to be carried through any place's air with `carry`."""
    return fit(batch_of([history]), samples)


def fit_parts(
    histories: Sequence[SlabHistory], samples: int = SAMPLES
) -> Iterator[tuple[npt.NDArray[np.intp], Fitted]]:
    """Fit many slabs, part by part: the places in `histories` a part holds, and its fit.

    Slabs with histories of about one length go together, so that little time is spent on padding.
    """
    for places in _alike(histories):
        batch = batch_of([histories[place] for place in places])
        yield np.asarray(places, dtype=np.intp), fit(batch, samples)


def forecast_many(
    histories: Sequence[SlabHistory],
    airs: FutureAir | Sequence[FutureAir],
    targets_pct: float | Sequence[float],
) -> list[Forecast]:
    """Forecasts of many slabs, in their order; `airs` and `targets_pct` one each or one for all.

    Raises ValueError for a slab without a usable reading, thickness or air.
    """
    if not histories:
        return []
    each = [airs] * len(histories) if isinstance(airs, FutureAir) else list(airs)
    targets = np.broadcast_to(np.asarray(targets_pct, dtype=np.float64), (len(histories),))
    answers: dict[int, Forecast] = {}
    for places, fitted in fit_parts(histories, each[0].samples):
        for air, members in _by_air([each[place] for place in places]):
            here = np.asarray(members, dtype=np.intp)
            found = carry(fitted.take(here), air, targets[places[here]])
            answers.update(zip(places[here].tolist(), found, strict=True))
    return [answers[place] for place in range(len(histories))]


def _alike(histories: Sequence[SlabHistory]) -> Iterator[list[int]]:
    """Places of histories of one kind of start, ordered by length and cut into parts."""
    for starts_even in (True, False):
        places = [i for i, h in enumerate(histories) if h.starts_even is starts_even]
        places.sort(key=lambda place: len(histories[place].air.days))
        for begin in range(0, len(places), FITTED_AT_ONCE):
            yield places[begin : begin + FITTED_AT_ONCE]


def _by_air(airs: Sequence[FutureAir]) -> list[tuple[FutureAir, list[int]]]:
    members: defaultdict[int, list[int]] = defaultdict(list)
    for place, air in enumerate(airs):
        members[id(air)].append(place)
    return [(airs[places[0]], places) for places in members.values()]
