"""One slab's page: its numbers, its neighbours, and who reads what."""

import re
from datetime import date
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import time_machine
from django.test import Client
from django.utils import timezone

from catalogue.cautions import cautions
from catalogue.sheet import sheet_of, weight
from catalogue.slab_drawing import silhouette, upright
from catalogue.slab_plan import PLACES, plan
from inventory import derive, holds, outlines
from inventory.models import Person, Reading, Slab
from inventory.photos.store import add_upload
from inventory.viewer import Viewer
from inventory.wood.shrinkage import flattened_mm
from tests.catalogue.test_browse import with_state
from tests.factories import (
    at,
    make_commission,
    make_log,
    make_parcel,
    make_place,
    make_slab,
    make_species,
)
from tests.outlines import add_picture, trace
from tests.photos.pictures import grained, jpeg, plain

EVEN = [(0.0, 609.6), (1.0, 609.6)]


def words_of(client: Client, slab: Slab) -> str:
    """The page's text with tags, entities and runs of space taken out."""
    page = client.get(slab.get_absolute_url())
    assert page.status_code == 200
    text = re.sub(r"<[^>]+>", " ", page.content.decode().replace("&nbsp;", " "))
    return " ".join(text.replace("\N{NO-BREAK SPACE}", " ").split())


def two_inch_slab(**kwargs: Any) -> Slab:
    """8 ft × 24 in × 2 in: 8 × 24 × 2 / 12 = 32 board feet."""
    return make_slab(widths=EVEN, length_mm=2438.4, thickness_mm=50.8, **kwargs)


def test_the_page_shows_true_sizes_and_volumes(owner_client: Client) -> None:
    # T(in) × W(in) × L(ft) / 12; 1 m³ = 423.776 board feet (both common practice).
    text = words_of(owner_client, two_inch_slab(asking_price=Decimal("640.00")))
    for words in (
        "Length 8 ft",
        "Width, mean 24 in",
        "Thickness 2 in",
        "Board feet 32.0 bf",
        "Volume 0.076 m³",
        "Trade tally 32 bf",
        "$640.00 asked for it",
    ):
        assert words in text, words


def test_flattening_leaves_six_to_twelve_millimetres_less() -> None:
    # 3 to 6 mm a face, both faces (common practice).
    assert flattened_mm(54.0) == (42.0, 48.0)
    assert flattened_mm(6.0) is None


def test_mass_is_reckoned_at_the_last_moisture(owner_client: Client) -> None:
    # Black walnut at 12 %: specific gravity 0.55 (Wood Handbook FPL-GTR-190, Table 5-3a, from
    # memory), so 0.55 × 1000 × 1.12 = 616 kg/m³; 0.0755 m³ of it is 46.5 kg.
    slab = with_state(two_inch_slab(), mc_pct=12.0, checked_on=date(2026, 5, 1))
    found = weight(slab, "metric")
    assert found.mass_kg == pytest.approx(46.5, rel=0.03)
    assert found.is_measured
    assert "lift it with two people" in words_of(owner_client, slab)


def test_an_unchecked_slab_is_reckoned_wet_and_says_so(owner_client: Client) -> None:
    slab = two_inch_slab()
    dry = weight(with_state(two_inch_slab(), mc_pct=8.0), "metric")
    wet = weight(slab, "metric")
    assert wet.mass_kg is not None
    assert dry.mass_kg is not None
    assert wet.mass_kg > dry.mass_kg
    assert "reckoned for wet wood" in words_of(owner_client, slab)


def test_a_species_of_unknown_density_has_no_mass_and_no_caution(owner_client: Client) -> None:
    slab = two_inch_slab(species=make_species(sg_green=None))
    assert "Mass now not known" in words_of(owner_client, slab)


def test_a_slab_without_widths_has_a_page_all_the_same(owner_client: Client) -> None:
    slab = make_slab()
    Slab.objects.filter(pk=slab.pk).update(
        widths=[], mean_width_mm=0, least_width_mm=0, greatest_width_mm=0, volume_mm3=0
    )
    text = words_of(owner_client, slab)
    assert "Width not taken yet" in text
    assert "No picture has been taken yet" in text


