"""What the forecast that stood before a check said of its day.

The stored forecast is made anew with every check, so what the one before it had led to expect is
kept with the check itself: the warning “a check out of line” (alert_rules.py) rests on it.
"""

from datetime import date

import numpy as np

from inventory.models import MoistureCheck, Slab, SlabForecast

# A normal spread has its 10 and 90 % points so many standard deviations either side of the middle.
TENTH_SDS = 1.2816

Foreseen = tuple[float, float]
"""Mean moisture expected, % MC, and its standard deviation, the meter's own noise left out."""


def foreseen(slab: Slab, on: date, supersedes: MoistureCheck | None = None) -> Foreseen | None:
    """What was expected of a slab on a day before this check of it; one query at most.

    None where no forecast stood that was made by that day for the place it lies in. A correction
    of the same day is held against what the check it puts right was held against, since the
    forecast that stands now has believed that check.
    """
    if supersedes is not None:
        pct, sd_pct = supersedes.expected_pct, supersedes.expected_sd_pct
        return None if pct is None or sd_pct is None or supersedes.on != on else (pct, sd_pct)
    row = SlabForecast.objects.filter(slab=slab, place=slab.place_id, made_on__lte=on).first()
    return None if row is None else read_at(row, on)


def read_at(row: SlabForecast, on: date) -> Foreseen | None:
    """The stored curve at a day, between its points; None off its ends or where there is none."""
    day, curve = (on - row.made_on).days, np.asarray(row.curve, dtype=np.float64)
    if not len(curve) or not curve[0, 0] <= day <= curve[-1, 0]:
        return None
    low, middle, high = (float(np.interp(day, curve[:, 0], curve[:, i])) for i in (1, 2, 3))
    return middle, (high - low) / (2.0 * TENTH_SDS)
