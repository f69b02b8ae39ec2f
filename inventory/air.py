"""The air of places: records as they come in, what wood left there settles at, and days for charts.

A record is never changed: one that was wrong is superseded by another. Temperatures in °C,
humidity in % RH, EMC (equilibrium moisture content) in % of oven-dry mass.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import OuterRef, Q, Subquery, Sum
from django.utils import timezone

from inventory import air_means
from inventory.air_means import midnight
from inventory.air_moments import DayOrder
from inventory.air_reading import AHEAD_ALLOWED, read_columns, rh_given
from inventory.air_table import TakenTable, lines_of, understand
from inventory.air_writing import SAME, write_columns
from inventory.models import AirDayMean, AirGiven, AirRecord, AirSource, Person, Place
from inventory.wood import humidity
from inventory.wood.humidity import WindowMean

WINDOW_DAYS = 30
GAP_DAYS = 7
EARLIEST_YEAR = 1970
KEPT_S = 600


@dataclass(frozen=True)
class PlaceAir:
    """A place's latest record (None without one) and its working EMC, the 30 days' mean."""

    latest: AirRecord | None
    working: WindowMean

    @property
    def working_emc_pct(self) -> float | None:
        return self.working.mean

    @property
    def days_covered(self) -> int:
        """Days of the 30 that the records cover, to the nearest; at least 1 where any part is."""
        days = round(self.working.covered_share * WINDOW_DAYS)
        return max(days, 1) if self.working.records else 0

    @property
    def settles_words(self) -> str:
        """`Wood left here settles at about 8.4 %`, or that it is not known."""
        if self.working.mean is None:
            return "Where wood left here would settle is not known."
        return f"Wood left here settles at about {self.working.mean:.1f}\N{NO-BREAK SPACE}%."

    @property
    def covered_words(self) -> str:
        """How much of the 30 days the figure stands on."""
        if self.working.mean is None:
            return f"No air on record in the last {WINDOW_DAYS} days."
        if self.days_covered == WINDOW_DAYS:
            return f"From the air of the last {WINDOW_DAYS} days."
        only = "" if self.days_covered > WINDOW_DAYS // 2 else "only "
        return f"From {only}{self.days_covered} of the last {WINDOW_DAYS} days: the rest is a gap."


@dataclass(frozen=True)
class Pasted(TakenTable):
    """What became of a pasted table of air: each row is a record of a moment."""

    @property
    def in_words(self) -> str:
        said = [f"{_count(self.added, 'record')} added."]
        if self.known:
            said.append(f"{_count(self.known, 'moment')} on record already.")
        if self.differing:
            moments = _count(self.differing, "moment")
            said.append(f"{moments} on record with other numbers, left as they were.")
        return " ".join([*said, self.read_as])


@dataclass(frozen=True)
class AirDay:
    """Plain means of one local day's records in one place."""

    place_id: int
    on: date
    temp_c: float
    rh_pct: float
    emc_pct: float


def make_record(
    place: Place,
    *,
    at: datetime,
    temp_c: float,
    given: AirGiven | str,
    value: float,
    by: Person | None,
    source: AirSource,
    now: datetime,
) -> AirRecord:
    """A record not yet stored, with its humidity and EMC.

    Raises:
        ValidationError: by field (at, temp_c, value), with a sentence.
    """
    _demand_moment(at, now)
    try:
        humidity.emc_pct(temp_c, 50.0)
    except humidity.OutOfRange as problem:
        raise ValidationError({"temp_c": str(problem)}) from problem
    try:
        rh_pct = rh_given(temp_c, given, value)
    except humidity.OutOfRange as problem:
        raise ValidationError({"value": str(problem)}) from problem
    return AirRecord(
        place=place,
        at=at,
        temp_c=temp_c,
        rh_pct=rh_pct,
        emc_pct=humidity.emc_pct(temp_c, rh_pct),
        given=given,
        given_value=value,
        source=source,
        by=by,
    )


def _demand_moment(at: datetime, now: datetime) -> None:
    if at > now + AHEAD_ALLOWED:
        raise ValidationError({"at": "That moment has not come yet."})
    if at.year < EARLIEST_YEAR:
        raise ValidationError({"at": f"{at.year} is before any record: look at the year again."})


