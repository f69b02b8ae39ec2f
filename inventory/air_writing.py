"""Putting many records of one place's air on record at once, none twice, with what follows."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np
from django.db import connection, transaction
from django.utils import timezone

from inventory import air_means
from inventory.air_reading import AirColumns, Ints
from inventory.models import AirRecord, AirSource, Person, Place, SensorToken

# What a thermometer or a logger can tell apart, in °C and in % RH.
SAME = 0.005
_FIELDS = (
    "place", "at", "temp_c", "rh_pct", "emc_pct", "given", "given_value", "source", "by", "sensor",
)  # fmt: skip


@dataclass(frozen=True)
class Written:
    """Records added, and moments on record already: with the same numbers, with others."""

    added: int
    known: int
    differing: int


@transaction.atomic
def write_columns(
    place: Place,
    columns: AirColumns,
    *,
    by: Person | None,
    source: AirSource,
    sensor: SensorToken | None = None,
) -> Written:
    """Store the moments nobody has written yet and derive the days they touch.

    A moment on record already is left as it is, whatever its numbers; one that was put right does
    not come back. Writers of one place wait for each other.
    """
    if not len(columns):
        return Written(0, 0, 0)
    Place.objects.select_for_update().get(pk=place.pk)
    fresh, known, differing = _sift(place, columns)
    kept = columns.part(fresh)
    origin = (source, by.pk if by else None, sensor.pk if sensor else None)
    added = _insert(place, kept, origin)
    if added:
        first, last = (timezone.localdate(_moment(s)) for s in kept.at_s[[0, -1]].tolist())
        air_means.write(place.pk, first, last)
    return Written(added, known + len(kept) - added, differing)


def _moment(at_s: int) -> datetime:
    return datetime.fromtimestamp(at_s, UTC)


def _sift(place: Place, columns: AirColumns) -> tuple[Ints, int, int]:
    """Rows of new moments; how many are known with the same numbers, and with others."""
    seen = _on_record(place, columns)
    fresh: list[int] = []
    known = differing = 0
    numbers = zip(
        columns.at_s.tolist(), columns.temp_c.tolist(), columns.rh_pct.tolist(), strict=True
    )
    for row, (at_s, temp_c, rh_pct) in enumerate(numbers):
        before = seen.get(at_s)
        if before is None:
            seen[at_s] = (temp_c, rh_pct)
            fresh.append(row)
        elif abs(before[0] - temp_c) < SAME and abs(before[1] - rh_pct) < SAME:
            known += 1
        else:
            differing += 1
    return np.array(fresh, dtype=np.int64), known, differing


def _on_record(place: Place, columns: AirColumns) -> dict[int, tuple[float, float]]:
    """Numbers by moment, those superseded too: what was put right is not to come back."""
    first, last = (_moment(s) for s in columns.at_s[[0, -1]].tolist())
    rows = AirRecord.objects.filter(place=place, at__gte=first, at__lte=last).order_by("pk")
    found = rows.values_list("at", "temp_c", "rh_pct").iterator(chunk_size=5000)
    return {int(at.timestamp()): (temp_c, rh_pct) for at, temp_c, rh_pct in found}


def _insert(place: Place, columns: AirColumns, origin: tuple[str, int | None, int | None]) -> int:
    """How many rows went in.

    One prepared statement for all rows: making a model object of each would take longer than
    storing it. A moment another writer took meanwhile is passed over.
    """
    meta, quoted = AirRecord._meta, connection.ops.quote_name
    column_of = {field.name: field.column for field in meta.concrete_fields}
    names = ", ".join(quoted(str(column_of[name])) for name in _FIELDS)
    marks = ", ".join(["%s"] * len(_FIELDS))
    into = f"INSERT INTO {quoted(meta.db_table)} ({names}) VALUES ({marks})"
    with connection.cursor() as cursor:
        cursor.executemany(f"{into} ON CONFLICT DO NOTHING", list(_rows(place, columns, origin)))
        return int(cursor.rowcount)


def _rows(
    place: Place, columns: AirColumns, origin: tuple[str, int | None, int | None]
) -> Iterator[tuple[Any, ...]]:
    stored = connection.ops.adapt_datetimefield_value
    given = str(columns.given)
    numbers = (c.tolist() for c in (columns.temp_c, columns.rh_pct, columns.emc_pct))
    for at_s, value, *three in zip(
        columns.at_s.tolist(), columns.value.tolist(), *numbers, strict=True
    ):
        yield (place.pk, stored(_moment(at_s)), *three, given, value, *map(_plain, origin))


def _plain(value: object) -> object:
    """A choice as the text the driver knows."""
    return str(value) if isinstance(value, str) else value
