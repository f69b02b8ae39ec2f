"""What follows from a place's records: the means of its days, and its typical year.

`write` is called in the transaction of whatever changes a place's air; nothing else writes the two
tables. `manage.py rederive` calls the same functions over every place.
"""

import math
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
from django.db.models import Avg, Count, Q
from django.db.models.functions import TruncDate
from django.utils import timezone

from inventory.models import AirDayMean, AirRecord, TypicalYear
from inventory.wood import climate
from inventory.wood.climate import PlaceClimate

FIGURES = ("temp_c", "rh_pct", "emc_pct", "records")
# Half of what an 80 % interval spans, in standard deviations.
FOUR_IN_FIVE = 1.2816


def write(place_pk: int, first: date, last: date) -> None:
    """Derive again the means of the local days from `first` to `last`, both included, and the
    year that follows from all days.
    """
    found = derived_days(place_pk, first, last)
    AirDayMean.objects.bulk_create(
        found,
        batch_size=500,
        update_conflicts=True,
        unique_fields=["place", "on"],
        update_fields=FIGURES,
    )
    stored = AirDayMean.objects.filter(place=place_pk, on__gte=first, on__lte=last)
    emptied = set(stored.values_list("on", flat=True)) - {day.on for day in found}
    if emptied:  # a record was put right to another day
        stored.filter(on__in=emptied).delete()
    write_year(place_pk)


def write_place(place_pk: int) -> None:
    """Every day of a place, and its year."""
    AirDayMean.objects.filter(place=place_pk).delete()
    AirDayMean.objects.bulk_create(derived_days(place_pk), batch_size=500)
    write_year(place_pk)


def derived_days(
    place_pk: int, first: date | None = None, last: date | None = None
) -> list[AirDayMean]:
    """The means of a place's days as its records have them, unsaved; days without are absent."""
    wanted = Q(place=place_pk, superseded_by__isnull=True)
    if first is not None:
        wanted &= Q(at__gte=midnight(first))
    if last is not None:
        wanted &= Q(at__lt=midnight(last, 1))
    rows = (
        AirRecord.objects.filter(wanted)
        .annotate(on=TruncDate("at"))
        .order_by("on")
        .values("on")
        .annotate(
            mean_c=Avg("temp_c"),
            mean_rh=Avg("rh_pct"),
            mean_emc=Avg("emc_pct"),
            records=Count("pk"),
        )
    )
    names = ("on", "mean_c", "mean_rh", "mean_emc", "records")
    return [
        AirDayMean(place_id=place_pk, on=on, temp_c=t, rh_pct=rh, emc_pct=emc, records=count)
        for on, t, rh, emc, count in rows.values_list(*names)
    ]


def write_year(place_pk: int) -> None:
    derived = derived_year(place_pk)
    if derived is None:
        TypicalYear.objects.filter(place=place_pk).delete()
        return
    figures = {**derived, "derived_at": timezone.now()}
    TypicalYear.objects.update_or_create(place_id=place_pk, defaults=figures)


def derived_year(place_pk: int) -> dict[str, Any] | None:
    """The typical year's figures (see TypicalYear) from the place's days; None without any."""
    known = climates_of([place_pk]).get(place_pk)
    if known is None:
        return None
    last_day = known.first_day + len(known.daily) - 1
    return {
        "coefficients": known.coefficients.tolist(),
        "days_on_record": known.days_on_record,
        "first_on": date.fromordinal(known.first_day),
        "last_on": date.fromordinal(last_day),
        "spread_pct": spread_pct(known),
    }


def climates_of(place_pks: Iterable[int], before: date | None = None) -> dict[int, PlaceClimate]:
    """The climate of each place with air on record, for forecasts; one query.

    With `before`, as it was known from the days before that one.
    """
    rows = AirDayMean.objects.filter(place__in=list(place_pks)).order_by("place", "on")
    if before is not None:
        rows = rows.filter(on__lt=before)
    days: dict[int, list[tuple[float, float, float]]] = {}
    for pk, on, emc, temp in rows.values_list("place_id", "on", "emc_pct", "temp_c").iterator():
        days.setdefault(pk, []).append((on.toordinal(), emc, temp))
    return {pk: climate.know_place(*np.array(some).T) for pk, some in days.items()}


def spread_pct(known: PlaceClimate) -> float:
    """How far the EMC of four days in five lies from the typical year, either way.

    The weather's own spread, what the level of a year may differ by, and, where only a flat mean
    is known, the swing of the seasons nobody has recorded yet.
    """
    variance = float(known.residuals[:, 0].var()) + float(known.offset_sd[0]) ** 2
    if not known.has_curve:
        variance += _unseen_swing_variance(known)
    return FOUR_IN_FIVE * math.sqrt(variance)


def _unseen_swing_variance(known: PlaceClimate) -> float:
    """Mean over the year of the variance a yearly swing of unknown size and phase brings."""
    recorded = _yearly_wave(known.first_day + np.flatnonzero(known.is_measured)).mean(axis=0)
    apart = _yearly_wave(np.arange(366)) - recorded
    return float(climate.UNSEEN_SWING[0] ** 2 / 2.0 * (apart**2).sum(axis=1).mean())


def _yearly_wave(days: Any) -> Any:
    angle = 2.0 * np.pi * days / climate.YEAR_DAYS
    return np.stack([np.cos(angle), np.sin(angle)], axis=-1)


def midnight(day: date, days_later: int = 0) -> datetime:
    """The moment a day of the yard's own clock begins."""
    moment = datetime.combine(day + timedelta(days=days_later), datetime.min.time())
    return timezone.make_aware(moment)
