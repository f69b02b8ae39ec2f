"""Layouts kept with a commission: cards, what has changed since, two screens, taking back."""

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
import time_machine
from django.db import connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from catalogue import laid_tops, laying, promises
from catalogue.laying import Hand
from catalogue.layout import single
from catalogue.layout.placed import Placed
from catalogue.layout.profiles import Place
from catalogue.models import Commission, HowMade, LaidTop
from inventory import derive, holds
from inventory.models import LengthSystem, Person
from inventory.shapes import shapes_of
from tests.catalogue.bench import address, at, keep, one, plates, text
from tests.catalogue.test_browse import with_state
from tests.catalogue.wood import NOW, TODAY, level, make_checked
from tests.factories import make_commission, make_species

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture(autouse=True)
def _metric(owner: Person) -> None:
    Person.objects.update(length_system=LengthSystem.METRIC)


PLATE = {"kind": "plate", "x_mm": 0.0, "y_mm": 300.0, "length_mm": 90.0, "width_mm": 90.0}


def test_a_layout_is_kept_and_shown_with_the_commission(owner_client: Browser) -> None:
    commission, slab = one()
    answer = keep(owner_client, commission, slab, **at(1000, 20), note="Knot at the window end")
    assert (answer.status_code, answer["Location"]) == (303, commission.get_absolute_url())
    kept = LaidTop.objects.get()
    assert list(kept.slabs.all()) == [slab]
    assert kept.figures["margin_mm"] == pytest.approx(30.0, abs=0.1)
    assert kept.placed[0]["code"] == slab.code
    page = owner_client.get(commission.get_absolute_url())
    assert "Knot at the window end" in text(page)
    (shown,) = page.context["page"].laid_tops
    assert shown.drawing is not None
    again = owner_client.get(f"/commissions/{commission.pk}/lay/{shown.query}")
    assert "It fits here, with 30 mm to spare" in text(again)


@pytest.mark.parametrize("system", [LengthSystem.METRIC, LengthSystem.IMPERIAL])
def test_what_fits_flush_fits_when_it_is_kept(owner_client: Browser, system: str) -> None:
    """The page's rounded numbers do not turn a fit into a shortfall of a hundredth."""
    Person.objects.update(length_system=system)
    species = make_species()
    two = [
        make_checked(7.0, widths=level(425.74), length_mm=2103, species=species) for _ in range(2)
    ]
    river = make_commission(how_made=HowMade.RESIN_PAIR, top_width_mm=1000, use="resin")
    page = owner_client.get(address(river, *two))
    assert page.context["found"].fits
    shown = {
        f"{form.prefix}-{name}": form.initial[name] or ""
        for _, form in page.context["hands"]
        for name in ("x", "y", "turn", "flip")
    }
    owner_client.post(address(river, *two), shown)
    assert LaidTop.objects.get().figures["fits"]
    # One slab drawn along by the page's own step is flush as before.
    shown["m0-x"] = str(float(shown["m0-x"]) + (5 if system == LengthSystem.METRIC else 0.25))
    moved = owner_client.get(address(river, *two), shown | {"slab": [one.code for one in two]})
    assert moved.context["found"].fits


def test_laying_the_same_wood_again_supersedes_and_keeps_the_old(owner_client: Browser) -> None:
    commission, slab = one()
    keep(owner_client, commission, slab, **at(1000, 20))
    keep(owner_client, commission, slab, **at(1000, -10))
    first, second = LaidTop.objects.order_by("pk")
    assert second.supersedes == first
    assert list(LaidTop.objects.current()) == [second]


def test_a_layout_says_when_its_top_or_its_slab_has_changed(owner_client: Browser) -> None:
    commission, slab = one()
    keep(owner_client, commission, slab, **at(1000, 20))
    Commission.objects.filter(pk=commission.pk).update(top_width_mm=500)
    page = owner_client.get(commission.get_absolute_url())
    assert "The top has been changed since" in text(page)
    Commission.objects.filter(pk=commission.pk).update(top_width_mm=600)
    assert "since it was laid" not in text(owner_client.get(commission.get_absolute_url()))
    slab.length_mm = 1950
    slab.save(update_fields=["length_mm"])
    derive.write(slab, TODAY, "shape")
    page = owner_client.get(commission.get_absolute_url())
    assert "has been measured anew since" in text(page)


def card(client: Browser, commission: Commission) -> Any:
    (only,) = client.get(commission.get_absolute_url()).context["page"].laid_tops
    return only


