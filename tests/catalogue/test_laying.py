"""Laying a top by hand: figures for wherever it lies, keeping, plates, and whatever is amiss."""

from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from django.test import Client as Browser

from catalogue import laying
from catalogue.models import Commission, HowMade
from inventory import derive, holds
from inventory.models import LengthSystem, Person, Slab
from inventory.shapes import shapes_of
from tests.catalogue.bench import address, at, one, plates, text
from tests.catalogue.test_browse import with_state
from tests.catalogue.wood import NOW, TODAY, level, make_boule, make_checked
from tests.factories import make_commission, make_slab, make_species

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture(autouse=True)
def _metric(owner: Person) -> None:
    Person.objects.update(length_system=LengthSystem.METRIC)


def test_without_places_it_lies_where_it_fits_best(owner_client: Browser) -> None:
    commission, slab = one()
    answer = owner_client.get(address(commission, slab))
    assert answer.status_code == 200
    assert "It fits here, with 50 mm to spare on every side." in text(answer)
    (hand,) = [form.initial for _, form in answer.context["hands"]]
    assert (float(hand["x"]), float(hand["y"])) == pytest.approx((1000, 0), abs=1.0)


@pytest.mark.parametrize(
    ("place", "sentence"),
    [
        (at(1000, 20), "It fits here, with 30 mm to spare on every side."),
        (at(1000, 50), "It just fits here, with nothing to spare."),
        (at(1000, 80), "It reaches over the wood by 30 mm."),
        (at(850, 0), "It reaches over the wood by 50 mm."),
    ],
)
def test_wherever_it_lies_the_figures_are_true(
    owner_client: Browser, place: dict[str, float], sentence: str
) -> None:
    commission, slab = one()
    assert sentence in text(owner_client.get(address(commission, slab, **place)))


def test_a_fragment_is_only_the_figures(owner_client: Browser) -> None:
    commission, slab = one()
    answer = owner_client.get(
        address(commission, slab, **at(1000, 80)), headers={"HX-Request": "true"}
    )
    page = answer.content.decode()
    assert "<html" not in page
    assert 'data-fits="no"' in page
    assert 'data-top="M' in page


def test_inches_are_inches(owner_client: Browser) -> None:
    Person.objects.update(length_system=LengthSystem.IMPERIAL)
    commission, slab = one()
    # 1000 mm is 39.37 in; 2 in across leave 50 − 50.8 mm.
    answer = owner_client.get(address(commission, slab, **at(39.37, 2)))
    assert "It reaches over the wood by" in text(answer)


def test_hands_and_layouts_are_two_ways_of_saying_one_thing() -> None:
    species = make_species()
    boule = make_boule(2, width_mm=500, species=species)
    for how in HowMade:
        commission = make_commission(how_made=how, top_width_mm=800, use="resin")
        slabs = boule[: 1 if how in (HowMade.ONE_SLAB, HowMade.RESIN_SIDES) else 2]
        bench = laying.bench_of(commission, slabs, shapes_of(slabs))
        best = bench.best()
        again = bench.laid(bench.hands_of(best))
        for before, after in zip(best.placed, again.placed, strict=True):
            assert after.slab.symmetric_difference(before.slab).area < 1.0
        assert again.resin_mm2 == pytest.approx(best.resin_mm2, abs=1.0)
        assert again.fits == best.fits


def test_a_resin_pair_drawn_too_close_or_too_far_apart_is_said(owner_client: Browser) -> None:
    pair = [make_checked(7.0, widths=level(400), species=make_species())]
    pair.append(make_checked(7.0, widths=level(400), species=pair[0].species))
    commission = make_commission(how_made=HowMade.RESIN_PAIR, top_width_mm=900, use="resin")

    def said(apart: float) -> str:
        places = at(-1000, 200 + apart / 2, 0, 0) | at(-1000, -200 - apart / 2, 0, 1)
        return text(owner_client.get(address(commission, *pair, **places)))

    assert "The resin is 100 mm to 100 mm wide, 100 mm on average; 270 mm is allowed." in said(100)
    assert "less than 10 mm is hard to pour full" in said(4)
    assert "more than the 270 mm allowed" in said(300)
    # 1800 × 100 mm of resin at 40 mm: 7.2 l.
    assert "7.2 l" in said(100)


