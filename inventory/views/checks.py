"""The worker with a meter: the round, entering a check, reading it, correcting it."""

from dataclasses import dataclass

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from inventory import codes, judging, last_read, reading_map, rounds
from inventory.access import fetch_slab, needs, refusal
from inventory.asked import whole_number
from inventory.forms.checks import CheckEntry
from inventory.models import Meter, MoistureCheck, Slab
from inventory.viewer import YardRequest
from inventory.views import late

SLABS_A_PAGE = 40

show_or_take = require_http_methods(["GET", "HEAD", "POST"])


@dataclass(frozen=True)
class Row:
    """A slab of the round and why it is on it."""

    slab: Slab
    why: str


@require_safe
@needs("log_moisture")
def check_round(request: YardRequest) -> HttpResponse:
    """Slabs due a check as one walks; a code typed in the box goes straight to its entry page."""
    today = timezone.localdate()
    typed = request.GET.get("code", "").strip()
    asked_for, problem = _slab_named(typed) if typed else (None, "")
    if asked_for is not None:
        return redirect("inventory:check_new", asked_for.code)
    place, bay = _number(request, "place"), _number(request, "bay")
    page = Paginator(rounds.due(today, place, bay).for_cards(), SLABS_A_PAGE).get_page(
        request.GET.get("page")
    )
    context = {
        "page": page,
        "rows": [Row(slab, rounds.why_due(slab, today)) for slab in page.object_list],
        "places": rounds.place_choices(today, place),
        "bays": rounds.bay_choices(today, place, bay) if place else [],
        "place": place,
        "bay": bay,
        "typed": typed,
        "problem": problem,
    }
    return render(request, "inventory/checks/round.html", context, status=422 if problem else 200)


@show_or_take
@needs("log_moisture")
def check_new(request: YardRequest, code: str) -> HttpResponse:
    return _enter(request, fetch_slab(code), None)


@show_or_take
@needs("log_moisture")
def check_correct(request: YardRequest, pk: int) -> HttpResponse:
    check = _fetch_check(pk)
    newer = late.as_it_stands(check)
    if late.is_late(request, check, newer) and not newer.weighing_id:
        # What was typed in a tab left open is not lost: it may correct theirs.
        return _enter(request, fetch_slab(newer.slab.code), newer, is_late=True)
    if newer != check:
        messages.warning(request, "Somebody has corrected this check already: this is theirs.")
        return redirect("inventory:check_page", newer.pk)
    if check.weighing_id is not None:
        return redirect("inventory:weigh_correct", check.weighing_id)
    return _enter(request, fetch_slab(check.slab.code), check)


@require_safe
def check_page(request: YardRequest, pk: int) -> HttpResponse:
    """One check: what it says of the slab, every reading, and the way on."""
    if not request.viewer.sees_house:
        raise PermissionDenied(refusal(request))
    check = _fetch_check(pk)
    slab = fetch_slab(check.slab.code)
    today = timezone.localdate()
    may_log = request.viewer.can("log_moisture")
    context = {
        "check": check,
        "slab": slab,
        "judged": judging.judge_for(slab, today, request.viewer.system, request.GET.get("for", "")),
        "read": last_read.as_read(slab, check, request.viewer.system),
        "corrected_by": _corrected_by(check),
        "next": rounds.next_after(slab, today) if may_log else None,
    }
    return render(request, "inventory/checks/page.html", context)


def _enter(
    request: YardRequest, slab: Slab, corrects: MoistureCheck | None, *, is_late: bool = False
) -> HttpResponse:
    """The entry page, and what was typed on it; only shown again where it came too late."""
    today = timezone.localdate()
    data = request.POST if request.method == "POST" else None
    entry = CheckEntry(slab, request.user, request.viewer.system, today, data, corrects)
    if data is not None and entry.is_valid() and not is_late:
        check = entry.save(timezone.now())
        if check is not None:
            return _saved(request, check)
    context = {
        "entry": entry,
        "slab": slab,
        "corrects": corrects,
        "is_late": is_late,
        "strip": reading_map.strip(slab),
        "has_meters": Meter.objects.filter(is_retired=False).exists(),
        "skip_to": None if corrects else rounds.next_after(slab, today),
    }
    status = 200 if data is None else 422
    return render(request, "inventory/checks/entry.html", context, status=status)


def _saved(request: YardRequest, check: MoistureCheck) -> HttpResponse:
    done = "corrected" if check.supersedes_id else "on the record"
    messages.success(request, f"The check of {check.slab} is {done}.")
    return redirect("inventory:check_page", check.pk)


def _fetch_check(pk: int) -> MoistureCheck:
    related = ("slab", "meter", "by", "supersedes", "weighing", "own_table")
    checks = MoistureCheck.objects.select_related(*related)
    return get_object_or_404(checks, pk=pk)


def _corrected_by(check: MoistureCheck) -> MoistureCheck | None:
    found = MoistureCheck.objects.filter(supersedes=check).select_related("by", "slab", "meter")
    return found.first()


def _slab_named(typed: str) -> tuple[Slab | None, str]:
    """The slab in stock of a typed code, or the sentence that says what to look at."""
    try:
        code = codes.normalise(typed)
    except codes.CodeProblem as problem:
        return None, str(problem)
    slab = Slab.objects.filter(code=code).first()
    return slab, "" if slab else f"No slab bears the code {codes.display(code)}."


def _number(request: YardRequest, name: str) -> int | None:
    return whole_number(request.GET.get(name))
