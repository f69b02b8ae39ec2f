"""One's own page, and the owner's list of people."""

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from catalogue.forms.people import OwnPageForm, PersonForm
from inventory.access import for_house, needs
from inventory.models import Person
from inventory.viewer import YardRequest


@require_http_methods(["GET", "POST"])
@for_house
def me(request: YardRequest) -> HttpResponse:
    """Name and units of the person signed in."""
    form = OwnPageForm(request.POST or None, instance=request.user)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Kept.")
        return redirect("catalogue:me")
    status = 422 if form.errors else 200
    return render(request, "catalogue/people/me.html", {"form": form}, status=status)


@require_safe
@needs("keep_people")
def people(request: YardRequest) -> HttpResponse:
    everyone = Person.objects.prefetch_related("groups").order_by("-is_active", "username")
    return render(request, "catalogue/people/people.html", {"people": everyone})


@require_http_methods(["GET", "POST"])
@needs("keep_people")
def person_new(request: YardRequest) -> HttpResponse:
    return _keep(request, Person())


@require_http_methods(["GET", "POST"])
@needs("keep_people")
def person_edit(request: YardRequest, pk: int) -> HttpResponse:
    return _keep(request, get_object_or_404(Person, pk=pk))


def _keep(request: YardRequest, person: Person) -> HttpResponse:
    called = person.called
    form = PersonForm(request.POST or None, instance=person)
    if request.method == "POST" and form.is_valid():
        kept = form.save()
        if kept == request.user:
            # One's own new password must not sign one out.
            update_session_auth_hash(request, kept)
        messages.success(request, f"{kept.called} is kept.")
        return redirect("catalogue:people")
    page = {"form": form, "called": called}
    status = 422 if form.errors else 200
    return render(request, "catalogue/people/person.html", page, status=status)
