"""Parcels, logs and their costs."""

from django.urls import URLPattern, path
from django.views.generic import TemplateView

urlpatterns: list[URLPattern] = [
    path("parcels/", TemplateView.as_view(template_name="base.html"), name="parcels"),
]
