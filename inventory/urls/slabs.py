"""Receiving, measuring, photographing, pricing and parting with slabs; the ledger."""

from django.urls import URLPattern, path

from inventory.urls import converters  # noqa: F401  (registers <slab:code>)
from inventory.views import movement, photos, slabs

urlpatterns: list[URLPattern] = [
    path("slabs/new/", slabs.slab_new, name="slab_new"),
    path("slabs/<slab:code>/measure/", slabs.slab_measure, name="slab_measure"),
    path("slabs/<slab:code>/price/", slabs.slab_price, name="slab_price"),
    path("slabs/<slab:code>/gone/", slabs.slab_gone, name="slab_gone"),
    path("slabs/<slab:code>/back/", slabs.slab_back, name="slab_back"),
    path("slabs/<slab:code>/ledger/", slabs.slab_ledger, name="slab_ledger"),
    path("slabs/<slab:code>/movement/", movement.slab_movement, name="slab_movement"),
    path("slabs/<slab:code>/label/", slabs.slab_label, name="slab_label"),
    path("slabs/<slab:code>/photos/", photos.slab_photos, name="slab_photos"),
    path("slabs/<slab:code>/photos/order/", photos.photo_order, name="photo_order"),
    path("slabs/<slab:code>/photos/<int:pk>/role/", photos.photo_role, name="photo_role"),
    path("slabs/<slab:code>/photos/<int:pk>/remove/", photos.photo_remove, name="photo_remove"),
    path("photos/<int:pk>/<str:size>/", photos.photo_file, name="photo_file"),
    path("outlines/<int:pk>/picture/<str:size>/", photos.outline_picture, name="outline_picture"),
]
