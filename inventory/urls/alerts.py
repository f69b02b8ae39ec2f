"""Warnings."""

from django.urls import URLPattern, path

from inventory.views import alerts

urlpatterns: list[URLPattern] = [
    path("warnings/", alerts.warnings, name="warnings"),
    path("warnings/<int:pk>/set-aside/", alerts.warning_set_aside, name="warning_set_aside"),
    path("warnings/<int:pk>/take-up/", alerts.warning_take_up, name="warning_take_up"),
]
