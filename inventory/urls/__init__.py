"""Addresses of the record, one module a duty."""

from inventory.urls import (
    alerts,
    charges,
    checks,
    forecast,
    outlines,
    parcels,
    places,
    slabs,
    worth,
)

app_name = "inventory"
urlpatterns = [
    *alerts.urlpatterns,
    *slabs.urlpatterns,
    *outlines.urlpatterns,
    *checks.urlpatterns,
    *places.urlpatterns,
    *charges.urlpatterns,
    *forecast.urlpatterns,
    *parcels.urlpatterns,
    *worth.urlpatterns,
]
