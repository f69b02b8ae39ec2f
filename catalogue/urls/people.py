"""People and one's own page."""

from django.urls import URLPattern, path
from django.views.generic import TemplateView

urlpatterns: list[URLPattern] = [
    path("me/", TemplateView.as_view(template_name="base.html"), name="me"),
]