def test_a_card_lists_every_figure_kept_with_the_layout(owner_client: Browser) -> None:
    species = make_species()
    pair = [make_checked(7.0, widths=level(400), length_mm=1800, species=species) for _ in range(2)]
    river = make_commission(
        how_made=HowMade.RESIN_PAIR, top_width_mm=900, use="resin", plates=[PLATE]
    )
    places = at(-900, 250, 0, 0) | at(-900, -250, 0, 1)
    keep(owner_client, river, *pair, **places)
    kept, shown = LaidTop.objects.get(), card(owner_client, river)
    said = {figure.words: figure.shown.replace("\xa0", " ") for figure in shown.figures}
    # 1800 × 100 between 2 × 1800 × 400, 40 thick: 7.2 l; 1.44 m² of wood.
    assert said["Resin wide"] == "100 mm to 100 mm, 100 mm on average"
    assert said["Wood used"] == "1.44 m²"
    assert said["Resin in the top"] == "0.18 m², 7.2 l"
    assert said["Its base"] == "1 plate or insert"
    assert {"Left over", "Finished top"} < set(said)
    assert len(said) == len(shown.figures)
    # Nothing that is kept goes unsaid: places and what was asked are the drawing and the piece.
    told = {"gap_mm", "wood_mm2", "resin_mm2", "resin_mm3", "left_mm3", "mass_kg"}
    aside = {"fits", "margin_mm", "hands"} | set(laid_tops.asked_of(river))
    assert set(kept.figures) == told | aside


def test_a_changed_top_is_laid_anew_from_where_it_was_in_one_press(owner_client: Browser) -> None:
    commission, slab = one()
    keep(owner_client, commission, slab, **at(1000, 20))
    Commission.objects.filter(pk=commission.pk).update(top_width_mm=680)
    shown = card(owner_client, commission)
    assert shown.changed == "The top has been changed since it was laid."
    # 680 of 700 laid 20 aside: over by 10.
    assert "reaches over the wood by 10" in shown.now
    bench = owner_client.get(f"/commissions/{commission.pk}/lay/{shown.query}")
    assert "The top has been changed since it was laid. It lies here where it lay" in text(bench)
    (_, form), *_ = bench.context["hands"]
    assert (float(form.initial["x"]), float(form.initial["y"])) == (1000.0, 20.0)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"finished_thickness_mm": 30.0}, "The thickness, spare wood or wane asked has"),
        ({"margin_mm": 10.0}, "The thickness, spare wood or wane asked has"),
        ({"wane_mm": 10.0}, "The thickness, spare wood or wane asked has"),
        ({"how_made": HowMade.RESIN_SIDES}, "The top is made another way"),
    ],
)
def test_whatever_is_asked_otherwise_is_said_of_a_layout_kept(
    owner_client: Browser, changed: dict[str, Any], sentence: str
) -> None:
    commission, slab = one()
    keep(owner_client, commission, slab, **at(1000, 20, 1.5))
    assert card(owner_client, commission).changed == ""
    Commission.objects.filter(pk=commission.pk).update(**changed)
    assert card(owner_client, commission).changed.startswith(sentence)


def test_a_slab_laid_under_one_way_of_making_lies_there_under_another() -> None:
    """One slab and resin beside it are moved by different hands; the wood is the same."""
    commission, slab = one()
    bench = laying.bench_of(commission, [slab], shapes_of([slab]))
    hands = [Hand(1010.0, 15.0, 2.0)]
    kept = LaidTop(
        how_made=HowMade.ONE_SLAB,
        placed=[{"code": slab.code}],
        figures={"hands": [vars(hand) for hand in hands]},
    )
    commission.how_made = HowMade.RESIN_SIDES
    moved = laid_tops.hands_for(kept, bench)
    assert moved is not None
    before = single.placed_at(bench.shapes[0], Place(1010.0, 15.0, 2.0, 0.0))
    after = Placed(bench.shapes[0], moved[0].x_mm, moved[0].y_mm, moved[0].turn_deg)
    assert after.slab.symmetric_difference(before.slab).area < 1.0
    kept.how_made, kept.figures = HowMade.RESIN_SIDES, {"hands": [vars(moved[0])]}
    commission.how_made = HowMade.ONE_SLAB
    (again,) = laid_tops.hands_for(kept, bench) or []
    assert (again.x_mm, again.y_mm, again.turn_deg) == pytest.approx((1010.0, 15.0, 2.0))
    # With its other face up the same place is found by its mirror image.
    flipped = Placed(bench.shapes[0], 30.0, -20.0, 3.0, is_flipped=True)
    hand = laying.top_on(flipped)
    there = flipped.carry(np.array([[hand.x_mm, hand.y_mm]]))
    assert there == pytest.approx(np.zeros((1, 2)), abs=1e-6)
    commission.how_made = HowMade.BOOKMATCHED
    assert laid_tops.hands_for(kept, bench) is not None
    pair = laying.Bench(commission, (slab, slab), bench.shapes * 2)
    assert laid_tops.hands_for(kept, pair) is None


