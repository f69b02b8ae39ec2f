"""Places, bays, air, meters, species; moves and drying stages."""

from django.urls import URLPattern, path
from django.views.generic import TemplateView

urlpatterns: list[URLPattern] = [
    path("places/", TemplateView.as_view(template_name="base.html"), name="places"),
]
