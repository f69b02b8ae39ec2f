"""Every stored result of a slab: one function derives it, `write` stores it.

Called by the operations that change a fact (receive, measure, check, move, hold, photo, cost), in
their transaction; `manage.py rederive` calls the same functions over the whole yard.
"""

from collections.abc import Callable, Iterable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from inventory.models import Slab
from inventory.wood import outline

Derived = dict[str, Any]


def shape(slab: Slab, on: date) -> Derived:
    """Widths in mm, area in mm², volume in mm³ from stations; figure as `|burl|curl|`."""
    stations = slab.stations
    widths_mm = [station.width_mm for station in stations]
    area_mm2 = outline.plan_area_mm2(slab.length_mm, stations) if stations else 0.0
    return {
        "mean_width_mm": area_mm2 / slab.length_mm,
        "least_width_mm": min(widths_mm, default=0.0),
        "greatest_width_mm": max(widths_mm, default=0.0),
        "area_mm2": area_mm2,
        "volume_mm3": area_mm2 * slab.thickness_mm,
        "figure_words": "".join(f"|{value}" for value in sorted(slab.figures)) + "|",
    }


def moisture(slab: Slab, on: date) -> Derived:
    """Latest check and its mean, condition and until when it is true, next check due."""
    from inventory import readiness

    return readiness.stored(slab, on)


def standing(slab: Slab, on: date) -> Derived:
    """Whose it is: from the active hold and the ledger."""
    from inventory import holds

    return holds.standing_of(slab)


def cover(slab: Slab, on: date) -> Derived:
    """The picture shown first: the first by position."""
    first = slab.photos.order_by("position", "pk").values_list("pk", flat=True).first()
    return {"cover_id": first}


def cost(slab: Slab, on: date) -> Derived:
    """The slab's share of its parcel, or its own cost."""
    from inventory import parcels

    return parcels.cost_of(slab)


PARTS: dict[str, Callable[[Slab, date], Derived]] = {
    "shape": shape,
    "moisture": moisture,
    "standing": standing,
    "cover": cover,
    "cost": cost,
}


def differences(slab: Slab, on: date, parts: Iterable[str] = PARTS) -> Derived:
    """What the facts imply but the row does not say; floats are compared to a billionth."""
    implied: Derived = {}
    for part in parts:
        implied |= PARTS[part](slab, on)
    return {name: value for name, value in implied.items() if not _same(getattr(slab, name), value)}


def _same(stored: Any, implied: Any) -> bool:
    if isinstance(stored, float) and isinstance(implied, float):
        return abs(stored - implied) <= 1e-9 * max(1.0, abs(stored), abs(implied))
    return bool(stored == implied)


def write(slab: Slab, on: date, *parts: str) -> Derived:
    """Derive the named parts (all when none is named) and store what changed; returns it."""
    changed = differences(slab, on, parts or PARTS)
    for name, value in changed.items():
        setattr(slab, name, value)
    if changed:
        slab.save(update_fields=[name.removesuffix("_id") for name in changed])
    return changed


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
    """Judge again the slabs whose stored condition the calendar has overtaken."""
    overtaken = Slab.objects.in_stock().filter(condition_until__lt=today)
    count = 0
    for slab in overtaken.iterator(chunk_size=500):
        write(slab, today, "moisture")
        count += 1
    return count
