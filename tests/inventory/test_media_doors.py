"""Pictures' files are served only to those who may see them, and only through their door."""

from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as site_settings
from django.test import Client
from django.urls import reverse
from PIL import Image

from inventory.models import Photo, PhotoRole
from inventory.photos import store
from inventory.photos.intake import take_in
from tests.conftest import client_for
from tests.factories import make_person, make_slab
from tests.photos.pictures import grained, jpeg

pytestmark = pytest.mark.django_db
SIZES = {"grid": "WEBP", "page": "WEBP", "zoom": "WEBP", "master": "JPEG"}


@pytest.fixture(autouse=True)
def media(tmp_path: Path, settings: Any) -> Path:
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


def make_photo() -> Photo:
    intake = take_in(BytesIO(jpeg(grained(320, 200))), "face.jpg")
    return store.add_photo(make_slab(), intake, PhotoRole.FACE_DRY, None, "face.jpg")


def file_of(photo: Photo, size: str) -> str:
    return reverse("inventory:photo_file", args=[photo.pk, size])


@pytest.mark.parametrize("size", SIZES)
def test_each_size_is_the_picture_it_says(worker_client: Client, size: str) -> None:
    photo = make_photo()
    response = worker_client.get(file_of(photo, size))
    data = response.getvalue()
    picture = Image.open(BytesIO(data))
    assert picture.format == SIZES[size]
    assert response.headers["Content-Type"] == f"image/{SIZES[size].lower()}"
    assert response.headers["Content-Disposition"].startswith("inline")
    assert response.headers["X-Content-Type-Options"] == "nosniff"
    assert response.headers["Cache-Control"] == "private, max-age=31536000, immutable"
    assert int(response.headers["Content-Length"]) == len(data)


@pytest.mark.parametrize("role", ["Owner", "Worker", "Buyer", ""])
@pytest.mark.parametrize("size", SIZES)
def test_any_signed_in_person_sees_pictures_and_those_who_record_the_master(
    role: str, size: str
) -> None:
    response = client_for(make_person(role)).get(file_of(make_photo(), size))
    assert response.status_code == (403 if size == "master" and not role else 200)
    response.getvalue()


def test_the_client_view_shows_pictures_but_no_master(owner_client: Client) -> None:
    session = owner_client.session
    session["client_view"] = True
    session.save()
    photo = make_photo()
    for size in SIZES:
        response = owner_client.get(file_of(photo, size))
        assert response.status_code == (403 if size == "master" else 200)
        response.getvalue()


@pytest.mark.parametrize("size", SIZES)
def test_a_signed_out_person_gets_no_file(client: Client, size: str) -> None:
    response = client.get(file_of(make_photo(), size))
    assert response.status_code == 302
    assert response.headers["Location"].startswith("/sign-in/")


def test_a_file_already_had_is_not_sent_again(worker_client: Client) -> None:
    photo = make_photo()
    first = worker_client.get(file_of(photo, "grid"))
    first.getvalue()
    again = worker_client.get(
        file_of(photo, "grid"), headers={"If-None-Match": first.headers["ETag"]}
    )
    assert (again.status_code, again.content) == (304, b"")
    other = worker_client.get(
        file_of(photo, "page"), headers={"If-None-Match": first.headers["ETag"]}
    )
    assert other.status_code == 200
    other.getvalue()


def test_the_etag_opens_no_door(client: Client) -> None:
    photo = make_photo()
    etag = f'"{photo.sha256[:32]}-grid"'
    response = client.get(file_of(photo, "grid"), headers={"If-None-Match": etag})
    assert response.status_code == 302


@pytest.mark.parametrize(
    "path",
    [
        "/photos/{pk}/huge/",
        "/photos/{pk}/..%2Fmaster/",
        "/photos/{pk}/../../../etc/passwd",
        "/photos/{pk}/sha256/",
        "/photos/999999/grid/",
        "/photos/{name}",
        "/media/{name}",
        "/{name}",
        "/static/{name}",
        "/static/../media/{name}",
    ],
)
def test_no_other_address_gives_a_file(owner_client: Client, path: str) -> None:
    photo = make_photo()
    response = owner_client.get(path.format(pk=photo.pk, name=photo.grid.name))
    assert response.status_code in (301, 302, 404)
    if response.status_code != 404:
        assert owner_client.get(response.headers["Location"]).status_code == 404


def test_the_site_serves_no_folder_of_media() -> None:
    """The media folder stands outside every folder that is served as static files."""
    media_root = Path(site_settings.VAR_DIR) / "media"
    served = [Path(site_settings.STATIC_ROOT), *map(_folder, site_settings.STATICFILES_DIRS)]
    assert not any(media_root.is_relative_to(folder) for folder in served)


def _folder(entry: object) -> Path:
    return Path(entry[1] if isinstance(entry, tuple) else str(entry))


def test_a_file_gone_from_the_disk_is_not_found(worker_client: Client, media: Path) -> None:
    photo = make_photo()
    (media / str(photo.grid.name)).unlink()
    assert worker_client.get(file_of(photo, "grid")).status_code == 404


def test_a_file_is_only_looked_at(owner_client: Client) -> None:
    assert owner_client.post(file_of(make_photo(), "grid")).status_code == 405
