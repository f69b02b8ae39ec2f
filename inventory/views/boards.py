"""Sample boards: the list, one board's course, sections cut, weighings, corrections."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from inventory import boards as sample_boards
from inventory.access import needs, refusal
from inventory.forms.boards import BoardForm, BoardWeighForm, SectionsForm
from inventory.models import BoardSections, SampleBoard, Weighing
from inventory.viewer import YardRequest
from inventory.views import late

show_or_take = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
def boards(request: YardRequest) -> HttpResponse:
    """Every board with what it stands for and its last moisture; three queries."""
    _house_only(request)
    found = sample_boards.with_course(SampleBoard.objects.all())
    courses = [sample_boards.course_of(board) for board in found]
    return render(request, "inventory/boards/list.html", {"courses": courses})


@require_safe
def board(request: YardRequest, pk: int) -> HttpResponse:
    """One board's whole course."""
    _house_only(request)
    found = sample_boards.with_course(SampleBoard.objects.filter(pk=pk)).first()
    if found is None:
        raise Http404("There is no sample board at this address.")
    course = sample_boards.course_of(found)
    return render(request, "inventory/boards/page.html", {"course": course, "board": found})


@show_or_take
@needs("log_moisture")
def board_new(request: YardRequest) -> HttpResponse:
    return _keep(request, SampleBoard())


@show_or_take
@needs("log_moisture")
def board_edit(request: YardRequest, pk: int) -> HttpResponse:
    return _keep(request, get_object_or_404(SampleBoard.objects.select_related("slab"), pk=pk))


@show_or_take
@needs("log_moisture")
def board_sections(request: YardRequest, pk: int) -> HttpResponse:
    return _sections(request, get_object_or_404(SampleBoard, pk=pk), None)


@show_or_take
@needs("log_moisture")
def sections_correct(request: YardRequest, pk: int) -> HttpResponse:
    """Sections put right, or their dry masses said when they come out of the oven."""
    row = get_object_or_404(BoardSections.objects.select_related("board"), pk=pk)
    now = late.as_it_stands(row)
    is_late = late.is_late(request, row, now)
    if now != row and not is_late:
        return _corrected(request, row.board)
    return _sections(request, row.board, now, is_late=is_late)


@show_or_take
@needs("log_moisture")
def board_weigh(request: YardRequest, pk: int) -> HttpResponse:
    return _weigh(request, get_object_or_404(SampleBoard, pk=pk), None)


@show_or_take
@needs("log_moisture")
def board_weigh_correct(request: YardRequest, pk: int) -> HttpResponse:
    rows = Weighing.objects.select_related("board")
    row = get_object_or_404(rows, pk=pk, board__isnull=False)
    assert row.board is not None
    now = late.as_it_stands(row)
    is_late = late.is_late(request, row, now)
    if now != row and not is_late:
        return _corrected(request, row.board)
    return _weigh(request, row.board, now, is_late=is_late)


def _keep(request: YardRequest, found: SampleBoard) -> HttpResponse:
    called = found.name
    data = request.POST if request.method == "POST" else None
    form = BoardForm(data, instance=found, initial=_asked_for(request))
    if form.is_bound and form.is_valid():
        kept = form.save()
        messages.success(request, f"Sample board {kept} is kept.")
        return redirect("inventory:board", kept.pk)
    context = {"form": form, "called": called}
    status = 422 if form.is_bound else 200
    return render(request, "inventory/boards/form.html", context, status=status)


def _asked_for(request: YardRequest) -> dict[str, str]:
    """The slab an address names, to save typing."""
    code = request.GET.get("slab", "")
    return {"slab_code": code} if code else {}


def _sections(
    request: YardRequest,
    found: SampleBoard,
    corrects: BoardSections | None,
    *,
    is_late: bool = False,
) -> HttpResponse:
    form = SectionsForm(**_asked(request, found), corrects=corrects)
    if is_late:
        late.said_late(form)
    elif form.is_bound and form.is_valid() and form.save(request.user, timezone.now()):
        messages.success(request, f"The sections of {found} are on the record.")
        return redirect("inventory:board", found.pk)
    return _show(request, "inventory/boards/sections.html", form, found, corrects)


def _weigh(
    request: YardRequest, found: SampleBoard, corrects: Weighing | None, *, is_late: bool = False
) -> HttpResponse:
    form = BoardWeighForm(**_asked(request, found), corrects=corrects)
    if is_late:
        late.said_late(form)
    elif form.is_bound and form.is_valid() and form.save(request.user, timezone.now()):
        messages.success(request, f"The weighing of {found} is on the record.")
        return redirect("inventory:board", found.pk)
    return _show(request, "inventory/boards/weigh.html", form, found, corrects)


def _asked(request: YardRequest, found: SampleBoard) -> dict[str, Any]:
    return {
        "data": request.POST if request.method == "POST" else None,
        "board": found,
        "system": request.viewer.system,
        "today": timezone.localdate(),
    }


def _show(
    request: YardRequest, template: str, form: Any, found: SampleBoard, corrects: Any
) -> HttpResponse:
    context = {"form": form, "board": found, "corrects": corrects}
    return render(request, template, context, status=422 if form.is_bound else 200)


def _corrected(request: YardRequest, found: SampleBoard) -> HttpResponse:
    messages.warning(request, "Somebody has corrected this already: this is how it stands.")
    return redirect("inventory:board", found.pk)


def _house_only(request: YardRequest) -> None:
    if not request.viewer.sees_house:
        raise PermissionDenied(refusal(request))