def test_spare_wood_and_wane_asked_are_told_from_wood_missed(owner_client: Browser) -> None:
    """A board 700 wide under a top of 600: 40 mm kept all round, then 10 of wane besides."""
    commission, slab = one(margin_mm=40.0)

    def said(y: float) -> str:
        return text(owner_client.get(address(commission, slab, **at(1000, y))))

    assert "It fits here, with 10 mm to spare on every side beyond the 40 mm asked." in said(0)
    assert "It lies 30 mm from the wood’s edge: 40 mm is asked all round." in said(20)
    assert "It reaches over the wood by 20 mm." in said(70)
    Commission.objects.filter(pk=commission.pk).update(margin_mm=0.0, wane_mm=30.0)
    assert "It fits here, with 20 mm to spare on every side." in said(0)
    assert "It reaches 10 mm into the wane that is taken off." in said(30)
    assert "It reaches over the wood by 20 mm." in said(70)


def test_a_book_laid_by_hand_says_what_each_half_has_to_spare(owner_client: Browser) -> None:
    """Halves of 400 under leaves of 500: the joint takes what overlaps it."""
    pair = make_boule(2, width_mm=500, species=make_species(), length_mm=2400)
    commission = make_commission(how_made=HowMade.BOOKMATCHED, top_width_mm=800)

    def said(lift: float, along: float = -1200.0) -> str:
        places = at(along, 250 + lift, 0, 0) | at(-1200, -250 - lift, 0, 1)
        return text(owner_client.get(address(commission, *pair, **places)))

    assert "Both halves fit here, with 100 mm of width to spare." in said(0)
    # Drawn 30 mm over the joint, 70 are left beyond the edge.
    assert "Both halves fit here, with 70 mm of width to spare." in said(-30)
    # Parted by 20 mm, 1800 × 20 mm are bare.
    assert "It does not lie wholly on wood: 0.04 m² of it is bare." in said(10)
    # Slid along by 350 of the 300 there are beyond each end.
    assert "is bare" in said(0, along=-850)
    Commission.objects.filter(pk=commission.pk).update(margin_mm=80.0)
    assert "with 20 mm of width to spare beyond the 80 mm asked" in said(0)
    assert "It lies 70 mm from the wood’s edge: 80 mm is asked all round." in said(-30)


def test_slabs_of_a_river_keep_the_spare_wood_asked_beyond_its_edge(owner_client: Browser) -> None:
    pair = [make_checked(7.0, widths=level(450), species=make_species(), length_mm=2400)]
    pair.append(make_checked(7.0, widths=level(450), species=pair[0].species, length_mm=2400))
    commission = make_commission(
        how_made=HowMade.RESIN_PAIR, top_width_mm=900, use="resin", margin_mm=40.0
    )

    def said(apart: float) -> str:
        places = at(-1200, 225 + apart / 2, 0, 0) | at(-1200, -225 - apart / 2, 0, 1)
        return text(owner_client.get(address(commission, *pair, **places)))

    # 450 − 450 + half of what they are apart lies beyond the top's edge.
    assert "270 mm is allowed." in said(100)
    assert "falls short of the top’s edge and the 40 mm asked beyond it by 10 mm" in said(60)


def test_a_live_edge_top_says_whether_it_is_short_or_narrow(owner_client: Browser) -> None:
    commission, slab = one(top_shape="live_edge", top_width_mm=600)
    said = text(owner_client.get(address(commission, slab, **at(1200, 0))))
    assert "The wood ends here: 100 mm of the top’s length is missing." in said
    Commission.objects.filter(pk=commission.pk).update(top_width_mm=740)
    said = text(owner_client.get(address(commission, slab, **at(1000, 0))))
    assert "It is too narrow here, by 20 mm on either side." in said


