"""Moisture checks: the worker's round, entering, reading and correcting a check."""

from django.urls import URLPattern, path

from inventory.urls import converters  # noqa: F401  (registers <slab:code>)
from inventory.views import checks

urlpatterns: list[URLPattern] = [
    path("moisture/", checks.check_round, name="check_round"),
    path("slabs/<slab:code>/check/", checks.check_new, name="check_new"),
    path("checks/<int:pk>/", checks.check_page, name="check_page"),
    path("checks/<int:pk>/correct/", checks.check_correct, name="check_correct"),
]
