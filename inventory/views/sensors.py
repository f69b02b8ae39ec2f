"""The sensors of a place: naming one and getting its token, taking a token back."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from inventory import sensors as keeping
from inventory.access import needs
from inventory.forms.sensors import SensorForm
from inventory.models import Place, SensorToken
from inventory.viewer import YardRequest


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@needs("keep_yard")
def sensors(request: YardRequest, pk: int) -> HttpResponse:
    """The list, and the form for another; a new token is in this one answer and nowhere else."""
    place = get_object_or_404(Place, pk=pk)
    form = SensorForm(request.POST if request.method == "POST" else None, label_suffix="")
    made = form.made(place, request.user, timezone.now()) if form.is_valid() else None
    context = {
        "place": place,
        "sensors": SensorToken.objects.filter(place=place).select_related("made_by"),
        "form": SensorForm(label_suffix="") if made else form,
        "made": made[0] if made else None,
        "token": made[1] if made else "",
        "door": request.build_absolute_uri(reverse("inventory:air_api")),
    }
    status = 422 if form.errors else 200
    return render(request, "inventory/sensors/list.html", context, status=status)


@require_POST
@needs("keep_yard")
def sensor_revoke(request: YardRequest, pk: int) -> HttpResponse:
    sensor = get_object_or_404(SensorToken, pk=pk)
    try:
        keeping.revoke(sensor, by=request.user, now=timezone.now())
        messages.success(request, f"{sensor} can send no more. What it sent stays on record.")
    except ValidationError as problem:
        messages.warning(request, " ".join(problem.messages))
    return redirect("inventory:sensors", sensor.place_id)
