"""A slab's pictures: adding, ordering, naming, removing; and the one door to their files."""

from dataclasses import dataclass
from typing import Any, BinaryIO, cast

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.files.storage import default_storage
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.access import fetch_slab, is_fragment, needs, refusal
from inventory.asked import whole_number
from inventory.forms.photos import RoleForm, Upload, UploadForm
from inventory.models import Outline, Photo, PhotoSize, Slab, Standing
from inventory.photos import flat, store
from inventory.photos.intake import PhotoRefused
from inventory.viewer import YardRequest

KEEP_A_YEAR = "private, max-age=31536000, immutable"


@dataclass(frozen=True)
class Taken:
    """What became of one uploaded file; `status` 201 when it was kept."""

    name: str
    sentence: str = ""
    status: int = 201

    @property
    def is_kept(self) -> bool:
        return not self.sentence


@require_http_methods(["GET", "HEAD", "POST"])
@needs("record_slab")
def slab_photos(request: YardRequest, code: str) -> HttpResponse:
    slab = fetch_slab(code)
    if request.method != "POST":
        return _page(request, slab, UploadForm())
    form = UploadForm(request.POST, request.FILES)
    if not form.is_valid():
        return _page(request, slab, form, status=422)
    role = form.cleaned_data["role"]
    taken = [_take(request, slab, file, role) for file in form.cleaned_data["files"]]
    if is_fragment(request):
        return _page(request, slab, UploadForm(), taken, status=_status(taken))
    if all(one.is_kept for one in taken):
        return _done(request, slab, _kept_words(len(taken)))
    return _page(request, slab, UploadForm(initial={"role": role}), taken, status=_status(taken))


@require_POST
@needs("record_slab")
def photo_role(request: YardRequest, code: str, pk: int) -> HttpResponse:
    photo = _photo(code, pk)
    form = RoleForm(request.POST)
    if not form.is_valid():
        return _page(request, photo.slab, UploadForm(), status=422)
    photo.role = form.cleaned_data["role"]
    photo.save(update_fields=["role"])
    return _done(request, photo.slab, f"The picture shows: {photo.get_role_display().lower()}.")


@require_POST
@needs("record_slab")
def photo_order(request: YardRequest, code: str) -> HttpResponse:
    """`up` or `down` names one picture to move a step; `order`, repeated, names them all."""
    slab = fetch_slab(code)
    on = timezone.localdate()
    for name, step in (("up", -1), ("down", 1)):
        if name in request.POST:
            store.shift(slab, _photo(code, _key(request.POST[name])), step, on)
    order = [_key(text) for text in request.POST.getlist("order")]
    if order:
        store.put_in_order(slab, order, on)
    return _done(request, slab, "The pictures are in order.")


@require_POST
@needs("record_slab")
def photo_remove(request: YardRequest, code: str, pk: int) -> HttpResponse:
    photo = _photo(code, pk)
    slab = photo.slab
    try:
        store.remove(photo, request.user, timezone.now())
    except PhotoRefused as refused:
        taken = [Taken(f"{photo.get_role_display()}, not removed:", str(refused), refused.status)]
        # A fragment is only put into the page when its status says that all is well.
        status = 200 if is_fragment(request) else refused.status
        return _page(request, slab, UploadForm(), taken, status=status)
    return _done(request, slab, "The picture is removed.")


@require_safe
def photo_file(request: YardRequest, pk: int, size: str) -> HttpResponseBase:
    """One file of a picture, for whoever is signed in; the master for those who record."""
    if size not in PhotoSize.values:
        raise Http404("There is no such size of picture.")
    if size == PhotoSize.MASTER and not request.viewer.can("record_slab"):
        raise PermissionDenied(refusal(request))
    photo = get_object_or_404(Photo.objects.select_related("slab"), pk=pk)
    _in_sight(request, photo.slab)
    etag = f'"{photo.sha256[:32]}-{size}"'
    unchanged = get_conditional_response(cast("HttpRequest", request), etag=etag)
    response = unchanged or _file_response(photo, size)
    response["ETag"] = etag
    response["Cache-Control"] = KEEP_A_YEAR
    response["X-Content-Type-Options"] = "nosniff"
    return response


@require_safe
def outline_picture(request: YardRequest, pk: int, size: str) -> HttpResponseBase:
    """The face an outline was traced on, laid flat; for whoever is signed in."""
    if size not in flat.LONG_SIDE_PX:
        raise Http404("There is no such size of picture.")
    traced = Outline.objects.exclude(photo=None).select_related("photo", "slab")
    outline = get_object_or_404(traced, pk=pk)
    if outline.is_withdrawn:
        raise Http404("This outline was withdrawn.")
    _in_sight(request, outline.slab)
    try:
        opened = default_storage.open(flat.file_name(outline, size), "rb")
    except FileNotFoundError as missing:
        raise Http404("The picture's file is not there any more.") from missing
    name = f"{outline.slab.display_code}-{outline.side}.webp"
    response = FileResponse(opened, filename=name, content_type="image/webp")
    response["Cache-Control"] = KEEP_A_YEAR
    response["X-Content-Type-Options"] = "nosniff"
    return response


def _in_sight(request: YardRequest, slab: Slab) -> None:
    """A client sees no picture of wood that is gone, as they see nothing else of it.

    Raises:
        Http404: when it is.
    """
    if request.viewer.client_view and slab.standing == Standing.GONE:
        raise Http404("There is no such picture.")


def _file_response(photo: Photo, size: str) -> FileResponse:
    stored = getattr(photo, size)
    try:
        opened = stored.open("rb")
    except FileNotFoundError as missing:
        raise Http404("The picture's file is not there any more.") from missing
    extension, kind = ("jpg", "image/jpeg") if size == PhotoSize.MASTER else ("webp", "image/webp")
    name = f"{photo.slab.display_code}-{photo.pk}-{size}.{extension}"
    return FileResponse(opened, filename=name, content_type=kind)


def _take(request: YardRequest, slab: Slab, file: Upload, role: str) -> Taken:
    name = file.name or "a picture"
    try:
        store.add_upload(slab, cast("BinaryIO", file), name, role, request.user)
    except PhotoRefused as refused:
        return Taken(name, str(refused), refused.status)
    return Taken(name)


def _status(taken: list[Taken]) -> int:
    """The first refusal's own status when nothing was kept."""
    refused = [one.status for one in taken if not one.is_kept]
    return refused[0] if refused and len(refused) == len(taken) else 200


def _kept_words(count: int) -> str:
    return "One picture is with the slab." if count == 1 else f"{count} pictures were added."


def _photo(code: str, pk: int) -> Photo:
    return get_object_or_404(Photo, slab=fetch_slab(code), pk=pk)


def _key(text: str) -> int:
    key = whole_number(text)
    if key is None:
        raise Http404("There is no such picture.")
    return key


def _done(request: YardRequest, slab: Slab, words: str) -> HttpResponse:
    if is_fragment(request):
        return _page(request, slab, UploadForm())
    messages.success(request, words)
    return redirect("inventory:slab_photos", slab.code)


def _page(
    request: YardRequest,
    slab: Slab,
    form: UploadForm,
    taken: list[Taken] | None = None,
    status: int = 200,
) -> HttpResponse:
    template = "photos_list" if is_fragment(request) else "photos"
    photos = list(slab.photos.order_by("position", "pk"))
    context: dict[str, Any] = {
        "slab": slab,
        "form": form,
        "photos": photos,
        "taken": taken or [],
        "roles": RoleForm.base_fields["role"].choices,  # type: ignore[attr-defined]
    }
    return render(request, f"inventory/slabs/{template}.html", context, status=status)
