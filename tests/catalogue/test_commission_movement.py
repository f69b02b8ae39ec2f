"""How a commission's top will move: in the wood promised, wished, or chosen on the page."""

from datetime import date

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from catalogue import promises
from catalogue.models import Commission
from inventory.models import Person
from tests.factories import make_commission, make_slab, make_species

pytestmark = pytest.mark.django_db
NBSP = "\N{NO-BREAK SPACE}"


def page(client: Client, commission: Commission, **said: str) -> str:
    response = client.get(reverse("catalogue:commission_movement", args=[commission.pk]), said)
    assert response.status_code == 200
    return response.content.decode().replace(NBSP, " ")


def test_a_top_in_the_slab_promised_to_it(owner_client: Client, owner: Person) -> None:
    """600 mm × 0.00274 × (10.9 − 6.2): 7.7 mm, 5/16 in, over the year."""
    commission, slab = make_commission(), make_slab(sawn="flat")
    promises.hold(commission, [slab], until=date(2099, 1, 1), by=owner, now=timezone.now())
    text = page(owner_client, commission)
    assert f"In {slab.species.common_name} {slab.display_code}, flat-sawn" in text
    assert "it moves ⁵⁄₁₆ in over the year" in text
    assert "made at 7.0 %" in text


def test_a_top_in_the_species_wished_is_shown_both_ways(owner_client: Client) -> None:
    commission = make_commission()
    commission.species.add(make_species(common_name="Fen ash"))
    text = page(owner_client, commission)
    assert "In Fen ash" in text
    assert "Flat-sawn" in text
    assert "Quarter-sawn" in text


def test_without_any_wood_one_is_chosen_on_the_page(owner_client: Client) -> None:
    commission, species = make_commission(), make_species(common_name="Fen ash")
    assert "choose one below" in page(owner_client, commission)
    assert "In Fen ash" in page(owner_client, commission, species=str(species.pk))


def test_the_home_air_on_record_and_the_making_are_told(owner_client: Client) -> None:
    commission = make_commission(
        home_temp_c=21.0, home_rh_pct=45.0, top_shape="round", how_made="resin_pair"
    )
    text = page(owner_client, commission)
    assert "which keeps wood at 8.5 %" in text
    assert "slightly oval" in text
    assert "Resin hardly moves" in text


def test_bad_air_is_told_beside_its_field(owner_client: Client) -> None:
    commission = make_commission()
    address = reverse("catalogue:commission_movement", args=[commission.pk])
    response = owner_client.get(address, {"summer_rh": "160"})
    assert response.status_code == 422
    assert "between 0 and 100 %" in response.content.decode()
    assert 'value="160"' in response.content.decode()


def test_the_commission_links_to_it_and_only_the_owner_reads_it(
    owner_client: Client, worker_client: Client
) -> None:
    commission = make_commission()
    address = reverse("catalogue:commission_movement", args=[commission.pk])
    assert address in owner_client.get(commission.get_absolute_url()).content.decode()
    assert worker_client.get(address).status_code == 403
