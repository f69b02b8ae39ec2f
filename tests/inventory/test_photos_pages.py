"""Adding a slab's pictures, each judged by itself; naming, ordering and removing them."""

from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.db.models import QuerySet
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoCaptureOnCommitCallbacks

from inventory import derive, ledger, outlines
from inventory.models import FaceSide, LedgerKind, Photo, PhotoRole, Slab
from inventory.photos import store
from inventory.photos.intake import PhotoRefused, take_in
from tests.conftest import client_for
from tests.factories import at, make_person, make_slab
from tests.outlines import trace
from tests.photos.pictures import grained, jpeg, plain, saved

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media(tmp_path: Path, settings: Any) -> Path:
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


def picture(seed: int = 7, name: str = "face.jpg", data: bytes | None = None) -> SimpleUploadedFile:
    return SimpleUploadedFile(name, data or jpeg(grained(320, 200, seed)))


def make_photo(slab: Slab, seed: int = 7, role: str = PhotoRole.FACE_DRY) -> Photo:
    intake = take_in(BytesIO(jpeg(grained(320, 200, seed))), "face.jpg")
    return store.add_photo(slab, intake, role, None, "face.jpg")


def page_of(slab: Slab, name: str = "slab_photos", *args: Any) -> str:
    return reverse(f"inventory:{name}", args=[slab.code, *args])


def upload(client: Client, slab: Slab, *files: SimpleUploadedFile, **kwargs: Any) -> Any:
    sent = {"role": PhotoRole.EDGE, "files": list(files)}
    return client.post(page_of(slab), sent, **kwargs)


def files_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.rglob("*") if path.is_file())


def order_of(slab: Slab) -> list[int]:
    return list(slab.photos.order_by("position", "pk").values_list("pk", flat=True))


# Adding


def test_several_pictures_at_once_are_kept_in_the_order_they_came(
    worker_client: Client, media: Path
) -> None:
    slab = make_slab()
    response = upload(worker_client, slab, *[picture(seed, f"{seed}.jpg") for seed in (1, 2, 3)])
    assert response.headers["Location"] == page_of(slab)
    photos = list(slab.photos.order_by("position"))
    assert [photo.uploaded_name for photo in photos] == ["1.jpg", "2.jpg", "3.jpg"]
    assert {photo.role for photo in photos} == {PhotoRole.EDGE}
    assert Slab.objects.get(pk=slab.pk).cover == photos[0]
    assert len(files_in(media)) == 12


def test_jpeg_png_webp_and_heic_are_all_taken(worker_client: Client) -> None:
    slab = make_slab()
    files = [
        picture(1, f"a.{extension}", saved(grained(320, 200, seed), format_))
        for seed, (extension, format_) in enumerate(
            [("jpg", "JPEG"), ("png", "PNG"), ("webp", "WEBP"), ("heic", "HEIF")]
        )
    ]
    assert upload(worker_client, slab, *files).status_code == 302
    assert slab.photos.count() == 4


def test_a_broken_file_gets_a_sentence_beside_its_name_while_the_rest_succeed(
    worker_client: Client,
) -> None:
    slab = make_slab()
    broken = picture(name="torn.jpg", data=jpeg(grained(320, 200))[:900])
    note = picture(name="list.pdf", data=b"%PDF-1.4 not a picture")
    tiny = picture(name="tiny.png", data=saved(plain(20, 20), "PNG"))
    empty = picture(name="empty.jpg")
    empty.file, empty.size = BytesIO(), 0
    response = upload(worker_client, slab, broken, picture(3, "good.jpg"), note, tiny, empty)
    assert response.status_code == 200
    told = {one.name: one.sentence for one in response.context["taken"]}
    assert told["good.jpg"] == ""
    assert "damaged or cut short" in told["torn.jpg"]
    assert "This is a PDF" in told["list.pdf"]
    assert "too small" in told["tiny.png"]
    assert "empty" in told["empty.jpg"]
    page = response.content.decode()
    assert page.index("torn.jpg") < page.index(told["torn.jpg"])
    assert slab.photos.count() == 1


@pytest.mark.parametrize(
    ("name", "data", "status"),
    [("list.pdf", b"%PDF-1.4", 415), ("torn.jpg", jpeg(grained(320, 200))[:900], 422)],
)
def test_when_nothing_is_kept_the_answer_has_the_refusals_own_status(
    worker_client: Client, name: str, data: bytes, status: int
) -> None:
    response = upload(worker_client, make_slab(), picture(name=name, data=data))
    assert response.status_code == status


def test_a_name_that_would_climb_out_of_the_folder_stays_in_it(
    worker_client: Client, media: Path
) -> None:
    slab = make_slab()
    upload(worker_client, slab, picture(name="..\\..\\..\\etc\\climb<b>.jpg"))
    photo = slab.photos.get()
    assert "climb" not in str(photo.master.name)
    assert all((media / name).resolve().is_relative_to(media) for name in store._file_names(photo))
    assert "<b>" not in worker_client.get(page_of(slab)).content.decode()


