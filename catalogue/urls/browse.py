"""Looking: browse, one slab, compare, the client view."""

from django.urls import URLPattern, path
from django.views.generic import TemplateView

from inventory.urls import converters  # noqa: F401  (registers <slab:code>)

urlpatterns: list[URLPattern] = [
    path("slabs/", TemplateView.as_view(template_name="base.html"), name="browse"),
    path("slabs/<slab:code>/", TemplateView.as_view(template_name="base.html"), name="slab"),
]
