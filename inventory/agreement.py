"""What must agree on a slab's record: facts of slab, log, parcel, place and bay that touch.

Each disagreement is one sentence beside the field a person would change.
"""

from collections.abc import Callable, Iterator
from datetime import date

from django.core.exceptions import ValidationError

from inventory.models import Slab

Found = Iterator[tuple[str, str]]


def check(slab: Slab, on: date) -> None:
    """Raise ValidationError, by field, when the slab's facts do not agree with each other.

    `on` is today: nothing can have been sawn after it.
    """
    problems: dict[str, list[str]] = {}
    for rule in RULES:
        for field, sentence in rule(slab, on):
            problems.setdefault(field, []).append(sentence)
    if problems:
        raise ValidationError(problems)


def _has_size(slab: Slab, on: date) -> Found:
    if not slab.length_mm or slab.length_mm <= 0:
        yield "length_mm", "Say how long the slab is."
    if not slab.thickness_mm or slab.thickness_mm <= 0:
        yield "thickness_mm", "Say how thick the slab is."
    if any(width_mm <= 0 or not 0 <= along <= 1 for along, width_mm in slab.widths):
        yield "widths", "Every width must be more than nothing and taken somewhere on the slab."


def _bay_is_in_place(slab: Slab, on: date) -> Found:
    if slab.bay and slab.bay.place_id != slab.place_id:
        yield "bay", f"The bay “{slab.bay.name}” is not there: it is in {slab.bay.place.name}."


def _number_is_free_in_log(slab: Slab, on: date) -> Found:
    if slab.number_in_log is None:
        return
    if slab.log is None:
        yield "number_in_log", "Say which log the number belongs to, or leave it empty."
        return
    others = slab.log.slabs.filter(number_in_log=slab.number_in_log).exclude(pk=slab.pk)
    other = others.first()
    if other:
        yield (
            "number_in_log",
            f"Log {slab.log.number} has a slab {slab.number_in_log} already: {other.display_code}.",
        )


def _wood_is_the_logs(slab: Slab, on: date) -> Found:
    log = slab.log
    if log is None:
        return
    if slab.species_id and log.species_id != slab.species_id:
        yield (
            "species",
            f"Log {log.number} is {log.species.common_name}: "
            f"this slab cannot be {slab.species.common_name}.",
        )
    if slab.parcel_id and log.parcel_id and slab.parcel_id != log.parcel_id:
        yield "parcel", f"Log {log.number} came with another parcel."


def _amounts_are_possible(slab: Slab, on: date) -> Found:
    for field in ("own_cost", "asking_price"):
        amount = getattr(slab, field)
        if amount is not None and amount < 0:
            yield field, "An amount cannot be below nothing."


def _dates_are_possible(slab: Slab, on: date) -> Found:
    if slab.sawn_on is None:
        return
    if slab.sawn_on > on:
        yield "sawn_on", "That day has not come yet."
    felled_on = slab.log.felled_on if slab.log else None
    if felled_on and slab.sawn_on < felled_on:
        yield "sawn_on", "It cannot have been sawn before its log was felled."


RULES: tuple[Callable[[Slab, date], Found], ...] = (
    _has_size,
    _bay_is_in_place,
    _number_is_free_in_log,
    _wood_is_the_logs,
    _amounts_are_possible,
    _dates_are_possible,
)
