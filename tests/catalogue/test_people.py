"""Signing in, one's own page, and the owner's keeping of people."""

import pytest
from django.test import Client
from django.urls import reverse

from inventory.models import Person
from tests.conftest import client_for
from tests.factories import PASSWORD, make_person

pytestmark = pytest.mark.django_db


def sign_in(client: Client, name: str, password: str) -> int:
    return client.post(reverse("sign_in"), {"username": name, "password": password}).status_code


def test_the_right_password_opens_the_yard(client: Client, worker: Person) -> None:
    assert sign_in(client, worker.username, PASSWORD) == 302
    assert client.get(reverse("catalogue:me")).status_code == 200


def test_the_wrong_password_is_answered_in_a_sentence(client: Client, worker: Person) -> None:
    page = client.post(reverse("sign_in"), {"username": worker.username, "password": "no"})
    assert "do not belong together" in page.content.decode()
    assert worker.username in page.content.decode()


def test_signing_in_is_throttled_after_eight_wrong_tries(client: Client, worker: Person) -> None:
    tries = [sign_in(client, worker.username, f"wrong {number}") for number in range(9)]
    assert tries[:7] == [422] * 7
    assert tries[-1] == 429
    assert sign_in(client, worker.username, PASSWORD) == 429


def test_a_person_chooses_their_own_units(worker_client: Client, worker: Person) -> None:
    worker_client.post(reverse("catalogue:me"), {"first_name": "W", "length_system": "metric"})
    worker.refresh_from_db()
    assert worker.length_system == "metric"


def test_an_unknown_unit_is_refused_beside_the_field(worker_client: Client) -> None:
    page = worker_client.post(reverse("catalogue:me"), {"length_system": "cubits"})
    assert page.status_code == 422
    assert "errorlist" in page.content.decode()


def test_a_password_is_changed_by_giving_the_old_one(worker_client: Client, worker: Person) -> None:
    new = "heartwood-and-pith-3"
    form = {"old_password": PASSWORD, "new_password1": new, "new_password2": new}
    assert worker_client.post(reverse("catalogue:password"), form).status_code == 302
    worker.refresh_from_db()
    assert worker.check_password(new)


def test_an_owner_adds_a_worker(owner_client: Client) -> None:
    form = {"username": "tarn", "role": "Worker", "password": "sticker-and-stack-4"}
    assert owner_client.post(reverse("catalogue:person_new"), form).status_code == 302
    tarn = Person.objects.get(username="tarn")
    assert tarn.has_perm("inventory.log_moisture")
    assert not tarn.has_perm("inventory.see_cost")


def test_a_weak_password_is_refused_and_the_name_stays_typed(owner_client: Client) -> None:
    form = {"username": "tarn", "role": "Worker", "password": "tarn"}
    page = owner_client.post(reverse("catalogue:person_new"), form)
    assert page.status_code == 422
    assert 'value="tarn"' in page.content.decode()


def test_the_last_owner_stays_owner(owner_client: Client, owner: Person) -> None:
    form = {"username": owner.username, "role": "Worker", "is_active": "on"}
    page = owner_client.post(reverse("catalogue:person_edit", args=[owner.pk]), form)
    assert page.status_code == 422
    assert "Somebody must stay owner" in page.content.decode()
    assert owner.groups.get().name == "Owner"


def test_with_a_second_owner_the_first_may_step_back(owner_client: Client, owner: Person) -> None:
    make_person("Owner")
    form = {"username": owner.username, "role": "Worker", "is_active": "on"}
    url = reverse("catalogue:person_edit", args=[owner.pk])
    assert owner_client.post(url, form).status_code == 302


@pytest.mark.parametrize("name", ["people", "person_new"])
def test_only_an_owner_keeps_people(worker_client: Client, buyer_client: Client, name: str) -> None:
    for client in (worker_client, buyer_client):
        assert client.get(reverse(f"catalogue:{name}")).status_code == 403


def test_an_owner_who_steps_back_leaves_the_admin_too(owner_client: Client, owner: Person) -> None:
    second = make_person("Owner", username="second")
    form = {"username": "second", "role": "Owner", "password": "", "is_active": "on"}
    owner_client.post(reverse("catalogue:person_edit", args=[second.pk]), form)
    second.refresh_from_db()
    assert second.is_staff
    owner_client.post(
        reverse("catalogue:person_edit", args=[second.pk]), {**form, "role": "Worker"}
    )
    second.refresh_from_db()
    assert not second.is_staff


def test_an_owner_who_gives_themselves_a_password_stays_signed_in(
    owner_client: Client, owner: Person
) -> None:
    form = {"username": "owner", "role": "Owner", "password": "kerf-and-wane-91", "is_active": "on"}
    owner_client.post(reverse("catalogue:person_edit", args=[owner.pk]), form)
    owner.refresh_from_db()
    assert owner.check_password("kerf-and-wane-91")
    assert owner_client.get(reverse("catalogue:people")).status_code == 200


@pytest.mark.parametrize("role", ["Worker", "Buyer"])
def test_nobody_makes_themselves_more_than_they_are(role: str) -> None:
    """Fields the form does not offer, sent by hand."""
    person = make_person(role, username="tarn")
    more = {"role": "Owner", "groups": "1", "is_superuser": "on", "is_staff": "on"}
    sent = {"first_name": "T", "username": "other", "is_active": "", **more}
    assert client_for(person).post(reverse("catalogue:me"), sent).status_code == 302
    person = Person.objects.get(username="tarn")
    assert person.first_name == "T"
    assert [group.name for group in person.groups.all()] == [role]
    assert not person.is_superuser
    assert not person.is_staff
    assert person.is_active


@pytest.mark.parametrize(
    "elsewhere", ["https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example"]
)
def test_signing_in_leads_nowhere_else(client: Client, worker: Person, elsewhere: str) -> None:
    form = {"username": worker.username, "password": PASSWORD, "next": elsewhere}
    assert client.post(reverse("sign_in"), form)["Location"] == "/"