def test_the_same_picture_twice_is_told_and_kept_once(worker_client: Client, media: Path) -> None:
    slab = make_slab()
    response = upload(worker_client, slab, picture(1, "a.jpg"), picture(1, "b.jpg"))
    told = {one.name: one.sentence for one in response.context["taken"]}
    assert told == {"a.jpg": "", "b.jpg": "This picture is with the slab already."}
    assert upload(worker_client, slab, picture(1)).status_code == 409
    assert len(files_in(media)) == 4


def test_the_same_picture_may_be_with_another_slab(worker_client: Client) -> None:
    for slab in (make_slab(), make_slab()):
        assert upload(worker_client, slab, picture(1)).status_code == 302


def test_sending_no_picture_is_told(worker_client: Client) -> None:
    response = upload(worker_client, make_slab())
    assert response.status_code == 422
    assert response.context["form"].errors["files"] == ["Choose at least one picture."]


def test_more_than_forty_at_once_are_asked_to_come_in_parts(worker_client: Client) -> None:
    slab = make_slab()
    response = upload(
        worker_client, slab, *[picture(name=f"{n}.jpg", data=b"x") for n in range(41)]
    )
    assert response.status_code == 422
    assert "40 pictures at a time" in response.context["form"].errors["files"][0]


def test_one_file_sent_by_the_pages_script_brings_back_the_list_alone(
    worker_client: Client,
) -> None:
    slab = make_slab()
    response = upload(worker_client, slab, picture(2), headers={"HX-Request": "true"})
    assert response.status_code == 200
    page = response.content.decode()
    assert page.lstrip().startswith('<div id="photos">')
    assert page.count("data-photo=") == 1


def test_files_have_names_nobody_can_guess(media: Path) -> None:
    one, other = make_photo(make_slab()), make_photo(make_slab())
    for photo in (one, other):
        stem = Path(str(photo.master.name)).name.removesuffix("-master.jpg")
        assert len(stem) >= 30
    assert {Path(name).name.split("-")[0] for name in store._file_names(one)}.isdisjoint(
        {Path(name).name.split("-")[0] for name in store._file_names(other)}
    )


def test_no_file_is_left_when_the_row_cannot_be_written(
    media: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*args: Any) -> None:
        raise RuntimeError("the disk of the database is full")

    slab = make_slab()
    monkeypatch.setattr(derive, "write", fail)
    with pytest.raises(RuntimeError):
        make_photo(slab)
    assert files_in(media) == []
    assert not Photo.objects.exists()


