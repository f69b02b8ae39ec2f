"""Sensors that send the air of one place: their tokens, their door, and what they send.

A token opens the door of its one place only. It is shown once, when it is made; what is kept is
its SHA-256, which needs no salt: the token is 256 random bits. Every refusal is a plain sentence.
"""

import hashlib
import math
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from inventory.air_reading import AHEAD_ALLOWED, EARLIEST, columns_of, rh_given
from inventory.air_writing import write_columns
from inventory.models import AirGiven, AirSource, Person, Place, SensorToken
from inventory.wood import humidity

MOST_AT_ONCE = 1000
MOST_A_MINUTE = 120
ONE_MINUTE = timedelta(minutes=1)
# Warnings of a place are looked at again this often while a sensor speaks.
LOOK_EVERY = timedelta(hours=1)
_BESIDE = {
    "rh_pct": AirGiven.RH,
    "dew_point_c": AirGiven.DEW_POINT,
    "wet_bulb_c": AirGiven.WET_BULB,
}


class Refused(Exception):
    """The door stays shut: an HTTP status and a sentence."""

    def __init__(self, status: int, sentence: str, retry_after_s: int | None = None) -> None:
        super().__init__(sentence)
        self.status, self.sentence, self.retry_after_s = status, sentence, retry_after_s


@dataclass(frozen=True)
class Taken:
    """Records added, moments on record already (same numbers, others), and (index, reason) of
    those that could not be taken.
    """

    added: int
    known: int
    differing: int
    refused: tuple[tuple[int, str], ...]

    @property
    def in_words(self) -> str:
        said = [f"{self.added} added."]
        if self.known:
            said.append(f"{self.known} on record already.")
        if self.differing:
            said.append(f"{self.differing} on record with other numbers, left as they were.")
        if self.refused:
            said.append(f"{len(self.refused)} could not be taken.")
        return " ".join(said)


@dataclass(frozen=True)
class _Record:
    at: datetime
    temp_c: float
    given: AirGiven
    value: float


def make_sensor(place: Place, *, name: str, by: Person, now: datetime) -> tuple[SensorToken, str]:
    """A sensor of a place, and its token, which nobody can read again.

    Raises:
        ValidationError: by field (name).
    """
    token = secrets.token_urlsafe(32)
    sensor = SensorToken(place=place, name=" ".join(name.split()), made_by=by, made_at=now)
    sensor.token_hash = _hash(token)
    sensor.full_clean(exclude=["token_hash"])
    sensor.save(force_insert=True)
    return sensor, token


def revoke(sensor: SensorToken, *, by: Person, now: datetime) -> None:
    """Its token opens nothing from now on; what it sent stays.

    Raises:
        ValidationError: it was revoked before.
    """
    live = SensorToken.objects.filter(pk=sensor.pk, revoked_at__isnull=True)
    if not live.update(revoked_at=now, revoked_by=by):
        raise ValidationError("That token was revoked already.")


@transaction.atomic
def admit(authorization: str, now: datetime) -> SensorToken:
    """The sensor a request's `Authorization` names, counted against its minute.

    The row as it was before this request: `last_seen_at` is when it spoke last.

    Raises:
        Refused: 401 without a token of ours, 403 once revoked, 429 when it asks too often.
    """
    scheme, _, token = authorization.partition(" ")
    if scheme.lower() != "bearer" or not token.strip():
        raise Refused(401, "Send the sensor's token as “Authorization: Bearer …”.")
    known = SensorToken.objects.select_for_update(of=("self",)).select_related("place")
    sensor = known.filter(token_hash=_hash(token.strip())).first()
    if sensor is None:
        raise Refused(401, "No sensor of this yard has that token.")
    if not sensor.is_live:
        raise Refused(403, "This sensor's token was revoked.")
    _count(sensor, now)
    return sensor


def _count(sensor: SensorToken, now: datetime) -> None:
    begun, counted = sensor.minute_at, sensor.minute_count
    if begun is None or not begun <= now < begun + ONE_MINUTE:
        begun, counted = now, 0
    if counted >= MOST_A_MINUTE:
        wait_s = math.ceil((begun + ONE_MINUTE - now).total_seconds())
        raise Refused(
            429, f"More than {MOST_A_MINUTE} requests in a minute: wait {wait_s} s.", wait_s
        )
    row = SensorToken.objects.filter(pk=sensor.pk)
    row.update(minute_at=begun, minute_count=counted + 1, last_seen_at=now)