def test_a_round_says_what_each_form_takes(owner_client: Browser) -> None:
    pair = [make_checked(7.0, widths=level(450), species=make_species())]
    pair.append(make_checked(7.0, widths=level(450), species=pair[0].species))
    commission = make_commission(
        how_made=HowMade.RESIN_PAIR,
        top_shape="round",
        top_length_mm=1000,
        top_width_mm=1000,
        use="resin",
    )
    words = text(owner_client.get(address(commission, *pair)))
    assert "Square" in words
    assert "Octagon" in words
    assert "Ring" in words
    assert "maker’s data sheet" in words


@pytest.mark.parametrize(
    ("places", "sentence"),
    [
        ({"m0_x": "nan", "m0_y": 0, "m0_turn": 0}, "is not a number"),
        ({"m0_x": "1e999", "m0_y": 0, "m0_turn": 0}, "is not a number"),
        ({"m0_x": "99999999", "m0_y": 0, "m0_turn": 0}, "farther than any bench"),
        ({"m0_x": "", "m0_y": 0, "m0_turn": 0}, "Say where it lies"),
        ({"m0_x": 10, "m0_y": 0, "m0_turn": "4000"}, "farther than any bench"),
    ],
)
def test_places_that_are_none_are_said_beside_the_field(
    owner_client: Browser, places: dict[str, Any], sentence: str
) -> None:
    commission, slab = one()
    answer = owner_client.get(address(commission, slab, **places))
    assert answer.status_code == 422
    assert sentence in text(answer)
    assert f'value="{places["m0_x"]}"' in answer.content.decode()


def test_wrong_wood_is_refused_in_a_sentence(owner_client: Browser) -> None:
    commission, slab = one()
    assert "takes one slab" in text(owner_client.get(address(commission)))
    assert "takes one slab" in text(owner_client.get(address(commission, slab, make_slab())))
    gone = with_state(make_slab(), standing="gone", gone_how="sold")
    assert "is gone" in text(owner_client.get(address(commission, gone)))
    bare = make_slab()
    Slab.objects.filter(pk=bare.pk).update(widths=[])
    bare.refresh_from_db()
    derive.write(bare, TODAY, "shape")
    assert "has not been measured" in text(owner_client.get(address(commission, bare)))
    for typed, sentence in (("ZZZZZ", "One character is off"), ("K7", "has 5 characters")):
        answer = owner_client.get(f"/commissions/{commission.pk}/lay/?slab={typed}")
        assert answer.status_code == 422
        assert sentence in text(answer)
        assert f'value="{typed}"' in answer.content.decode()
    assert owner_client.get("/commissions/99999/lay/").status_code == 404


def test_wood_of_ones_own_choosing_is_laid_by_its_code(owner_client: Browser) -> None:
    """Typed as people type it, of any standing, whether it is a candidate or not."""
    commission, slab = one(top_width_mm=900)
    page = owner_client.get(commission.get_absolute_url())
    assert page.content.decode().count('name="slab" class="size"') == 1
    bench = owner_client.get(
        f"/commissions/{commission.pk}/lay/", {"slab": slab.display_code.lower()}
    )
    assert bench.status_code == 200
    assert "It reaches over the wood by 100 mm." in text(bench)
    Commission.objects.filter(pk=commission.pk).update(how_made=HowMade.RESIN_PAIR)
    page = owner_client.get(commission.get_absolute_url())
    assert page.content.decode().count('name="slab" class="size"') == 2
    answer = owner_client.get(f"/commissions/{commission.pk}/lay/", {"slab": [slab.code, ""]})
    assert "name two slabs" in text(answer)
    assert f'value="{slab.code}"' in answer.content.decode()


