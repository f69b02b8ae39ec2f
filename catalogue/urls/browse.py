"""Looking: browse, one slab, compare, the client view."""

from django.urls import URLPattern, path

import inventory.urls.converters  # noqa: F401  (registers <slab:code>)
from catalogue.views import boule, browse, client_view, slab

urlpatterns: list[URLPattern] = [
    path("slabs/", browse.browse, name="browse"),
    path("slabs/<slab:code>/", slab.slab, name="slab"),
    path("logs/<int:pk>/sawn/", boule.boule, name="boule"),
    path("compare/", slab.compare, name="compare"),
    path("client-view/", client_view.client_view, name="client_view"),
]