def test_moisture_is_said_in_plain_words_to_everybody(owner: Person) -> None:
    slab = with_state(make_slab(), condition="resting", mc_pct=7.4, checked_on=date(2026, 5, 1))
    sheet = sheet_of(slab, Viewer(owner, client_view=True), date(2026, 5, 2))
    assert sheet.moisture_words.startswith("Dry enough")
    assert sheet.judged is None
    assert sheet_of(slab, Viewer(owner), date(2026, 5, 2)).judged is not None


def test_neighbours_of_the_log_stand_in_sawn_order(owner_client: Client) -> None:
    log = make_log()
    slabs = [make_slab(log=log, number_in_log=number) for number in (3, 1, 2)]
    make_slab(log=make_log(), number_in_log=1)
    page = owner_client.get(slabs[0].get_absolute_url())
    found = [card.slab.number_in_log for card in page.context["sheet"].neighbours]
    assert found == [1, 2, 3]
    assert page.content.decode().count('aria-current="true"') == 1


def test_cost_and_supplier_are_for_those_who_see_cost(
    owner_client: Client, buyer_client: Client, worker_client: Client
) -> None:
    parcel = make_parcel(name="Spring load", supplier="Hollow Mill")
    slab = with_state(make_slab(parcel=parcel, house_note="pith split"), cost=Decimal("123.45"))
    for client in (owner_client, buyer_client):
        text = words_of(client, slab)
        assert "Landed cost $123.45" in text
        assert "Supplier Hollow Mill" in text
    text = words_of(worker_client, slab)
    assert "pith split" in text
    for secret in ("123.45", "Hollow Mill", "Spring load"):
        assert secret not in text


def test_a_parcel_is_named_through_the_log_too(owner_client: Client) -> None:
    log = make_log(parcel=make_parcel(supplier="Hollow Mill"))
    assert "Supplier Hollow Mill" in words_of(owner_client, make_slab(log=log))


@time_machine.travel(at(2026, 5, 4), tick=False)
def test_staff_read_what_it_is_held_for_and_until_when(
    owner: Person, owner_client: Client, worker_client: Client
) -> None:
    slab = make_slab(place=make_place(name="Long shed"))
    until = date(2026, 5, 20)
    holds.place_hold(slab, label="Berg: table", until=until, by=owner, now=at(2026, 5, 4))
    for client in (owner_client, worker_client):
        text = words_of(client, slab)
        assert "Held for Berg: table Last day 20 May" in text
        assert "Place Long shed" in text


def test_actions_are_those_a_role_may_do(
    owner_client: Client, worker_client: Client, buyer_client: Client
) -> None:
    slab = make_slab()

    def actions(client: Client) -> set[str]:
        page = client.get(slab.get_absolute_url())
        return {action.words for action in page.context["sheet"].actions}

    assert {"Check moisture", "Measure", "Price", "Mark as gone"} <= actions(owner_client)
    assert "Price" not in actions(worker_client)
    assert "Check moisture" not in actions(buyer_client)
    assert "Price" in actions(buyer_client)


@time_machine.travel(at(2026, 5, 4), tick=False)
def test_a_free_slab_is_held_for_a_commission_from_its_page(owner_client: Client) -> None:
    slab, piece = make_slab(), make_commission(title="Long table")
    page = owner_client.get(slab.get_absolute_url()).content.decode()
    assert f'formaction="/commissions/{piece.pk}/hold/"' in page
    assert 'value="2026-05-18"' in page
    owner_client.post(f"/commissions/{piece.pk}/hold/", {"slab": slab.code, "until": "2026-05-18"})
    page = owner_client.get(slab.get_absolute_url()).content.decode()
    assert "formaction" not in page
    assert f'<a href="/commissions/{piece.pk}/">' in page


def test_who_may_not_hold_is_offered_no_commission(
    worker_client: Client, buyer_client: Client
) -> None:
    slab = make_slab()
    make_commission(title="Long table")
    for client in (worker_client, buyer_client):
        assert "Long table" not in client.get(slab.get_absolute_url()).content.decode()