def record_air(
    place: Place,
    *,
    at: datetime,
    temp_c: float,
    given: AirGiven | str,
    value: float,
    by: Person | None,
    now: datetime,
    source: AirSource = AirSource.TYPED,
    corrects: AirRecord | None = None,
) -> AirRecord:
    """Store one record; `value` is % RH, or °C for a wet bulb or dew point.

    A second record of the same moment corrects the first, which stays readable; the very same
    numbers again change nothing. `corrects` names the record put right where the moment itself was
    wrong.

    Raises:
        ValidationError: by field (at, temp_c, value), with a sentence.
    """
    record = make_record(
        place, at=at, temp_c=temp_c, given=given, value=value, by=by, source=source, now=now
    )
    try:
        with transaction.atomic():
            stored = _store(record, corrects)
            _derive_days({stored.at, corrects.at} if corrects else {stored.at}, place)
            _watch(place, now)
            return stored
    except IntegrityError as clash:
        raise ValidationError({"at": "Somebody wrote that moment just now: look again."}) from clash


def _store(record: AirRecord, corrects: AirRecord | None) -> AirRecord:
    same_moment = AirRecord.objects.current().filter(place=record.place, at=record.at).first()
    if corrects is not None and same_moment is not None and same_moment != corrects:
        raise ValidationError({"at": "This place has a record of that moment already."})
    earlier = corrects or same_moment
    if earlier is not None and earlier.at == record.at and _says_the_same(earlier, record):
        return earlier
    if earlier is None:
        _demand_never_put_right(record)
    record.supersedes = earlier
    record.save(force_insert=True)
    return record


def _derive_days(moments: Iterable[datetime], place: Place) -> None:
    for day in {timezone.localdate(at) for at in moments}:
        air_means.write(place.pk, day, day)


def _watch(place: Place, now: datetime) -> None:
    """Its air has changed: what it does to the wood there is looked at again."""
    from inventory import watch  # which itself asks this module for the working EMC

    watch.look_at_place(place, now)


def _says_the_same(one: AirRecord, other: AirRecord) -> bool:
    return _are_close((one.temp_c, one.rh_pct), (other.temp_c, other.rh_pct))


def _demand_never_put_right(record: AirRecord) -> None:
    """A first record of a moment stands once, even when it was put right to another moment."""
    if AirRecord.objects.filter(place=record.place, at=record.at, supersedes=None).exists():
        raise ValidationError(
            {"at": "A record of that moment was put right to another: correct that one instead."}
        )


def _are_close(one: tuple[float, float], other: tuple[float, float]) -> bool:
    """The same °C and % RH, to what a thermometer or a logger can tell."""
    return all(abs(a - b) < SAME for a, b in zip(one, other, strict=True))


@transaction.atomic
def paste_air(
    place: Place,
    text: str,
    *,
    by: Person | None,
    now: datetime,
    fahrenheit: bool,
    day_order: DayOrder | None = None,
    source: AirSource = AirSource.PASTED,
) -> Pasted:
    """Take a pasted table or a file's text; lines that cannot be taken are told, the rest go in.

    Times without an offset are of the yard's own clock; `fahrenheit` is for temperatures without
    a unit. A moment on record already is never doubled, whatever its numbers.

    Raises:
        air_table.TableProblem, air_table.DayOrderUnclear: with a sentence; nothing is written then.
    """
    layout = understand(text, fahrenheit=fahrenheit, day_order=day_order)
    columns, problems = read_columns(lines_of(text), layout, now=now)
    written = write_columns(place, columns, by=by, source=source)
    _watch(place, now)
    return Pasted(
        written.added,
        written.known,
        written.differing,
        tuple(problems),
        layout.in_words,
        layout.heading,
    )


def air_now(place: Place) -> AirRecord | None:
    """The latest record no correction has superseded."""
    return AirRecord.objects.current().filter(place=place).first()


def working_emc(place: Place, now: datetime) -> WindowMean:
    """The EMC wood there is heading for: time-weighted mean of the last 30 days."""
    return airs_of([place], now)[place.pk].working


def working_emcs(keys: Sequence[int], now: datetime) -> dict[int, float | None]:
    """Working EMC (%) of places by key, None without a record to go by; two queries at most."""
    return {key: found.mean for key, found in _working_of(keys, now).items()}


def end_of(day: date) -> datetime:
    """The moment a day of the yard's own clock ends."""
    return midnight(day, 1)


