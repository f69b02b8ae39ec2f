"""People and one's own page."""

from typing import cast

from django.contrib.auth import views as auth
from django.urls import URLPattern, path, reverse_lazy

from catalogue.views import people
from inventory.access import View, for_house

password = auth.PasswordChangeView.as_view(
    template_name="catalogue/people/password.html", success_url=reverse_lazy("catalogue:me")
)

urlpatterns: list[URLPattern] = [
    path("me/", people.me, name="me"),
    path(
        "me/password/",
        for_house(cast("View[[]]", password)),
        name="password",
    ),
    path("people/", people.people, name="people"),
    path("people/new/", people.person_new, name="person_new"),
    path("people/<int:pk>/", people.person_edit, name="person_edit"),
]
