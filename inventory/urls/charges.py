"""Charges of kilns and conditioning rooms, and their logs of core temperature."""

from django.urls import URLPattern, path

from inventory.views import charges

urlpatterns: list[URLPattern] = [
    path("charges/", charges.charge_list, name="charges"),
    path("charges/new/", charges.charge_new, name="charge_new"),
    path("charges/<int:pk>/", charges.charge, name="charge"),
    path("charges/<int:pk>/add/", charges.charge_add, name="charge_add"),
    path("charges/<int:pk>/end/", charges.charge_end, name="charge_end"),
    path("charges/<int:pk>/core/", charges.core_paste, name="core_paste"),
    path("core-logs/<int:pk>/set-aside/", charges.core_set_aside, name="core_set_aside"),
]