def test_no_file_is_left_when_a_derivative_cannot_be_written(
    media: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    slab = make_slab()
    real, calls = Photo.zoom.field.storage.save, []

    def fail_at_the_third(*args: Any, **kwargs: Any) -> Any:
        calls.append(args)
        if len(calls) == 3:
            raise OSError("No space left on device")
        return real(*args, **kwargs)

    monkeypatch.setattr(Photo.zoom.field.storage, "save", fail_at_the_third)
    with pytest.raises(OSError, match="No space"):
        make_photo(slab)
    assert files_in(media) == []


def test_two_sendings_at_once_of_one_picture_end_in_the_sentence(
    monkeypatch: pytest.MonkeyPatch, media: Path
) -> None:
    """The second looked before the first wrote: the constraint refuses, in the same words."""
    slab = make_slab()
    make_photo(slab)
    looks = iter([False, True])
    monkeypatch.setattr(QuerySet, "exists", lambda self: next(looks))
    with pytest.raises(PhotoRefused, match="with the slab already"):
        make_photo(slab)
    assert len(files_in(media)) == 4


# Naming, ordering, removing


def test_a_pictures_role_is_changed(worker_client: Client) -> None:
    slab = make_slab()
    photo = make_photo(slab)
    worker_client.post(page_of(slab, "photo_role", photo.pk), {"role": PhotoRole.FACE_WET})
    photo.refresh_from_db()
    assert photo.role == PhotoRole.FACE_WET


def test_a_role_that_is_none_is_refused(worker_client: Client) -> None:
    slab = make_slab()
    photo = make_photo(slab)
    sent = {"role": "portrait"}
    assert worker_client.post(page_of(slab, "photo_role", photo.pk), sent).status_code == 422


def test_the_first_picture_is_the_cover_and_follows_the_order(worker_client: Client) -> None:
    slab = make_slab()
    one, two, three = (make_photo(slab, seed) for seed in (1, 2, 3))
    worker_client.post(page_of(slab, "photo_order"), {"up": three.pk})
    assert order_of(slab) == [one.pk, three.pk, two.pk]
    worker_client.post(page_of(slab, "photo_order"), {"down": one.pk})
    assert order_of(slab) == [three.pk, one.pk, two.pk]
    assert Slab.objects.get(pk=slab.pk).cover_id == three.pk


def test_moving_the_first_up_leaves_the_order(worker_client: Client) -> None:
    slab = make_slab()
    one, two = (make_photo(slab, seed) for seed in (1, 2))
    worker_client.post(page_of(slab, "photo_order"), {"up": one.pk})
    assert order_of(slab) == [one.pk, two.pk]


def test_a_whole_order_is_taken_and_strangers_in_it_are_passed_over(
    worker_client: Client,
) -> None:
    slab, stranger = make_slab(), make_photo(make_slab())
    one, two, three = (make_photo(slab, seed) for seed in (1, 2, 3))
    sent = {"order": [three.pk, stranger.pk, one.pk]}
    response = worker_client.post(
        page_of(slab, "photo_order"), sent, headers={"HX-Request": "true"}
    )
    assert response.status_code == 200
    assert order_of(slab) == [three.pk, one.pk, two.pk]


def test_a_removed_pictures_files_go_and_the_ledger_keeps_a_note(
    worker_client: Client,
    media: Path,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    slab = make_slab()
    first, second = make_photo(slab, 1), make_photo(slab, 2, PhotoRole.EDGE)
    with django_capture_on_commit_callbacks() as pending:
        worker_client.post(page_of(slab, "photo_remove", first.pk))
    assert len(files_in(media)) == 8
    pending[0]()
    assert len(files_in(media)) == 4
    assert Slab.objects.get(pk=slab.pk).cover == second
    entry = slab.ledger.get()
    assert (entry.kind, entry.after) == (LedgerKind.CORRECTED, "Picture removed")
    assert entry.before == "Face, dry, face.jpg"


def test_a_picture_an_outline_was_traced_on_stays_and_says_why(
    worker_client: Client, media: Path
) -> None:
    slab = make_slab()
    photo = make_photo(slab)
    ring_px = np.array([(20.0, 40.0), (300.0, 40.0), (300.0, 160.0), (20.0, 160.0)])
    trace(slab, photo, ring_px, 8.0)
    outlines.withdraw(slab, FaceSide.UPPER, None, timezone.now())
    response = worker_client.post(page_of(slab, "photo_remove", photo.pk))
    assert response.status_code == 409
    assert "was traced on this picture, so it stays" in response.content.decode()
    assert Photo.objects.filter(pk=photo.pk).exists()
    assert len(files_in(media)) == 4
    asked = {"HTTP_HX_REQUEST": "true"}
    fragment = worker_client.post(page_of(slab, "photo_remove", photo.pk), **asked)  # type: ignore[arg-type]
    assert fragment.status_code == 200
    assert "so it stays" in fragment.content.decode()


def test_files_stay_when_the_removal_fails(
    media: Path,
    monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    photo = make_photo(make_slab())
    monkeypatch.setattr(ledger, "write", lambda *args, **kwargs: 1 / 0)
    with (
        django_capture_on_commit_callbacks(execute=True),
        pytest.raises(ZeroDivisionError),
    ):
        store.remove(photo, None, at(2026, 4, 1))
    assert len(files_in(media)) == 4
    assert Photo.objects.filter(sha256=photo.sha256).exists()


def test_the_page_asks_the_database_no_more_for_more_pictures(worker_client: Client) -> None:
    few, many = make_slab(), make_slab()
    make_photo(few)
    for seed in range(6):
        make_photo(many, seed)
    worker_client.get(page_of(few))
    with CaptureQueriesContext(connection) as short:
        worker_client.get(page_of(few))
    with CaptureQueriesContext(connection) as long:
        worker_client.get(page_of(many))
    assert len(short) == len(long)


# Doors


@pytest.mark.parametrize("name", ["photo_role", "photo_remove"])
def test_a_picture_is_changed_only_through_its_own_slab(worker_client: Client, name: str) -> None:
    photo, other = make_photo(make_slab()), make_slab()
    sent = {"role": PhotoRole.EDGE}
    assert worker_client.post(page_of(other, name, photo.pk), sent).status_code == 404
    assert Photo.objects.filter(pk=photo.pk, role=PhotoRole.FACE_DRY).exists()


def test_only_those_who_record_change_pictures(client: Client) -> None:
    slab = make_slab()
    photo = make_photo(slab)
    nobody = client_for(make_person())
    for who, status in ((nobody, 403), (client, 302)):
        assert upload(who, slab, picture(5)).status_code == status
        for name in ("photo_role", "photo_remove"):
            assert who.post(page_of(slab, name, photo.pk)).status_code == status
        assert who.post(page_of(slab, "photo_order"), {"up": photo.pk}).status_code == status
    assert slab.photos.count() == 1


@pytest.mark.parametrize("name", ["photo_role", "photo_remove"])
def test_a_look_changes_nothing(worker_client: Client, name: str) -> None:
    slab = make_slab()
    photo = make_photo(slab)
    assert worker_client.get(page_of(slab, name, photo.pk)).status_code == 405
    assert worker_client.get(page_of(slab, "photo_order")).status_code == 405


def test_an_order_of_nonsense_is_not_found(worker_client: Client) -> None:
    slab = make_slab()
    for sent in ({"up": "first"}, {"order": ["²", "3"]}, {"down": "99999"}):
        assert worker_client.post(page_of(slab, "photo_order"), sent).status_code == 404
