"""How a slab will move: numbers, sentences, and the page that answers by its address."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inventory import movement
from inventory.models import Person, Slab
from inventory.movement import Air
from tests.factories import make_slab, make_species

pytestmark = pytest.mark.django_db
IN = 25.4
NBSP = "\N{NO-BREAK SPACE}"


def checked_slab(mc_pct: float | None = 12.0, width_mm: float = 30 * IN, **kwargs: Any) -> Slab:
    """30 in wide and 54 mm thick, unless told otherwise."""
    slab = make_slab([(0.0, width_mm), (1.0, width_mm)], **{"sawn": "flat", **kwargs})
    Slab.objects.filter(pk=slab.pk).update(mc_pct=mc_pct, checked_on="2026-03-01")
    slab.refresh_from_db()
    return slab


def page(client: Client, slab: Slab, **said: str) -> str:
    response = client.get(reverse("inventory:slab_movement", args=[slab.code]), said)
    assert response.status_code == 200
    return response.content.decode().replace(NBSP, " ")


def test_the_published_walnut_top_in_a_sentence() -> None:
    """30 in flat-sawn walnut from 12 to 7 %: 0.41 in narrower (Wood Handbook, Table 13-5)."""
    moves = movement.slab_movement(checked_slab(), 12, 7, system="imperial")
    said = movement.slab_words(moves, "imperial").replace(NBSP, " ")
    assert said == "Drying from 12.0 % to 7.0 % it gets ¹³⁄₃₂ in narrower and ¹⁄₃₂ in thinner."


def test_sawing_not_known_gives_both_ways_with_their_words() -> None:
    moves = movement.slab_movement(checked_slab(sawn=""), 12, 7, system="metric")
    said = movement.slab_words(moves, "metric").replace(NBSP, " ")
    assert [way.words for way in moves.ways] == ["flat-sawn", "quarter-sawn"]
    assert "from 7.2 mm to 10.4 mm narrower" in said
    assert "not on record" in movement.way_words("")
    assert "rift" in movement.way_words("rift")


def test_wood_that_takes_up_moisture_gets_wider() -> None:
    moves = movement.slab_movement(checked_slab(), 7, 12, system="metric")
    assert movement.slab_words(moves, "metric").startswith("Taking up moisture")
    assert "wider" in movement.slab_words(moves, "metric")


def test_a_species_without_figures_says_so() -> None:
    bare = make_species(cr=None, ct=None, shrink_radial_pct=None, shrink_tangential_pct=None)
    moves = movement.slab_movement(checked_slab(species=bare), 12, 7, system="metric")
    assert "not known" in movement.slab_words(moves, "metric")
    assert all(way.flat_mm is None for way in moves.ways)


def test_a_slab_whose_widths_were_not_taken_still_gets_thinner() -> None:
    slab = checked_slab()
    slab.mean_width_mm = slab.volume_mm3 = 0.0
    moves = movement.slab_movement(slab, 12, 7, system="metric")
    said = movement.slab_words(moves, "metric").replace(NBSP, " ")
    assert said == "Drying from 12.0 % to 7.0 % it gets 0.5 mm thinner."
    assert moves.masses is None


def test_mass_now_and_when_dry_differ_by_the_water() -> None:
    slab = checked_slab()
    masses = movement.slab_movement(slab, 30, 8, system="metric").masses
    assert masses is not None
    assert masses.then_kg == pytest.approx(masses.now_kg * 108 / 130)
    assert masses.water_kg == pytest.approx(masses.now_kg * 22 / 130)
    assert masses.flat_kg is not None
    assert masses.flat_kg[0] < masses.flat_kg[1] < masses.then_kg


def test_a_top_between_winter_and_summer() -> None:
    """Winter 20 °C and 30 %: EMC 6.2 %; summer 24 °C and 60 %: 10.8 % (Wood Handbook, Table 4-2,
    read between its rows). 700 mm × 0.00274 × 4.6 = 8.8 mm."""
    winter, summer = Air(20, 30), Air(24, 60)
    assert winter.emc_pct == pytest.approx(6.2, abs=0.1)
    assert summer.emc_pct == pytest.approx(10.9, abs=0.15)
    wood = movement.wood_of(make_species())
    top = movement.top_movement(700, 7, winter, summer, wood=wood, sawn="flat")
    (way,) = top.ways
    assert way.winter_mm is not None
    assert way.summer_mm is not None
    assert way.winter_mm < 0 < way.summer_mm
    by_hand = 700 * 0.00274 * (summer.emc_pct - winter.emc_pct)
    assert way.year_mm == pytest.approx(by_hand)
    assert way.edge_mm == pytest.approx(by_hand / 2)


def test_the_drawing_keeps_the_seasons_in_proportion() -> None:
    wood = movement.wood_of(make_species())
    top = movement.top_movement(700, 7, Air(20, 30), Air(24, 60), wood=wood, sawn="")
    winter, made, summer = movement.bars(top)
    assert winter.width < made.width < summer.width
    most = top.most
    assert most is not None
    assert most.winter_mm is not None
    assert most.summer_mm is not None
    drawn = (made.width - winter.width) / (summer.width - made.width)
    assert drawn == pytest.approx(-most.winter_mm / most.summer_mm)
    assert winter.x + winter.width / 2 == pytest.approx(50)


def test_the_page_answers_for_the_slab_as_it_is(worker_client: Client) -> None:
    text = page(worker_client, checked_slab())
    assert "Drying from 12.0 % to 7.0 % it gets ¹³⁄₃₂ in narrower" in text
    assert "As a finished top, through the year" in text
    assert "hold it fast along the middle only" in text


def test_the_address_holds_the_question(worker_client: Client) -> None:
    text = page(
        worker_client, checked_slab(), now="20", reach="air", temp="21 C", rh="45", hollow="6 mm"
    )
    assert "Drying from 20.0 % to 8.5 %" in text
    assert "comes off besides" in text
    assert 'value="6 mm"' in text


def test_the_link_means_the_same_to_somebody_with_other_units(
    worker_client: Client, worker: Person
) -> None:
    slab = checked_slab()
    address = reverse("inventory:slab_movement", args=[slab.code])
    link = worker_client.get(address, {"winter_temp": "68"}).context["form"].link
    worker.length_system = "metric"
    worker.save()
    form = worker_client.get(f"{address}?{link}").context["form"]
    assert form.cleaned_data["winter_temp"] == pytest.approx(20)
    assert form.cleaned_data["top_width"] == pytest.approx(30 * IN, abs=0.1)


def test_a_width_left_as_shown_stays_exact(worker_client: Client) -> None:
    slab = checked_slab(width_mm=703.0)
    address = reverse("inventory:slab_movement", args=[slab.code])
    shown = worker_client.get(address).context["form"]["top_width"].value()
    form = worker_client.get(address, {"top_width": shown}).context["form"]
    assert form.cleaned_data["top_width"] == 703.0


def test_a_slab_never_checked_is_reckoned_wet(worker_client: Client) -> None:
    text = page(worker_client, checked_slab(mc_pct=None))
    assert "Never checked: reckoned as wet wood" in text
    assert "Drying from 30.0 %" in text


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"now": "wet"}, "is not a number"),
        ({"now": "900"}, "between 0 and 200 %"),
        ({"to": ""}, "wanted to reckon with"),
        ({"reach": "air", "rh": "130"}, "between 0 and 100 %"),
        ({"winter_temp": "400"}, "Nobody lives in such air"),
        ({"hollow": "90 mm"}, "deeper than the slab is thick"),
        ({"top_width": "a yard"}, "is not a length"),
    ],
)
def test_what_cannot_be_reckoned_is_told_beside_its_field(
    worker_client: Client, said: dict[str, str], sentence: str
) -> None:
    address = reverse("inventory:slab_movement", args=[checked_slab().code])
    response = worker_client.get(address, said)
    assert response.status_code == 422
    text = response.content.decode()
    assert sentence in text
    assert all(f'value="{value}"' in text for value in said.values() if value != "air" and value)


def test_a_cupped_slab_asks_for_its_hollow(worker_client: Client) -> None:
    slab = checked_slab(faults=["cup"])
    assert "noted for cup" in page(worker_client, slab)
    assert "noted for cup" not in page(worker_client, slab, hollow="4 mm")


def test_a_client_reads_it_too_but_not_of_a_slab_that_is_gone(owner_client: Client) -> None:
    slab = checked_slab()
    session = owner_client.session
    session["client_view"] = True
    session.save()
    assert "narrower" in page(owner_client, slab)
    Slab.objects.filter(pk=slab.pk).update(standing="gone")
    address = reverse("inventory:slab_movement", args=[slab.code])
    assert owner_client.get(address).status_code == 404


def test_signed_out_it_leads_to_signing_in_and_it_only_shows(
    client: Client, worker_client: Client
) -> None:
    address = reverse("inventory:slab_movement", args=[checked_slab().code])
    assert client.get(address).status_code == 302
    assert worker_client.post(address).status_code == 405