def test_wood_kept_for_another_is_said_not_to_be_free(owner_client: Browser, owner: Person) -> None:
    commission, slab = one()
    holds.place_hold(slab, label="x", until=TODAY, by=owner, now=NOW)
    assert "held for another piece" in text(owner_client.get(address(commission, slab)))


@pytest.mark.parametrize("typed", ["up", "1e400", "-99999999", "", "nan", "12;13", "9" * 400])
def test_figures_are_not_shown_for_a_place_that_cannot_be_read(
    owner_client: Browser, typed: str
) -> None:
    commission, slab = one()
    where = address(commission, slab, **(at(1000, 0) | {"m0_y": typed}))
    live = owner_client.get(where, headers={"HX-Request": "true"})
    assert live.status_code == 422
    assert 'data-problem="m0-y"' in live.content.decode()
    assert "Wood used" not in text(live)
    whole = owner_client.get(where)
    assert whole.status_code == 422
    assert "no figures are shown" in text(whole)


# --- plates ---


def test_plates_are_kept_and_their_ground_is_said(owner_client: Browser) -> None:
    commission, slab = one()
    row = {"kind": "plate", "x": 600, "y": 0, "length": 200, "width": 100}
    near = {"kind": "insert", "x": -890, "y": 0, "length": "", "width": 20}
    blank = {"kind": "plate", "x": "", "y": "", "length": "", "width": ""}
    answer = plates(owner_client, commission, slab, row, near, blank)
    assert answer.status_code == 303
    commission.refresh_from_db()
    assert len(commission.plates) == 2
    words = text(owner_client.get(address(commission, slab)))
    assert "Plate 1 lands in solid wood." in words
    assert "Insert 2 reaches over the top" in words or "Insert 2 comes too near an edge" in words
    assert "to the right the whole base lands in wood" in words


def test_keeping_plates_leaves_the_top_where_it_lay(owner_client: Browser) -> None:
    commission, slab = one()
    row = {"kind": "plate", "x": 600, "y": 0, "length": 200, "width": 100, "turn": 30}
    places = {"m0-x": "1010", "m0-y": "15", "m0-turn": "2"}
    data = {"plates": "yes", **{f"p0-{name}": value for name, value in row.items()}, **places}
    answer = owner_client.post(address(commission, slab), data)
    page = owner_client.get(answer["Location"])
    (_, form), *_ = page.context["hands"]
    assert (form.hand.x_mm, form.hand.y_mm, form.hand.turn_deg) == (1010, 15, 2)
    # The plate as it was typed, and again through what the page offers.
    commission.refresh_from_db()
    assert commission.plates[0]["turn_deg"] == 30
    assert page.context["plate_forms"][0].initial["turn"] == "30"
    # Refused plates leave the top there too.
    data["p0-turn"] = "900"
    page = owner_client.post(address(commission, slab), data)
    assert page.status_code == 422
    assert "A turn is between" in text(page)
    (_, form), *_ = page.context["hands"]
    assert form.hand.x_mm == 1010


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        ({"kind": "plate", "x": "left", "y": 0, "length": 1, "width": 1}, "is not a number"),
        ({"kind": "plate", "x": 0, "y": "", "length": 20, "width": 20}, "How far"),
        ({"kind": "plate", "x": 0, "y": 0, "length": "", "width": 20}, "How large"),
        ({"kind": "plate", "x": 0, "y": 0, "length": -5, "width": 20}, "How large"),
        ({"kind": "rail", "x": 0, "y": 0, "length": 5, "width": 20}, "to choose"),
    ],
)
def test_a_plate_that_is_none_is_said_beside_it(
    owner_client: Browser, row: dict[str, Any], sentence: str
) -> None:
    commission, slab = one()
    answer = plates(owner_client, commission, slab, row)
    assert answer.status_code == 422
    assert sentence in text(answer)
    commission.refresh_from_db()
    assert commission.plates == []