def test_slabs_named_the_other_way_round_lie_where_they_lay(owner_client: Browser) -> None:
    species = make_species()
    pair = [make_checked(7.0, widths=level(400), species=species) for _ in range(2)]
    river = make_commission(how_made=HowMade.RESIN_PAIR, top_width_mm=900, use="resin")
    keep(owner_client, river, *pair, **(at(-1000, 250, 0, 0) | at(-1000, -250, 0, 1)))
    kept = LaidTop.objects.get()
    page = owner_client.get(address(river, pair[1], pair[0], kept=kept.pk))
    ys = [float(form.initial["y"]) for _, form in page.context["hands"]]
    assert ys == [-250.0, 250.0]


def test_a_layout_of_a_slab_that_is_gone_says_so_and_is_not_offered(owner_client: Browser) -> None:
    commission, slab = one()
    keep(owner_client, commission, slab, **at(1000, 20))
    with_state(slab, standing="gone", gone_how="sold")
    shown = card(owner_client, commission)
    assert shown.changed == f"{slab.display_code} is gone from the yard."
    assert shown.query == ""
    words = text(owner_client.get(commission.get_absolute_url()))
    assert "Lay it again" not in words
    assert "Lay it anew" not in words


def test_a_layout_on_wood_promised_elsewhere_says_so(owner_client: Browser, owner: Person) -> None:
    commission, slab = one()
    keep(owner_client, commission, slab, **at(1000, 20))
    holds.place_hold(slab, label="x", until=TODAY, by=owner, now=NOW)
    assert "is held for another piece." in text(owner_client.get(commission.get_absolute_url()))


# --- two screens ---


def test_a_top_changed_while_it_was_laid_is_looked_at_again_before_it_is_kept(
    owner_client: Browser,
) -> None:
    commission, slab = one()
    seen = owner_client.get(address(commission, slab)).context["seen"]
    Commission.objects.filter(pk=commission.pk).update(top_width_mm=500)
    sent = at(1000, 20) | {"seen": seen, "note": "By the window"}
    answer = keep(owner_client, commission, slab, **sent)
    assert answer.status_code == 422
    assert "has been changed on another screen" in text(answer)
    assert "By the window" in answer.content.decode()
    assert not LaidTop.objects.exists()
    (_, form), *_ = answer.context["hands"]
    assert form.hand.y_mm == 20
    # Looked at, it is kept.
    sent["seen"] = answer.context["seen"]
    assert keep(owner_client, commission, slab, **sent).status_code == 303


def test_an_outline_traced_anew_between_the_look_and_the_keeping_is_said(
    owner_client: Browser,
) -> None:
    commission, slab = one()
    seen = owner_client.get(address(commission, slab)).context["seen"]
    slab.widths = [[0.0, 640.0], [1.0, 690.0]]
    slab.save()
    derive.write(slab, TODAY, "shape")
    answer = keep(owner_client, commission, slab, **at(1000, 0), seen=seen)
    assert answer.status_code == 422
    assert not LaidTop.objects.exists()
    live = owner_client.get(
        address(commission, slab, **at(1000, 0), seen=seen), headers={"HX-Request": "true"}
    )
    assert live.status_code == 422
    assert "open this page anew" in text(live)
    assert "data-outcome" not in live.content.decode()


def test_a_base_changed_on_another_screen_is_not_overwritten_unseen(owner_client: Browser) -> None:
    commission, slab = one()
    seen = owner_client.get(address(commission, slab)).context["seen_plates"]
    row = {"kind": "plate", "x": 0, "y": 0, "length": 200, "width": 100, "turn": ""}
    plates(owner_client, commission, slab, row)
    data = {"plates": "yes", "seen_plates": seen}
    data |= {f"p0-{name}": value for name, value in (row | {"x": 300}).items()}
    answer = owner_client.post(address(commission, slab), data)
    assert answer.status_code == 422
    assert "The base has been changed on another screen" in text(answer)
    assert 'value="300"' in answer.content.decode()
    commission.refresh_from_db()
    assert commission.plates[0]["x_mm"] == 0
    data["seen_plates"] = answer.context["seen_plates"]
    assert owner_client.post(address(commission, slab), data).status_code == 303


