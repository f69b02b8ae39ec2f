"""Signing in and out, without a namespace: Django's own views and settings name them."""

from django.contrib.auth import views
from django.urls import path

from catalogue.forms.people import SignInForm
from catalogue.views.doors import SignOut

urlpatterns = [
    path(
        "sign-in/",
        views.LoginView.as_view(
            template_name="catalogue/sign_in.html",
            authentication_form=SignInForm,
            redirect_authenticated_user=True,
        ),
        name="sign_in",
    ),
    path("sign-out/", SignOut.as_view(), name="sign_out"),
]