@transaction.atomic
def take(sensor: SensorToken, sent: Any, now: datetime) -> Taken:
    """Put what a sensor sent on record: one record or a list; sent again, it adds nothing.

    Each record is judged by itself: those that cannot be taken are told, the rest go in.

    Raises:
        Refused: 413 for too many at once, 422 for what is no list of records.
    """
    rows = sent if isinstance(sent, list) else [sent]
    if len(rows) > MOST_AT_ONCE:
        raise Refused(413, f"{len(rows)} records at once: send at most {MOST_AT_ONCE}.")
    if not rows:
        raise Refused(422, "There is no record in the list.")
    records: list[_Record] = []
    refused: list[tuple[int, str]] = []
    for index, row in enumerate(rows):
        try:
            records.append(_record(row, now))
        except ValueError as problem:
            refused.append((index, str(problem)))
    taken = _written(sensor, records, tuple(refused))
    if taken.added and (sensor.last_seen_at is None or now - sensor.last_seen_at > LOOK_EVERY):
        _watch(sensor.place, now)
    return taken


def _written(
    sensor: SensorToken, records: Sequence[_Record], refused: tuple[tuple[int, str], ...]
) -> Taken:
    added = known = differing = 0
    for given in AirGiven:
        some = [record for record in records if record.given == given]
        columns = columns_of(
            [r.at for r in some], [r.temp_c for r in some], given, [r.value for r in some]
        )
        done = write_columns(sensor.place, columns, by=None, source=AirSource.SENSOR, sensor=sensor)
        added, known, differing = (
            added + done.added,
            known + done.known,
            differing + done.differing,
        )
    return Taken(added, known, differing, refused)


def _watch(place: Place, now: datetime) -> None:
    from inventory import watch  # which asks the air's modules itself

    watch.look_at_place(place, now)


def _record(row: Any, now: datetime) -> _Record:
    """One record as sent.

    Raises:
        ValueError: with a sentence.
    """
    if not isinstance(row, dict):
        raise ValueError("A record is an object with “at”, a temperature and a humidity.")
    if "place" in row:
        raise ValueError("A sensor speaks for its own place alone: leave “place” out.")
    at = _moment(row.get("at"), now)
    temp_c = _temperature(row)
    beside = [name for name in _BESIDE if name in row]
    if len(beside) != 1:
        raise ValueError("Give one of “rh_pct”, “dew_point_c” and “wet_bulb_c”.")
    value = _number(row, beside[0])
    rh_given(temp_c, _BESIDE[beside[0]], value)
    return _Record(at, temp_c, _BESIDE[beside[0]], value)


def _moment(text: Any, now: datetime) -> datetime:
    if not isinstance(text, str):
        raise ValueError("Give “at” as a time such as 2026-05-04T13:30:00+02:00.")
    try:
        at = datetime.fromisoformat(text)
    except ValueError as problem:
        raise ValueError(
            f"“{text[:40]}” is not a time such as 2026-05-04T13:30:00+02:00."
        ) from problem
    if at.utcoffset() is None:
        raise ValueError(f"“{text[:40]}” lacks its offset: end it with Z or such as +02:00.")
    if at > now + AHEAD_ALLOWED:
        raise ValueError("That moment has not come yet.")
    if at < EARLIEST:
        raise ValueError(f"{at.year} is before any record: set the sensor's clock.")
    return at


def _temperature(row: Mapping[str, Any]) -> float:
    if ("temp_c" in row) == ("temp_f" in row):
        raise ValueError("Give one of “temp_c” and “temp_f”.")
    name = "temp_c" if "temp_c" in row else "temp_f"
    degrees = _number(row, name)
    temp_c = degrees if name == "temp_c" else (degrees - 32.0) / 1.8
    humidity.emc_pct(temp_c, 50.0)
    return temp_c


def _number(row: Mapping[str, Any], name: str) -> float:
    value = row[name]
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"“{name}” is to be a number.")
    return float(value)


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
