"""What every test shares: a fresh day and cache, people of each role, signed-in clients."""

from collections.abc import Iterator

import pytest
from django.core.cache import cache
from django.test import Client

from inventory import daily
from inventory.models import Person
from tests.factories import make_person


@pytest.fixture(autouse=True)
def _forgotten_day() -> Iterator[None]:
    daily.forget_day()
    cache.clear()
    yield
    daily.forget_day()


@pytest.fixture
def owner(db: None) -> Person:
    return make_person("Owner", username="owner")


@pytest.fixture
def worker(db: None) -> Person:
    return make_person("Worker", username="worker")


@pytest.fixture
def buyer(db: None) -> Person:
    return make_person("Buyer", username="buyer")


def client_for(person: Person) -> Client:
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def owner_client(owner: Person) -> Client:
    return client_for(owner)


@pytest.fixture
def worker_client(worker: Person) -> Client:
    return client_for(worker)


@pytest.fixture
def buyer_client(buyer: Person) -> Client:
    return client_for(buyer)