def test_pictures_lead_to_their_largest_file(owner: Person, owner_client: Client) -> None:
    slab = make_slab()
    photo = add_upload(slab, BytesIO(jpeg(plain(900, 400))), "face.jpg", "face_wet", owner)
    page = owner_client.get(slab.get_absolute_url()).content.decode()
    assert f'href="/photos/{photo.pk}/zoom/" data-zoom' in page
    assert 'width="900" height="400"' in page
    assert "Face, wetted" in page
    grid = owner_client.get("/slabs/").content.decode()
    assert f'src="/photos/{photo.pk}/grid/" width="900" height="400"' in grid


def test_a_code_is_taken_as_people_type_it(owner_client: Client) -> None:
    slab = make_slab()
    assert owner_client.get(f"/slabs/{slab.display_code.lower()}/").status_code == 200


@pytest.mark.parametrize(
    ("code", "sentence"),
    [
        ("K7M-40", "there is no zero on our tags"),
        ("22222", "One character is off: look at the tag again."),
        ("22223", "No slab here bears the code 222-23."),
        ("K7", "A code has 5 characters"),
    ],
)
def test_a_wrong_code_is_answered_with_a_sentence(
    owner_client: Client, code: str, sentence: str
) -> None:
    page = owner_client.get(f"/slabs/{code}/")
    assert page.status_code == 404
    assert sentence in page.content.decode()


def test_the_page_is_for_signed_in_people_and_for_looking(
    client: Client, owner_client: Client
) -> None:
    slab = make_slab()
    assert client.get(slab.get_absolute_url()).status_code == 302
    assert owner_client.post(slab.get_absolute_url()).status_code == 405


def test_cautions_come_from_the_species_note() -> None:
    def said(note: str, **kwargs: Any) -> list[str]:
        return cautions(make_slab_unsaved(note, **kwargs))

    rosewood = "CITES Appendix II (genus, 2017; memory). Dust: strong irritant and sensitiser."
    assert said(rosewood) == [
        "CITES Appendix II (genus, 2017): keep its papers with it, and ask before it crosses a "
        "border.",
        "Dust: strong irritant and sensitiser. Draw off the dust, wear a mask, and cover your "
        "skin.",
    ]
    spalted = "Spalted maple dust: sensitiser."
    assert said(spalted) == []
    assert len(said(spalted, figures=["spalt"])) == 1
    assert said("") == []


def make_slab_unsaved(note: str, figures: tuple[str, ...] | list[str] = ()) -> Slab:
    from inventory.models import Species

    return Slab(species=Species(common_name="Any", caution=note), figures=list(figures))


@pytest.mark.django_db
def test_drawings_are_to_scale() -> None:
    slab = two_inch_slab()
    drawn = plan(slab, "imperial")
    assert drawn is not None
    corners = {"0 304.8", "2438.4 304.8", "2438.4 -304.8", "0 -304.8"}
    assert set(drawn.path.strip("MZ").split("L")) == corners
    assert drawn.bar.path.startswith("M0 ")
    assert "H304.8M304.8" in drawn.bar.path
    assert drawn.bar.words == "1 ft"
    assert [(mark.letter, mark.width_mm) for mark in drawn.marks] == [("A", 609.6), ("B", 609.6)]
    assert silhouette(Slab(length_mm=900.0, widths=[])) is None


@pytest.mark.django_db
def test_slabs_side_by_side_share_one_frame() -> None:
    short, long = make_slab(length_mm=1000.0), make_slab(length_mm=3000.0)
    drawn = upright([short, long], "metric")
    assert drawn[short.pk].view_box == drawn[long.pk].view_box
    assert drawn[long.pk].lines == [0.0, -500.0, -1000.0, -1500.0, -2000.0, -2500.0, -3000.0]
    assert "-1000" in drawn[short.pk].path


