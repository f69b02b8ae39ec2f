"""Places, bays, air, meters, species; moves and drying stages."""

from django.urls import URLPattern, path

from inventory.urls import (
    air,
    converters,  # noqa: F401  (registers <slab:code>)
)
from inventory.views import meters, moves, places, species

urlpatterns: list[URLPattern] = [
    *air.urlpatterns,
    path("places/", places.places, name="places"),
    path("places/new/", places.place_new, name="place_new"),
    path("places/<int:pk>/", places.place, name="place"),
    path("places/<int:pk>/edit/", places.place_edit, name="place_edit"),
    path("places/<int:pk>/move-here/", moves.place_move_here, name="place_move_here"),
    path("slabs/<slab:code>/move/", moves.slab_move, name="slab_move"),
    path("meters/", meters.meters, name="meters"),
    path("meters/new/", meters.meter_new, name="meter_new"),
    path("meters/<int:pk>/", meters.meter, name="meter"),
    path("meters/<int:pk>/edit/", meters.meter_edit, name="meter_edit"),
    path("meters/<int:pk>/test/", meters.meter_test, name="meter_test"),
    path("meters/<int:pk>/table/", meters.meter_table, name="meter_table"),
    path("meters/<int:pk>/table/drop/", meters.meter_table_drop, name="meter_table_drop"),
    path("species/", species.species, name="species"),
    path("species/new/", species.species_new, name="species_new"),
    path("species/<int:pk>/", species.species_edit, name="species_edit"),
]
