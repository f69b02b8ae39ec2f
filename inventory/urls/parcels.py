"""Parcels, logs and their costs."""

from django.urls import URLPattern, path

from inventory.views import logs, parcels

urlpatterns: list[URLPattern] = [
    path("parcels/", parcels.parcels, name="parcels"),
    path("parcels/new/", parcels.parcel_new, name="parcel_new"),
    path("parcels/<int:pk>/", parcels.parcel, name="parcel"),
    path("parcels/<int:pk>/edit/", parcels.parcel_edit, name="parcel_edit"),
    path("parcels/<int:pk>/basis/", parcels.parcel_basis, name="parcel_basis"),
    path("parcels/<int:pk>/bill/", parcels.cost_add, name="cost_add"),
    path("parcels/bills/<int:pk>/correct/", parcels.cost_correct, name="cost_correct"),
    path("parcels/<int:pk>/log/", logs.log_new, name="log_new"),
    path("logs/<int:pk>/", logs.log, name="log"),
    path("logs/<int:pk>/edit/", logs.log_edit, name="log_edit"),
    path("logs/<int:pk>/receive/", logs.log_receive, name="log_receive"),
]
