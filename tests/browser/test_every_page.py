"""Every page that can be shown: axe finds nothing, light and dark; nothing scrolls sideways.

The pages are the table of tests/test_doors.py, seen by an owner in a small demo yard.
"""

from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from django.urls import reverse
from django.utils import timezone

from catalogue.models import Commission
from inventory import watch
from inventory.models import (
    AirRecord,
    Alert,
    Log,
    Meter,
    MoistureCheck,
    Outline,
    Parcel,
    ParcelCost,
    Person,
    Photo,
    Place,
    Slab,
)
from tests.browser.conftest import DESKTOP, PHONE, TABLET, Visit, Visitor
from tests.browser.yard import small_yard
from tests.factories import make_species
from tests.outlines import trace
from tests.test_doors import DOORS, Door, Yard, from_loggers, on_the_scale

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

FILES = {
    "inventory:photo_file",
    "inventory:outline_picture",
    "inventory:outline_straight",
    "inventory:scale_sheets_pdf",
    "inventory:worth_workbook",
    "inventory:air_import_bad",
    "catalogue:lay",  # names its slabs in the address: see test_laying.py
}


def first_of_each() -> Yard:
    """One thing of each kind an address may name, with the fullest history there is."""
    check = MoistureCheck.objects.current().select_related("slab").exclude(slab__cover=None)[0]
    slab = check.slab
    return Yard(
        slab=slab,
        check=check,
        log=Log.objects.get(slabs=slab),
        parcel=Parcel.objects.get(slabs=slab),
        cost=ParcelCost.objects.filter(parcel__slabs=slab).current()[0],
        place=Place.objects.get(slabs=slab),
        air=AirRecord.objects.filter(place__slabs=slab).current()[0],
        meter=Meter.objects.all()[0],
        species=make_species(common_name="Yard apple"),
        photo=Photo.objects.filter(slab=slab)[0],
        commission=Commission.objects.open()[0],
        person=Person.objects.get(username="osk"),
        **other_things(slab),
    )


def other_things(slab: Slab) -> dict[str, Any]:
    """What later tables of doors name beyond the first ones."""
    yesterday = timezone.localdate() - timedelta(days=1)
    meter = Meter.objects.all()[0]
    Meter.objects.filter(pk=meter.pk).update(test_due_on=yesterday)
    meter.refresh_from_db()
    watch.look_at_meter(meter, timezone.localdate())
    by = Person.objects.get(username="maren")
    return {
        "alert": Alert.objects.get(meter=meter),
        "outline": traced_on(slab),
        **on_the_scale(slab, by),
        **from_loggers(Place.objects.get(slabs=slab), by),
    }


def traced_on(slab: Slab) -> Outline:
    """Its face traced on its own picture, taken as 3 m wide."""
    photo = Photo.objects.filter(slab=slab)[0]
    wide, high = photo.width_px, photo.height_px
    ring = np.array([(0.1, 0.3), (0.9, 0.25), (0.9, 0.7), (0.5, 0.75), (0.1, 0.7)]) * (wide, high)
    return trace(slab, photo, ring, 3000.0 / wide)


def pages() -> list[Door]:
    return [door for door in DOORS if door.method == "get" and door.name not in FILES]


def visitor_of(visit: Visit, *args: Any) -> Visitor:
    visitor = visit(*args)
    visitor.sign_in(Person.objects.get(username="maren"))
    return visitor


@pytest.mark.parametrize(
    ("size", "scheme"), [(PHONE, "dark"), (DESKTOP, "light"), (TABLET, "light")]
)
def test_every_page_is_accessible_and_fits_its_screen(
    visit: Visit, size: tuple[int, int], scheme: str
) -> None:
    small_yard(logs=3)
    yard = first_of_each()
    visitor = visitor_of(visit, size, scheme)
    problems = []
    for door in pages():
        visitor.open(reverse(door.name, args=door.args(yard)))
        try:
            visitor.expect_no_sideways_scroll()
            visitor.expect_accessible()
        except AssertionError as problem:
            problems.append(f"{door.name}: {problem}")
    assert not problems, "\n\n".join(problems)
