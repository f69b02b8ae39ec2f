"""When slabs will be dry."""

from django.urls import URLPattern, path

from inventory.urls import converters  # noqa: F401  (registers <slab:code>)
from inventory.views import forecast

urlpatterns: list[URLPattern] = [
    path("when/", forecast.ready_when_page, name="ready_when"),
    path("when/again/", forecast.reforecast, name="reforecast"),
    path("slabs/<slab:code>/when/", forecast.slab_when, name="slab_when"),
]
