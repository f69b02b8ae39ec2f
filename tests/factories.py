"""Plain factory functions with valid defaults; pass only what the test is about."""

import itertools
import random
from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import Group
from django.utils import timezone

from catalogue.models import Client, Commission, HowMade, TopShape
from inventory import codes, derive
from inventory.models import (
    Bay,
    Log,
    Meter,
    Parcel,
    Person,
    Place,
    PlaceKind,
    Slab,
    Species,
)

_counter = itertools.count(1)
_rng = random.Random(20_260_401)

PASSWORD = "wane-and-bark-9"


_codes_given: set[str] = set()


def _fresh_code() -> str:
    """A code no other slab of this run has."""
    code = codes.fresh_codes(1, _codes_given, _rng)[0]
    _codes_given.add(code)
    return code


def make_person(role: str = "", **kwargs: Any) -> Person:
    """A person of the role ("Owner", "Worker", "Buyer"), or of none."""
    name = kwargs.pop("username", f"person{next(_counter)}")
    person = Person.objects.create_user(name, password=PASSWORD, **kwargs)
    if role:
        person.groups.add(Group.objects.get(name=role))
    return person


def make_species(**kwargs: Any) -> Species:
    """A shop's own species with walnut-like numbers, unless told otherwise."""
    defaults: dict[str, Any] = {
        "common_name": f"Yard walnut {next(_counter)}",
        "botanical_name": "Juglans nigra",
        "sg_green": 0.51,
        "sg_12": 0.55,
        "shrink_radial_pct": 5.5,
        "shrink_tangential_pct": 7.8,
        "shrink_volumetric_pct": 12.8,
        "cr": 0.0019,
        "ct": 0.00274,
    }
    return Species.objects.create(**{**defaults, **kwargs})


def make_place(kind: str = PlaceKind.SHOP, **kwargs: Any) -> Place:
    name = kwargs.pop("name", f"Place {next(_counter)}")
    return Place.objects.create(name=name, kind=kind, **kwargs)


def make_bay(place: Place | None = None, **kwargs: Any) -> Bay:
    name = kwargs.pop("name", f"Bay {next(_counter)}")
    return Bay.objects.create(place=place or make_place(), name=name, **kwargs)


def make_parcel(**kwargs: Any) -> Parcel:
    number = next(_counter)
    defaults: dict[str, Any] = {
        "name": f"Parcel {number}",
        "supplier": f"Supplier {number}",
        "bought_on": date(2026, 1, 15),
    }
    return Parcel.objects.create(**{**defaults, **kwargs})


def make_log(**kwargs: Any) -> Log:
    kwargs.setdefault("number", f"L{next(_counter)}")
    if "species" not in kwargs:
        kwargs["species"] = make_species()
    return Log.objects.create(**kwargs)


def make_slab(widths: Sequence[tuple[float, float]] | None = None, **kwargs: Any) -> Slab:
    """A 2.4 m × 54 mm slab about 700 mm wide, with its derived figures written."""
    defaults: dict[str, Any] = {
        "code": _fresh_code(),
        "length_mm": 2400.0,
        "thickness_mm": 54.0,
        "widths": [list(pair) for pair in widths or [(0.0, 680.0), (0.5, 720.0), (1.0, 700.0)]],
        "asking_price": Decimal("900.00"),
    }
    merged = {**defaults, **kwargs}
    if "species" not in merged:
        merged["species"] = merged["log"].species if merged.get("log") else make_species()
    slab = Slab.objects.create(**merged)
    derive.write(slab, timezone.localdate(), "shape")
    return slab


def copy_slab(slab: Slab, count: int) -> None:
    """So many more slabs like this one in one statement, each with its own code."""
    facts = {
        field.attname: getattr(slab, field.attname)
        for field in Slab._meta.concrete_fields
        if field.name not in ("id", "code", "number_in_log")
    }
    Slab.objects.bulk_create([Slab(code=_fresh_code(), **facts) for _ in range(count)])


def make_meter(**kwargs: Any) -> Meter:
    """A pin meter that corrects for everything itself, so readings stand as read."""
    kwargs.setdefault("name", f"Meter {next(_counter)}")
    kwargs.setdefault("corrects_temperature", True)
    kwargs.setdefault("corrects_species", True)
    return Meter.objects.create(**kwargs)


def make_client(**kwargs: Any) -> Client:
    kwargs.setdefault("name", f"Client {next(_counter)}")
    return Client.objects.create(**kwargs)


def make_commission(**kwargs: Any) -> Commission:
    """A 1.8 m × 600 mm rectangle from one slab, 40 mm finished."""
    defaults: dict[str, Any] = {
        "title": f"Table {next(_counter)}",
        "top_shape": TopShape.RECTANGLE,
        "top_length_mm": 1800.0,
        "top_width_mm": 600.0,
        "finished_thickness_mm": 40.0,
        "how_made": HowMade.ONE_SLAB,
    }
    merged = {**defaults, **kwargs}
    if "client" not in merged:
        merged["client"] = make_client()
    return Commission.objects.create(**merged)


def at(year: int, month: int, day: int, hour: int = 9) -> datetime:
    """An aware moment in the yard's own time zone."""
    return timezone.make_aware(datetime(year, month, day, hour))
