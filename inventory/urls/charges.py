"""Charges of kilns and conditioning rooms, and their logs of core temperature; under places/, the
room of the house they belong to."""

from django.urls import URLPattern, path

from inventory.views import charges

urlpatterns: list[URLPattern] = [
    path("places/charges/", charges.charge_list, name="charges"),
    path("places/charges/new/", charges.charge_new, name="charge_new"),
    path("places/charges/<int:pk>/", charges.charge, name="charge"),
    path("places/charges/<int:pk>/add/", charges.charge_add, name="charge_add"),
    path("places/charges/<int:pk>/end/", charges.charge_end, name="charge_end"),
    path("places/charges/<int:pk>/core/", charges.core_paste, name="core_paste"),
    path("places/core-logs/<int:pk>/set-aside/", charges.core_set_aside, name="core_set_aside"),
]
