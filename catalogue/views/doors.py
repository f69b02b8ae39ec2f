"""Signing in and out."""

from typing import Any

from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse

from catalogue.forms.people import SignInForm


class SignIn(LoginView):
    """Who is signed in already is sent on."""

    template_name = "catalogue/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=422)


class SignOut(LogoutView):
    """Sign out, and let the browser drop what it kept of the yard: pages and pictures.

    Browsers heed this over HTTPS and on the machine itself; elsewhere what is kept is not shown
    without being asked for again, which needs signing in (see ViewerMiddleware).
    """

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        response = super().dispatch(request, *args, **kwargs)
        response["Clear-Site-Data"] = '"cache"'
        return response
