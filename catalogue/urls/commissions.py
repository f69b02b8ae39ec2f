"""Today, clients, commissions, holds and allotments."""

from django.urls import URLPattern, path

from catalogue.views import clients, commissions, laying, movement, today

urlpatterns: list[URLPattern] = [
    path("", today.today, name="today"),
    path("commissions/", commissions.commissions, name="commissions"),
    path("commissions/new/", commissions.commission_new, name="commission_new"),
    path("commissions/<int:pk>/", commissions.commission, name="commission"),
    path("commissions/<int:pk>/edit/", commissions.commission_edit, name="commission_edit"),
    path(
        "commissions/<int:pk>/movement/",
        movement.commission_movement_page,
        name="commission_movement",
    ),
    path("commissions/<int:pk>/lay/", laying.lay, name="lay"),
    path(
        "commissions/<int:pk>/layouts/<int:laid>/take-back/",
        laying.take_back,
        name="layout_take_back",
    ),
    path(
        "commissions/<int:pk>/layouts/<int:laid>/put-back/",
        laying.put_back,
        name="layout_put_back",
    ),
    path("commissions/<int:pk>/hold/", commissions.commission_hold, name="commission_hold"),
    path("commissions/<int:pk>/allot/", commissions.commission_allot, name="commission_allot"),
    path(
        "commissions/<int:pk>/release/",
        commissions.commission_release,
        name="commission_release",
    ),
    path("clients/", clients.clients, name="clients"),
    path("clients/new/", clients.client_new, name="client_new"),
    path("clients/<int:pk>/", clients.client, name="client"),
    path("clients/<int:pk>/edit/", clients.client_edit, name="client_edit"),
]