def test_a_layout_is_taken_back_once_and_put_back(owner_client: Browser, owner: Person) -> None:
    commission, slab = one()
    keep(owner_client, commission, slab, **at(1000, 20), note="Knot at the window end")
    kept = LaidTop.objects.get()
    back = reverse("catalogue:layout_take_back", args=[commission.pk, kept.pk])
    assert "The layout is taken back." in text(owner_client.post(back, follow=True))
    page = owner_client.get(commission.get_absolute_url())
    assert page.context["page"].laid_tops == []
    assert "Taken back by" in text(page)
    # A second tab's press changes nothing.
    assert "taken back before. Nothing was changed." in text(owner_client.post(back, follow=True))
    (withdrawn,) = page.context["page"].taken_back
    put = reverse("catalogue:layout_put_back", args=[commission.pk, withdrawn.row.pk])
    assert "The layout is back." in text(owner_client.post(put, follow=True))
    assert "is not taken back. Nothing was changed." in text(owner_client.post(put, follow=True))
    again = card(owner_client, commission).kept
    assert (again.note, again.placed, again.figures) == (kept.note, kept.placed, kept.figures)
    assert list(again.slabs.all()) == [slab]
    assert LaidTop.objects.count() == 3


def test_what_was_taken_back_does_not_come_back_over_a_newer_layout(owner_client: Browser) -> None:
    commission, slab = one()
    keep(owner_client, commission, slab, **at(1000, 20))
    kept = LaidTop.objects.get()
    owner_client.post(reverse("catalogue:layout_take_back", args=[commission.pk, kept.pk]))
    withdrawn = LaidTop.objects.get(supersedes=kept)
    keep(owner_client, commission, slab, **at(1000, -10))
    page = owner_client.get(commission.get_absolute_url())
    assert page.context["page"].taken_back == []
    put = reverse("catalogue:layout_put_back", args=[commission.pk, withdrawn.pk])
    assert "has been laid again since" in text(owner_client.post(put, follow=True))
    assert LaidTop.objects.current().count() == 1


def test_another_pieces_layout_is_not_found(owner_client: Browser) -> None:
    commission, slab = one()
    keep(owner_client, commission, slab, **at(1000, 20))
    other, kept = make_commission(), LaidTop.objects.get()
    back = reverse("catalogue:layout_take_back", args=[other.pk, kept.pk])
    assert owner_client.post(back).status_code == 404
    assert LaidTop.objects.count() == 1


def test_bad_places_are_not_kept_and_the_note_stays(owner_client: Browser) -> None:
    commission, slab = one()
    answer = keep(owner_client, commission, slab, **(at(1000, 0) | {"m0_y": "up"}), note="By hand")
    assert answer.status_code == 422
    assert "By hand" in answer.content.decode()
    assert not LaidTop.objects.exists()


def test_a_kept_layout_of_another_commission_is_not_opened(owner_client: Browser) -> None:
    commission, slab = one()
    other = make_commission(title="Other")
    keep(owner_client, commission, slab, **at(1000, 20))
    kept = LaidTop.objects.get()
    answer = owner_client.get(f"{address(other, slab)}&kept={kept.pk}")
    assert "with 50 mm to spare" in text(answer)


def test_the_pages_queries_do_not_grow_with_layouts_kept(owner_client: Browser) -> None:
    commission = make_commission()

    def grow(times: int) -> None:
        for _ in range(times):
            slab = make_checked(7.0, widths=level(700), length_mm=2000)
            keep(owner_client, commission, slab, **at(1000, 0))

    def count() -> int:
        with CaptureQueriesContext(connection) as queries:
            owner_client.get(commission.get_absolute_url())
        return len(queries)

    grow(2)
    few = count()
    grow(6)
    assert count() == few


def test_wood_promised_is_drawn_as_it_was_laid_by_hand(
    owner_client: Browser, owner: Person
) -> None:
    commission, slab = one()
    keep(owner_client, commission, slab, **at(1000, 40))
    promises.hold(commission, [slab], until=TODAY, by=owner, now=NOW)
    page = owner_client.get(commission.get_absolute_url())
    shown = page.context["page"]
    (laid,) = shown.laid_tops
    assert shown.promised_drawing.slabs == laid.drawing.slabs
    # Each drawing on the page has pictures clipped by its own paths.
    assert shown.promised_drawing.key != laid.drawing.key
    # As soon as the layout is out of date, the best fit is drawn.
    Commission.objects.filter(pk=commission.pk).update(top_width_mm=500)
    shown = owner_client.get(commission.get_absolute_url()).context["page"]
    (laid,) = shown.laid_tops
    assert shown.promised_drawing.slabs != laid.drawing.slabs
