"""Signing out."""

from typing import Any

from django.contrib.auth.views import LogoutView
from django.http import HttpRequest, HttpResponse


class SignOut(LogoutView):
    """Sign out, and let the browser drop what it kept of the yard: pages and pictures.

    Browsers heed this over HTTPS and on the machine itself; elsewhere what is kept is not shown
    without being asked for again, which needs signing in (see ViewerMiddleware).
    """

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        response = super().dispatch(request, *args, **kwargs)
        response["Clear-Site-Data"] = '"cache"'
        return response
