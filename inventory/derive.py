"""Every stored result of a slab: one function derives it, `write` stores it.

Called by the operations that change a fact (receive, measure, check, move, hold, photo, cost), in
their transaction; `manage.py rederive` calls the same functions over the whole yard. Each part
derives many slabs at once, in a number of queries that does not grow with them.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import transaction

from inventory import shapes as true_shapes
from inventory.models import Photo, Slab
from inventory.shapes import ROW, Row

Derived = dict[str, Any]
DerivedMany = dict[int, Derived]  # by the slab's primary key
Part = Callable[[Sequence[Slab], date], DerivedMany]

AT_ONCE = 500


def shape(slab: Slab) -> Derived:
    """The figures of a slab without an outline, before it is on the record (mm, mm², mm³)."""
    return true_shapes.from_widths(slab) | _figure_words(slab)


def shapes(slabs: Sequence[Slab], on: date) -> DerivedMany:
    """Widths, areas, volume and the largest circle of the true shape, which is itself a row beside
    the slab's (see shapes.py); figure as `|burl|curl|`.
    """
    found = true_shapes.derived_many(slabs)
    return {slab.pk: found[slab.pk] | _figure_words(slab) for slab in slabs}


def _figure_words(slab: Slab) -> Derived:
    return {"figure_words": "".join(f"|{value}" for value in sorted(slab.figures)) + "|"}


def moistures(slabs: Sequence[Slab], on: date) -> DerivedMany:
    """Latest check and its mean, condition and until when it is true, next check due."""
    from inventory import readiness

    return readiness.stored_many(slabs, on)


def standings(slabs: Sequence[Slab], on: date) -> DerivedMany:
    """Whose each is: from the active hold and the ledger."""
    from inventory import holds

    return {key: dict(standing) for key, standing in holds.standing_many(slabs).items()}


def covers(slabs: Sequence[Slab], on: date) -> DerivedMany:
    """The picture shown first: the first by position."""
    found: DerivedMany = {slab.pk: {"cover_id": None} for slab in slabs}
    last_first = Photo.objects.filter(slab__in=list(found)).order_by("-position", "-pk")
    for slab_pk, photo_pk in last_first.values_list("slab_id", "pk"):
        found[slab_pk] = {"cover_id": photo_pk}
    return found


def costs(slabs: Sequence[Slab], on: date) -> DerivedMany:
    """Each slab's share of its parcel, and its own cost; follows from the stored shapes."""
    from inventory import parcels

    return {key: {"cost": cost} for key, cost in parcels.costs_many(slabs).items()}


PARTS: dict[str, Part] = {
    "shape": shapes,
    "moisture": moistures,
    "standing": standings,
    "cover": covers,
    "cost": costs,
}


def differences_many(
    slabs: Sequence[Slab], on: date, parts: Iterable[str] = PARTS
) -> dict[int, Derived]:
    """What the facts imply but the rows do not say, by slab pk; slabs that agree are absent.

    Floats are compared to a billionth. Queries grow with the parts, not with the slabs.
    """
    implied: DerivedMany = {slab.pk: {} for slab in slabs}
    for part in parts:
        for key, derived in PARTS[part](slabs, on).items():
            implied[key] |= derived
    changed = {slab.pk: _changed(slab, implied[slab.pk]) for slab in slabs}
    return {key: derived for key, derived in changed.items() if derived}


def differences(slab: Slab, on: date, parts: Iterable[str] = PARTS) -> Derived:
    """The same for one slab."""
    return differences_many([slab], on, parts).get(slab.pk, {})


def _changed(slab: Slab, implied: Derived) -> Derived:
    return {name: value for name, value in implied.items() if not _agrees(slab, name, value)}


def _agrees(slab: Slab, name: str, implied: Any) -> bool:
    if isinstance(implied, Row):
        return not implied.differing
    return same(getattr(slab, name), implied)


def same(stored: Any, implied: Any) -> bool:
    if isinstance(stored, float) and isinstance(implied, float):
        return abs(stored - implied) <= 1e-9 * max(1.0, abs(stored), abs(implied))
    return bool(stored == implied)


def write(slab: Slab, on: date, *parts: str) -> Derived:
    """Derive the named parts (all when none is named) and store what changed; returns it."""
    changed = differences(slab, on, parts or PARTS)
    _set(slab, changed)
    if columns := _columns(changed):
        slab.save(update_fields=columns)
    _write_rows([changed])
    return changed


def write_many(slabs: Sequence[Slab], on: date, *parts: str) -> dict[int, Derived]:
    """The same for many slabs, stored at once; returns what changed by slab pk."""
    changed = differences_many(slabs, on, parts or PARTS)
    store(slabs, changed)
    return changed


def store(slabs: Sequence[Slab], changed: Mapping[int, Derived]) -> None:
    """Write what `differences_many` found, in as many statements as there are batches."""
    drifted = [slab for slab in slabs if slab.pk in changed]
    for slab in drifted:
        _set(slab, changed[slab.pk])
    names = {name for derived in changed.values() for name in _columns(derived)}
    if names:
        Slab.objects.bulk_update(drifted, sorted(names), batch_size=AT_ONCE)
    _write_rows(changed.values())


def _set(slab: Slab, derived: Derived) -> None:
    for name, value in derived.items():
        if name != ROW:
            setattr(slab, name, value)


def _columns(derived: Derived) -> list[str]:
    """The slab's own columns among what was derived."""
    return [name.removesuffix("_id") for name in derived if name != ROW]


def _write_rows(changed: Iterable[Derived]) -> None:
    """The shapes, which have a table of their own."""
    rows = [derived[ROW] for derived in changed if ROW in derived]
    if rows:
        true_shapes.write(rows)


def write_costs(slabs: Iterable[Slab], costs: Mapping[int, Decimal]) -> int:
    """Store the costs (by slab pk) that differ from what the rows say, at once; returns how many.

    For a parcel's slabs together: each share follows from all of them (see parcels.py).
    """
    changed = [slab for slab in slabs if slab.cost != costs[slab.pk]]
    for slab in changed:
        slab.cost = costs[slab.pk]
    Slab.objects.bulk_update(changed, ["cost"])
    return len(changed)


def refresh_conditions(today: date) -> int:
    """Judge again the slabs whose stored condition the calendar has overtaken, gone ones too."""
    overtaken = Slab.objects.filter(condition_until__lt=today)
    keys = list(overtaken.values_list("pk", flat=True))
    for start in range(0, len(keys), AT_ONCE):
        with transaction.atomic():
            write_many(locked(keys[start : start + AT_ONCE]), today, "moisture")
    return len(keys)


def locked(keys: Sequence[int]) -> list[Slab]:
    """The slabs of those keys, kept from others until the transaction ends, so that a check
    entered meanwhile is not overwritten by what was true before it.
    """
    some = Slab.objects.select_for_update(of=("self",)).filter(pk__in=keys)
    return list(some.select_related("species", "place").order_by("pk"))