def airs_of(places: Iterable[Place], now: datetime) -> dict[int, PlaceAir]:
    """Latest record and working EMC of many places by key, in four queries at most."""
    keys = [place.pk for place in places]
    latest = _latest_of(keys, now)
    working = _working_of(keys, now)
    return {key: PlaceAir(latest.get(key), working[key]) for key in keys}


def _latest_of(keys: Sequence[int], now: datetime) -> dict[int, AirRecord]:
    newest = AirRecord.objects.current().filter(place=OuterRef("pk"), at__lte=now + AHEAD_ALLOWED)
    newest_pks = Place.objects.filter(pk__in=keys).values_list(Subquery(newest.values("pk")[:1]))
    records = AirRecord.objects.filter(pk__in=[pk for (pk,) in newest_pks if pk is not None])
    return {record.place_id: record for record in records}


def _working_of(keys: Sequence[int], now: datetime) -> dict[int, WindowMean]:
    """Kept for ten minutes, or until the place's next record: a logger's month is long to read."""
    last = _last_words(keys, now)
    bucket = f"{now.timestamp() // KEPT_S:.0f}"
    names = {key: f"working-emc-{key}-{last.get(key, 'none')}-{bucket}" for key in keys}
    kept = cache.get_many(names.values())
    missing = [key for key in keys if names[key] not in kept]
    fresh = _working_read(missing, now) if missing else {}
    cache.set_many({names[key]: mean for key, mean in fresh.items()}, KEPT_S)
    return {key: fresh[key] if key in fresh else kept[names[key]] for key in keys}


def _last_words(keys: Sequence[int], now: datetime) -> dict[int, str]:
    """What tells whether any air of the window was written or put right since, by place."""
    since = timezone.localdate(now) - timedelta(days=WINDOW_DAYS + GAP_DAYS + 1)
    days = AirDayMean.objects.filter(place__in=keys, on__gte=since).order_by()
    sums = days.values("place").annotate(count=Sum("records"), emc=Sum("emc_pct"))
    rows = sums.values_list("place", "count", "emc")
    return {place: f"{count}-{emc:.9f}" for place, count, emc in rows}


def _working_read(keys: Sequence[int], now: datetime) -> dict[int, WindowMean]:
    """One query: the window, and as far before it as a record may still cover into it."""
    since = now - timedelta(days=WINDOW_DAYS + GAP_DAYS)
    rows = AirRecord.objects.current().filter(place__in=keys, at__gte=since, at__lte=now)
    times_s: dict[int, list[float]] = {key: [] for key in keys}
    emcs: dict[int, list[float]] = {key: [] for key in keys}
    for key, at, emc in rows.order_by().values_list("place_id", "at", "emc_pct").iterator():
        times_s[key].append(at.timestamp())
        emcs[key].append(emc)
    return {key: _window_mean(times_s[key], emcs[key], now) for key in keys}


def _window_mean(times_s: list[float], emcs: list[float], now: datetime) -> WindowMean:
    day_s = 86400.0
    return humidity.time_weighted_mean(
        times_s,
        emcs,
        end_s=now.timestamp(),
        window_s=WINDOW_DAYS * day_s,
        gap_s=GAP_DAYS * day_s,
    )


def air_series(place: Place, since: date, until: date) -> list[AirDay]:
    """Daily means from `since` to `until`, both included, oldest first; days without are absent."""
    return air_days([(place.pk, since, until)])


def emc_series(place: Place, since: date, until: date) -> list[tuple[date, float]]:
    """Daily mean EMC (%), oldest first; days without a record are absent."""
    return [(day.on, day.emc_pct) for day in air_series(place, since, until)]


def air_days(spans: Sequence[tuple[int, date, date]]) -> list[AirDay]:
    """Daily means of several (place key, first day, last day) at once, oldest first; one query."""
    if not spans:
        return []
    wanted = Q()
    for place_pk, since, until in spans:
        wanted |= Q(place=place_pk, on__gte=since, on__lte=until)
    rows = AirDayMean.objects.filter(wanted).order_by("on", "place_id")
    return [
        AirDay(*row) for row in rows.values_list("place_id", "on", "temp_c", "rh_pct", "emc_pct")
    ]


def _count(number: int, thing: str) -> str:
    return f"{number:,} {thing}" + ("" if number == 1 else "s")
