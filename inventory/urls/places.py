"""Places, bays, air, meters, species; moves and drying stages."""

from django.urls import URLPattern, path

from inventory.urls import converters  # noqa: F401  (registers <slab:code>)
from inventory.views import air, meters, moves, places, species

urlpatterns: list[URLPattern] = [
    path("places/", places.places, name="places"),
    path("places/new/", places.place_new, name="place_new"),
    path("places/<int:pk>/", places.place, name="place"),
    path("places/<int:pk>/edit/", places.place_edit, name="place_edit"),
    path("places/<int:pk>/air/", air.air_list, name="air_list"),
    path("places/<int:pk>/air/new/", air.air_add, name="air_add"),
    path("places/<int:pk>/air/paste/", air.air_paste, name="air_paste"),
    path("places/<int:pk>/move-here/", moves.place_move_here, name="place_move_here"),
    path("air/<int:pk>/correct/", air.air_correct, name="air_correct"),
    path("slabs/<slab:code>/move/", moves.slab_move, name="slab_move"),
    path("meters/", meters.meters, name="meters"),
    path("meters/new/", meters.meter_new, name="meter_new"),
    path("meters/<int:pk>/", meters.meter_edit, name="meter_edit"),
    path("species/", species.species, name="species"),
    path("species/new/", species.species_new, name="species_new"),
    path("species/<int:pk>/", species.species_edit, name="species_edit"),
]
