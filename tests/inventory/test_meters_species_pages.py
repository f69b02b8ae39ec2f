"""Meters and species as people keep and read them."""

import pytest
from django.test import Client

from inventory.models import Meter, Species
from tests.factories import make_meter
from tests.inventory.test_places_pages import url, words

pytestmark = pytest.mark.django_db


def test_a_meter_is_kept_and_retired(owner_client: Client) -> None:
    form = {"name": "Hammer pins", "method": "pin", "corrects_temperature": "on", "note": ""}
    assert owner_client.post(url("meter_new"), form).status_code == 302
    meter = Meter.objects.get()
    assert (meter.corrects_temperature, meter.corrects_species) == (True, False)
    edit = url("meter_edit", meter.pk)
    assert owner_client.post(edit, {**form, "is_retired": "on"}).status_code == 302
    assert "no longer used" in words(owner_client.get(url("meters")))


def test_two_meters_of_one_name_are_refused_in_a_sentence(owner_client: Client) -> None:
    make_meter(name="Hammer pins")
    page = owner_client.post(url("meter_new"), {"name": "Hammer pins", "method": "pinless"})
    assert page.status_code == 422
    assert "There is a meter of that name already." in words(page)
    assert 'value="pinless"' in words(page)


def test_species_are_found_by_any_of_their_names(buyer_client: Client) -> None:
    page = words(buyer_client.get(url("species"), {"q": "juglans nigra"}))
    assert "Walnut, black" in page
    assert "Beech" not in page
    part = buyer_client.get(url("species"), {"q": "no such"}, headers={"HX-Request": "true"})
    assert "No species of that name." in words(part)
    assert "<html" not in words(part)


def test_published_species_are_read_only(owner_client: Client) -> None:
    published = Species.objects.filter(is_published=True)[0]
    assert owner_client.get(url("species_edit", published.pk)).status_code == 404
    assert url("species_edit", published.pk) not in words(owner_client.get(url("species")))


def test_our_own_species_is_kept_beside_a_published_one(owner_client: Client) -> None:
    form = {"common_name": "Walnut, black", "sg_green": "0.49", "source": "measured here"}
    assert owner_client.post(url("species_new"), form).status_code == 302
    own = Species.objects.get(is_published=False)
    assert (own.common_name, own.sg_green) == ("Walnut, black", 0.49)
    page = owner_client.post(url("species_new"), form)
    assert page.status_code == 422
    assert "You have a species of that name already." in words(page)


def test_a_number_no_wood_has_is_asked_about_or_refused(owner_client: Client) -> None:
    form = {"common_name": "Bog oak", "ct": "0.02"}
    page = owner_client.post(url("species_new"), form)
    assert page.status_code == 422
    assert "0.02 lies outside" in words(page)
    assert owner_client.post(url("species_new"), {**form, "keep": "ct=0.02"}).status_code == 302
    page = owner_client.post(url("species_new"), {"common_name": "Iron", "sg_green": "7.8"})
    assert page.status_code == 422
    assert "Specific gravity of wood lies between 0.05 and 1.5." in words(page)
