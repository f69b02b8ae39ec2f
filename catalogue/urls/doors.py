"""Signing in and out, without a namespace: Django's own views and settings name them."""

from django.urls import path

from catalogue.views.doors import SignIn, SignOut

urlpatterns = [
    path("sign-in/", SignIn.as_view(), name="sign_in"),
    path("sign-out/", SignOut.as_view(), name="sign_out"),
]