@pytest.mark.django_db
def test_a_traced_outline_is_drawn_over_its_picture_with_widths_and_voids(
    settings: Any, tmp_path: Path, owner_client: Client
) -> None:
    settings.MEDIA_ROOT = tmp_path
    slab = make_slab(faults=["crack"])
    photo = add_picture(slab, grained(640, 400))
    # 2 m × 0.9 m at 5 mm a pixel, tapering to 0.6 m at its far end.
    ring = np.array([(100.0, 100), (500, 130), (500, 250), (100, 280)])
    outline = trace(slab, photo, ring, 5.0)
    derive.write(slab, timezone.localdate(), "shape")
    drawn = plan(slab, "metric")
    assert drawn is not None
    assert drawn.picture is not None
    assert not drawn.is_approximate
    assert [mark.letter for mark in drawn.marks] == list("ABCDE")
    # A straight taper: 2 m along, from 0.9 to 0.6.
    assert [mark.width_mm for mark in drawn.marks] == pytest.approx(
        [900 - 300 * along for along in PLACES], abs=2.0
    )
    assert drawn.notes == ["Faults noted: crack."]
    page = owner_client.get(slab.get_absolute_url()).content.decode()
    assert f"/outlines/{outline.pk}/picture/page/" in page
    assert "Its outline, to scale" in page


@pytest.mark.django_db
def test_the_house_sees_where_the_edge_hardly_showed_and_a_client_does_not(
    settings: Any, tmp_path: Path, owner_client: Client
) -> None:
    settings.MEDIA_ROOT = tmp_path
    slab = make_slab()
    photo = add_picture(slab, grained(640, 400))
    # 2 m × 0.75 m; of its upper edge half a metre hardly showed.
    ring = np.array([(100.0, 100), (500, 100), (500, 250), (100, 250)])
    weak = [(x, 100.0) for x in np.arange(200.0, 300.1, 0.8)]
    trace(slab, photo, ring, 5.0, weak_px=weak)
    drawn = plan(slab, "metric", traced=outlines.current(slab)["upper"])
    assert drawn is not None
    # Exact: 500 mm, and 4 mm at either end; drawn with y down, half of 750 mm above the middle.
    assert drawn.doubtful.startswith(("M496", "M1004"))
    assert {part.split(" ")[1] for part in drawn.doubtful.strip("M").split("L")} == {"-375.0"}
    assert drawn.notes[-1].startswith("Along 508\N{NO-BREAK SPACE}mm (dotted band) the edge hardly")
    assert plan(slab, "metric").doubtful == ""  # type: ignore[union-attr]
    assert "plan-doubtful" in owner_client.get(slab.get_absolute_url()).content.decode()
    owner_client.post("/client-view/", {"on": "yes", "next": "/slabs/"})
    shown = owner_client.get(slab.get_absolute_url()).content.decode()
    assert "plan-edge" in shown
    assert "plan-doubtful" not in shown


@pytest.mark.django_db
def test_readings_lie_where_they_were_taken() -> None:
    slab = make_slab(length_mm=2000.0, widths=[(0.0, 400.0), (1.0, 800.0)])
    readings = [
        Reading(along=0.5, across=0.0, corrected_pct=9.0, zone="shell"),
        Reading(along=0.5, across=1.0, corrected_pct=9.0, zone="core"),
        Reading(along=0.25, across=0.5, corrected_pct=8.0, zone="core"),
        Reading(along=0.25, across=0.5, corrected_pct=8.4, zone="shell"),
        Reading(along=None, across=None, corrected_pct=8.4, zone="shell"),
    ]
    drawn = plan(slab, "metric", readings)
    assert drawn is not None
    # Half along it is 600 wide; the near edge (across 0) lies below, and y runs down.
    assert [(mark.x, mark.y) for mark in drawn.readings[:2]] == [(1000.0, 300.0), (1000.0, -300.0)]
    one, other = drawn.readings[2:]
    assert (one.x, one.y) == (500.0, 0.0)
    assert other.y > one.y + one.size
    assert [mark.shape for mark in drawn.readings[:2]] == ["square", "disc"]
