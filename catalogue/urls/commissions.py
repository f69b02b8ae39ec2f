"""Today, clients, commissions, holds and allotments."""

from django.urls import URLPattern, path
from django.views.generic import TemplateView

urlpatterns: list[URLPattern] = [
    path("", TemplateView.as_view(template_name="base.html"), name="today"),
    path("commissions/", TemplateView.as_view(template_name="base.html"), name="commissions"),
    path(
        "commissions/<int:pk>/",
        TemplateView.as_view(template_name="base.html"),
        name="commission",
    ),
]
