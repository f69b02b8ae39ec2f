"""Whether wood still wet will be dry by the day work starts, for the moisture the piece wants.

The stored forecasts answer for interior furniture; for any other target the few slabs shown are
reckoned together, once a day and check.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.core.cache import cache

from inventory import forecast_words, forecasting
from inventory.forecast_words import Answer, stored_answer
from inventory.models import Slab, SlabForecast
from inventory.readiness import Target, Verdict
from inventory.what_if import answer_of

KEPT_S = 12 * 3600


@dataclass(frozen=True)
class Chance:
    """What is expected of one slab; `p` (0…1) of being dry by the start, None without a day."""

    slab: Slab
    answer: Answer
    p: float | None

    @property
    def in_words(self) -> str:
        return "" if self.p is None else forecast_words.chance_words(self.p)


Chances = dict[int, Chance]
Kept = tuple[Answer, float | None] | None


def chances(slabs: Iterable[Slab], target: Target, start: date | None, on: date) -> Chances:
    """By primary key, those something can be said of; two queries, and a few more to reckon.

    `slabs` have their species and place.
    """
    wanted = {slab.pk: slab for slab in slabs}
    if not wanted:
        return {}
    rows = SlabForecast.objects.select_related("place").filter(slab__in=list(wanted))
    found = {
        row.slab_id: _stored(wanted[row.slab_id], row, start, on)
        for row in rows
        if _tells(row, wanted[row.slab_id], target, on)
    }
    rest = [slab for pk, slab in wanted.items() if pk not in found]
    return found | _reckoned(rest, target, start, on)


def of_unready(
    slabs: Sequence[Slab],
    verdicts: Sequence[Verdict],
    target: Target,
    start: date | None,
    on: date,
) -> Chances:
    """The same for those of the slabs that are not ready."""
    pairs = zip(slabs, verdicts, strict=True)
    return chances((slab for slab, v in pairs if not v.is_ready), target, start, on)


def least(slabs: Sequence[Slab], verdicts: Sequence[Verdict], known: Chances) -> Chance | None:
    """Of the slabs not ready the least likely to be in time: all must be. None where not known."""
    unready = [slab for slab, v in zip(slabs, verdicts, strict=True) if not v.is_ready]
    if not unready or any(slab.pk not in known for slab in unready):
        return None
    return min((known[slab.pk] for slab in unready), key=_how_soon)


def _how_soon(chance: Chance) -> tuple[float, int]:
    day = chance.answer.median_on
    return chance.p or 0.0, -(day or date.max).toordinal()


def _tells(row: SlabForecast, slab: Slab, target: Target, on: date) -> bool:
    is_same = row.target_high_pct == target.high_pct
    return is_same and row.is_of(slab.latest_check_id, slab.place_id, on)


def _stored(slab: Slab, row: SlabForecast, start: date | None, on: date) -> Chance:
    answer = stored_answer(row, on)
    is_known = bool(row.arrival_days)
    p = forecast_words.p_by(row, start) if start is not None and is_known else None
    return Chance(slab, answer, p)


def _reckoned(slabs: Sequence[Slab], target: Target, start: date | None, on: date) -> Chances:
    keys = {_key(slab, target, start, on): slab for slab in slabs}
    kept: dict[str, Kept] = cache.get_many(keys)
    missing = {key: slab for key, slab in keys.items() if key not in kept}
    if missing:
        made = _made(missing, target, start, on)
        cache.set_many(made, KEPT_S)
        kept |= made
    return {keys[key].pk: Chance(keys[key], *said) for key, said in kept.items() if said}


def _made(slabs: dict[str, Slab], target: Target, start: date | None, on: date) -> dict[str, Kept]:
    """None for a slab nothing can be said of, so that it is not reckoned again."""
    made = forecasting.answers_for(list(slabs.values()), on, target)
    found: dict[str, Kept] = {}
    for key, slab in slabs.items():
        forecast, place = made.get(slab.pk), slab.place.name if slab.place else ""
        if forecast is None:
            found[key] = None
        else:
            p = None if start is None else forecast.p_by(float((start - on).days))
            found[key] = answer_of(forecast, target, place, on), p
    return found


def _key(slab: Slab, target: Target, start: date | None, on: date) -> str:
    return (
        f"dry-{slab.pk}-{slab.latest_check_id}-{slab.place_id}-{slab.thickness_mm:g}"
        f"-{target.low_pct:g}-{target.high_pct:g}-{start}-{on}"
    )
