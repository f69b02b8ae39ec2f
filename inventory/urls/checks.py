"""Moisture checks: the worker's round and the entry page."""

from django.urls import URLPattern, path
from django.views.generic import TemplateView

urlpatterns: list[URLPattern] = [
    path("moisture/", TemplateView.as_view(template_name="base.html"), name="check_round"),
]
