"""The owner keeps clients and commissions, and promises wood to them."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from catalogue import commission_page, promises
from catalogue.models import Client, Commission, CommissionHold, HowMade, Stage, TopShape
from inventory import holds
from inventory.models import Hold, HoldKind, Person, Slab
from tests.catalogue.wood import NOW, TODAY, level, make_boule, make_checked
from tests.conftest import client_for
from tests.factories import make_client, make_commission, make_person, make_slab, make_species

UNTIL = TODAY + timedelta(days=14)
pytestmark = pytest.mark.django_db

NEW: dict[str, Any] = {
    "title": "Long table",
    "new_client": "Aino Lehto",
    "top_shape": "rectangle",
    "top_length_mm": "1.8 m",
    "top_width_mm": "60 cm",
    "finished_thickness_mm": "40 mm",
    "how_made": "one_slab",
    "use": "interior",
    "budget": "1,200",
    "start_on": "2026-05-20",
}


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def url(name: str, *args: Any) -> str:
    return reverse(f"catalogue:{name}", args=args)


def send(browser: Browser, name: str, /, *args: Any, **data: Any) -> Any:
    return browser.post(url(name, *args), data)


def text(response: Any) -> str:
    return str(response.content.decode()).replace("\xa0", " ")


def standing(slab: Slab) -> str:
    return Slab.objects.get(pk=slab.pk).standing


# --- writing a commission down ---


def test_a_piece_changed_on_another_screen_is_not_overwritten_unseen(owner_client: Browser) -> None:
    piece = make_commission(title="Long table")
    opened = owner_client.get(url("commission_edit", piece.pk)).context["seen"]
    Commission.objects.filter(pk=piece.pk).update(budget=900)
    changes = {**NEW, "new_client": "", "client": piece.client.pk, "stage": "open"}
    page = send(owner_client, "commission_edit", piece.pk, **changes, seen=opened)
    assert page.status_code == 422
    assert "changed on another screen" in text(page)
    assert 'value="60 cm"' in text(page)
    piece.refresh_from_db()
    assert piece.budget == 900
    # Said once: the same changes sent again take the place of the others.
    again = page.context["seen"]
    assert send(owner_client, "commission_edit", piece.pk, **changes, seen=again).status_code == 303
    piece.refresh_from_db()
    assert piece.budget == 1200
    # Species are asked by the form, so they count.
    opened = owner_client.get(url("commission_edit", piece.pk)).context["seen"]
    piece.species.add(make_species())
    page = send(owner_client, "commission_edit", piece.pk, **changes, seen=opened)
    assert page.status_code == 422


def test_a_commission_is_written_down_with_a_new_client(owner_client: Browser) -> None:
    response = send(owner_client, "commission_new", **NEW)
    commission = Commission.objects.get()
    assert (response.status_code, response["Location"]) == (303, commission.get_absolute_url())
    assert commission.client.name == "Aino Lehto"
    assert (commission.top_length_mm, commission.top_width_mm) == (1800, 600)
    assert commission.budget == 1200
    assert commission.start_on == date(2026, 5, 20)


def test_a_round_needs_only_its_diameter(owner_client: Browser) -> None:
    given = {**NEW, "top_shape": "round", "top_length_mm": "900 mm", "top_width_mm": "nonsense"}
    send(owner_client, "commission_new", **given)
    commission = Commission.objects.get()
    assert (commission.top_length_mm, commission.top_width_mm) == (900, 900)


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ({"top_shape": "rounded", "corner_mm": "60 mm"}, (60.0, None, "both")),
        ({"top_shape": "boat", "end_width_mm": "45 cm"}, (None, 450.0, "both")),
        ({"top_shape": "live_edge", "kept_edges": "one"}, (None, None, "one")),
        # What its shape has not is not kept, and no doubt about it stands in the way.
        (
            {"top_shape": "oval", "corner_mm": "nonsense", "end_width_mm": "9", "kept_edges": "x"},
            (None, None, "both"),
        ),
    ],
)
def test_a_top_keeps_what_its_shape_has(
    owner_client: Browser, given: dict[str, str], kept: tuple[float | None, float | None, str]
) -> None:
    send(owner_client, "commission_new", **{**NEW, **given, "wane_mm": "12 mm"})
    commission = Commission.objects.get()
    found = (commission.corner_mm, commission.end_width_mm, commission.kept_edges)
    assert (found, commission.margin_mm, commission.wane_mm) == (kept, 0.0, 12.0)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"top_shape": "rounded"}, "Give their radius"),
        ({"top_shape": "rounded", "corner_mm": "31 cm"}, "at most half"),
        ({"top_shape": "boat"}, "How wide is it at its ends?"),
        ({"top_shape": "boat", "end_width_mm": "60 cm"}, "narrower at its ends"),
        (
            {"top_shape": "boat", "end_width_mm": "10 cm", "top_length_mm": "40 cm"},
            "bulge past its ends",
        ),
        ({"top_shape": "live_edge", "how_made": "resin_pair"}, "is made of one slab"),
        ({"margin_mm": "60 cm"}, "wider than any spare"),
        ({"wane_mm": "-3"}, "less than nothing"),
        ({"title": ""}, "This is still empty"),
        ({"new_client": ""}, "Whom is it for?"),
        ({"top_width_mm": ""}, "How wide is the top?"),
        ({"top_length_mm": "wide"}, "wide"),
        ({"budget": "plenty"}, "is not an amount"),
        ({"start_on": "soon"}, "That is no day"),
        ({"home_temp": "70"}, "takes both temperature and humidity"),
        ({"home_temp": "70", "home_rh_pct": "140"}, "140"),
        ({"target_low_pct": "8"}, "A range takes both ends"),
        ({"target_low_pct": "9", "target_high_pct": "7"}, "The upper end must be above the lower"),
        ({"target_low_pct": "9", "target_high_pct": "60"}, "Wood is worked between"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_typed_is_lost(
    owner_client: Browser, changed: dict[str, str], sentence: str
) -> None:
    response = send(owner_client, "commission_new", **{**NEW, "note": "By the window", **changed})
    assert response.status_code == 422
    assert sentence in text(response)
    assert "By the window" in text(response)
    assert not Commission.objects.exists()
    assert not Client.objects.exists()


def test_an_absurd_size_is_asked_about_and_kept_when_meant(owner_client: Browser) -> None:
    huge = {**NEW, "top_length_mm": "18 m"}
    asked = send(owner_client, "commission_new", **huge)
    assert asked.status_code == 422
    assert "is longer than any top here" in text(asked)
    send(owner_client, "commission_new", **huge, keep="top_length_mm=18 m")
    assert Commission.objects.get().top_length_mm == 18_000


def test_the_same_form_sent_twice_asks_before_making_another(owner_client: Browser) -> None:
    client = make_client()
    given = {**NEW, "new_client": "", "client": client.pk}
    send(owner_client, "commission_new", **given)
    again = send(owner_client, "commission_new", **given)
    assert "has an open commission of that name: make another?" in text(again)
    assert Commission.objects.count() == 1
    send(owner_client, "commission_new", **given, keep="title=Long table")
    assert Commission.objects.count() == 2


def test_a_known_client_is_not_made_again(owner_client: Browser) -> None:
    make_client(name="Aino Lehto")
    response = send(owner_client, "commission_new", **{**NEW, "new_client": "aino lehto"})
    assert "is a client already" in text(response)


def test_home_air_is_typed_in_the_viewers_units_and_comes_back_exact() -> None:
    metric = client_for(make_person("Owner", length_system="metric"))
    imperial = client_for(make_person("Owner", length_system="imperial"))
    send(imperial, "commission_new", **NEW, home_temp="70", home_rh_pct="45 %")
    commission = Commission.objects.get()
    assert commission.home_temp_c == pytest.approx((70 - 32) / 1.8)
    page = text(metric.get(url("commission_edit", commission.pk)))
    assert 'value="21 °C"' in page
    shown = {**NEW, "new_client": "", "client": commission.client.pk, "stage": "open"}
    send(metric, "commission_edit", commission.pk, **shown, home_temp="21 °C", home_rh_pct="45")
    again = Commission.objects.get()
    assert again.home_temp_c == commission.home_temp_c
    assert again.home_rh_pct == 45


def test_sizes_nobody_touched_stay_exact(owner_client: Browser) -> None:
    commission = make_commission(top_length_mm=1803.4567)
    page = owner_client.get(url("commission_edit", commission.pk))
    form = page.context["form"]
    shown = {name: form[name].value() or "" for name in form.fields if name != "species"}
    shown["start_on"] = ""
    send(owner_client, "commission_edit", commission.pk, **shown)
    assert Commission.objects.get().top_length_mm == 1803.4567


def test_only_species_of_which_there_is_wood_are_offered(owner_client: Browser) -> None:
    stocked, wished, other = make_slab().species, make_species(), make_species()
    commission = make_commission()
    commission.species.add(wished)
    page = text(owner_client.get(url("commission_edit", commission.pk)))
    assert stocked.common_name in page
    assert wished.common_name in page
    assert other.common_name not in page


def test_a_commission_with_wood_promised_is_not_closed(
    owner_client: Browser, owner: Person
) -> None:
    commission, slab = make_commission(), make_slab()
    promises.hold(commission, [slab], until=UNTIL, by=owner, now=NOW)
    given = {**NEW, "new_client": "", "client": commission.client.pk, "stage": "dropped"}
    refused = send(owner_client, "commission_edit", commission.pk, **given)
    assert "Wood is still promised to it" in text(refused)
    promises.release(commission, [slab], by=owner, now=NOW)
    send(owner_client, "commission_edit", commission.pk, **given)
    assert Commission.objects.get().stage == Stage.DROPPED


def test_renaming_a_commission_renames_its_holds(owner_client: Browser, owner: Person) -> None:
    commission = make_commission()
    promises.hold(commission, [make_slab()], until=UNTIL, by=owner, now=NOW)
    given = {**NEW, "new_client": "", "client": commission.client.pk, "stage": "open"}
    send(owner_client, "commission_edit", commission.pk, **given)
    assert Hold.objects.get().label == f"{commission.client.name}: Long table"


# --- looking ---


def test_the_list_says_what_is_promised_and_what_is_missing(
    owner_client: Browser, owner: Person
) -> None:
    bare = make_commission(title="Bench", start_on=TODAY + timedelta(days=10))
    held = make_commission(title="Desk", start_on=TODAY + timedelta(days=50))
    half = make_commission(title="Pond table", how_made=HowMade.RESIN_PAIR)
    promises.hold(held, [make_slab()], until=UNTIL, by=owner, now=NOW)
    promises.allot(half, [make_slab()], by=owner, now=NOW)
    rows = owner_client.get(url("commissions")).context["open"]
    assert [(row.commission, row.missing) for row in rows] == [
        (bare, "No wood yet"),
        (held, "Held, not allotted yet"),
        (half, "One slab of the pair is missing"),
    ]
    assert rows[0].start_words == "Starts on 20 April, in 10 days"
    assert [row.is_urgent for row in rows] == [True, False, False]


def test_the_page_shows_candidates_with_drawings_and_near_misses(owner_client: Browser) -> None:
    slab = make_checked(7.0, widths=level(700))
    narrow = make_checked(7.0, widths=level(550))
    page = text(owner_client.get(make_commission().get_absolute_url()))
    assert "on every side" in page
    assert f'aria-label="The top laid on {slab.display_code}."' in page
    assert f'name="until" value="{UNTIL}"' in page
    assert "Too narrow by" in page
    assert narrow.display_code in page
    assert "style=" not in page


@pytest.mark.parametrize("shape", list(TopShape))
@pytest.mark.parametrize("how_made", list(HowMade))
def test_every_kind_of_top_has_a_page(owner_client: Browser, shape: str, how_made: str) -> None:
    make_boule(3, width_mm=500)
    commission = make_commission(
        top_shape=shape, how_made=how_made, top_length_mm=900, top_width_mm=900
    )
    response = owner_client.get(commission.get_absolute_url())
    assert response.status_code == 200
    assert bool(response.context["page"].found) == (
        how_made not in (HowMade.ONE_SLAB, HowMade.RESIN_SIDES)
    )


def test_in_a_large_yard_the_page_does_not_wait_for_its_candidates(
    owner_client: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(commission_page, "AT_ONCE_MOST", 2)
    make_boule(3, width_mm=700)
    commission = make_commission()
    at_once = owner_client.get(commission.get_absolute_url())
    assert "Looking through 3 free slabs" in text(at_once)
    assert at_once.context["page"].ranking is None
    asked = owner_client.get(f"{commission.get_absolute_url()}?found=yes")
    assert asked.context["page"].found
    assert "Looking through" not in text(asked)


def test_promised_wood_is_drawn_under_its_top(owner_client: Browser, owner: Person) -> None:
    boule = make_boule(2, width_mm=500)
    commission = make_commission(how_made=HowMade.BOOKMATCHED, top_width_mm=900)
    promises.allot(commission, boule, by=owner, now=NOW)
    page = text(owner_client.get(commission.get_absolute_url()))
    assert "opened as a book" in page
    assert "Mark as used" in page


def test_a_closed_commission_looks_for_nothing(owner_client: Browser) -> None:
    make_checked(7.0)
    page = owner_client.get(make_commission(stage=Stage.DONE).get_absolute_url())
    assert page.context["page"].ranking is None
    assert "What could become it" not in text(page)


def queries_of(browser: Browser, address: str) -> int:
    with CaptureQueriesContext(connection) as queries:
        assert browser.get(address).status_code == 200
    return len(queries)


def test_the_lists_ask_no_more_with_many_rows(owner_client: Browser, owner: Person) -> None:
    def grow(times: int) -> None:
        for _ in range(times):
            commission = make_commission()
            promises.hold(commission, [make_slab()], until=UNTIL, by=owner, now=NOW)

    grow(2)
    addresses = [url("commissions"), url("clients")]
    owner_client.get(addresses[0])
    few = [queries_of(owner_client, address) for address in addresses]
    grow(12)
    assert [queries_of(owner_client, address) for address in addresses] == few


def test_the_page_asks_no_more_in_a_larger_yard(owner_client: Browser, owner: Person) -> None:
    commission = make_commission()
    promises.allot(commission, [make_slab()], by=owner, now=NOW)
    make_boule(2)
    address = commission.get_absolute_url()
    owner_client.get(address)
    few = queries_of(owner_client, address)
    for _ in range(6):
        make_boule(3, width_mm=620)
    assert queries_of(owner_client, address) == few


# --- promising wood ---


def test_a_hold_from_the_page_keeps_the_slab(owner_client: Browser) -> None:
    slab, commission = make_slab(), make_commission()
    response = send(owner_client, "commission_hold", commission.pk, slab=slab.code, until=UNTIL)
    assert (response.status_code, response["Location"]) == (303, commission.get_absolute_url())
    assert Hold.objects.get().until == UNTIL
    assert "is held for" in text(owner_client.get(response["Location"]))


def test_a_pair_is_held_and_then_allotted_together(owner_client: Browser) -> None:
    slabs, commission = [make_slab(), make_slab()], make_commission()
    codes = [slab.display_code for slab in slabs]
    send(owner_client, "commission_hold", commission.pk, slab=codes, until=UNTIL)
    send(owner_client, "commission_allot", commission.pk, slab=codes)
    active = Hold.objects.active()
    assert [hold.kind for hold in active] == [HoldKind.ALLOTMENT, HoldKind.ALLOTMENT]
    assert CommissionHold.objects.count() == 4


def test_a_stale_page_gets_a_sentence_and_the_fresh_list(
    owner_client: Browser, owner: Person
) -> None:
    slab, commission = make_checked(7.0), make_commission()
    holds.place_hold(slab, label="Somebody", until=UNTIL, by=owner, now=NOW)
    response = send(owner_client, "commission_hold", commission.pk, slab=slab.code, until=UNTIL)
    page = text(owner_client.get(response["Location"]))
    assert f"{slab} is held until 24 April. Nothing was changed." in page
    assert "Somebody" not in page
    assert Hold.objects.count() == 1


@pytest.mark.parametrize("until", ["", "soon", "2026-02-31"])
def test_a_day_that_is_none_is_said_and_kept(owner_client: Browser, until: str) -> None:
    slab, commission = make_slab(), make_commission()
    response = send(owner_client, "commission_hold", commission.pk, slab=slab.code, until=until)
    assert response.status_code == 422
    assert f"You wrote “{until}”" in text(response)
    assert standing(slab) == "free"


def test_a_last_day_in_the_past_is_refused(owner_client: Browser) -> None:
    slab, commission = make_slab(), make_commission()
    day = TODAY - timedelta(days=1)
    response = send(owner_client, "commission_hold", commission.pk, slab=slab.code, until=day)
    assert "9 April has passed" in text(owner_client.get(response["Location"]))
    assert standing(slab) == "free"


def test_a_hold_is_extended_and_released_from_the_page(
    owner_client: Browser, owner: Person
) -> None:
    slab, commission = make_slab(), make_commission()
    promises.hold(commission, [slab], until=UNTIL, by=owner, now=NOW)
    later = UNTIL + timedelta(days=5)
    send(owner_client, "commission_hold", commission.pk, slab=slab.code, until=later, extend="yes")
    assert Hold.objects.get().until == later
    send(owner_client, "commission_release", commission.pk, slab=slab.code)
    assert standing(slab) == "free"


def test_sending_a_hold_twice_makes_one(owner_client: Browser) -> None:
    slab, commission = make_slab(), make_commission()
    for _ in range(2):
        send(owner_client, "commission_hold", commission.pk, slab=slab.code, until=UNTIL)
    assert Hold.objects.count() == 1


def test_nothing_chosen_is_a_sentence(owner_client: Browser) -> None:
    commission = make_commission()
    response = send(owner_client, "commission_allot", commission.pk)
    assert "Choose one slab" in text(owner_client.get(response["Location"]))


def test_a_slab_or_commission_that_is_not_there_is_not_found(owner_client: Browser) -> None:
    commission = make_commission()
    assert send(owner_client, "commission_allot", commission.pk, slab="ZZZZZ").status_code == 404
    assert send(owner_client, "commission_allot", 99_999).status_code == 404
    assert owner_client.get(url("commission", 99_999)).status_code == 404


# --- doors ---

PAGES = ("commissions", "commission_new", "clients", "client_new")
OF_ONE = ("commission", "commission_edit")
DEEDS = ("commission_hold", "commission_allot", "commission_release")


@pytest.mark.parametrize("role", ["Worker", "Buyer", ""])
def test_only_those_who_keep_commissions_come_in(role: str) -> None:
    browser, commission, slab = client_for(make_person(role)), make_commission(), make_slab()
    codes = [browser.get(url(name)).status_code for name in PAGES]
    codes += [browser.get(url(name, commission.pk)).status_code for name in OF_ONE]
    given = {"slab": slab.code, "until": UNTIL}
    codes += [send(browser, name, commission.pk, **given).status_code for name in DEEDS]
    assert set(codes) == {403}
    assert not Hold.objects.exists()


def test_nobody_comes_in_with_the_client_view_on(owner_client: Browser) -> None:
    commission = make_commission()
    session = owner_client.session
    session["client_view"] = True
    session.save()
    assert owner_client.get(url("commissions")).status_code == 403
    assert owner_client.get(commission.get_absolute_url()).status_code == 403
    assert send(owner_client, "commission_allot", commission.pk).status_code == 403


def test_the_signed_out_are_sent_to_the_door() -> None:
    commission, browser = make_commission(), Browser()
    for name in DEEDS:
        response = send(browser, name, commission.pk)
        assert response.status_code == 302
        assert response["Location"].startswith(reverse("sign_in"))


def test_a_promise_is_never_made_by_a_link(owner_client: Browser) -> None:
    commission = make_commission()
    codes = {owner_client.get(url(name, commission.pk)).status_code for name in DEEDS}
    assert codes == {405}


# --- clients ---


def test_a_client_is_written_down_and_changed(owner_client: Browser) -> None:
    send(owner_client, "client_new", name="Otto Brandt", phone="555 0101")
    client = Client.objects.get()
    send(owner_client, "client_edit", client.pk, name="Otto Brandt", email="otto@example.com")
    page = text(owner_client.get(url("client", client.pk)))
    assert "otto@example.com" in page
    new = owner_client.get(url("commission_new"), {"client": client.pk})
    assert new.context["form"].initial["client"] == client


def test_two_clients_of_one_name_are_refused(owner_client: Browser) -> None:
    make_client(name="Otto Brandt")
    response = send(owner_client, "client_new", name="Otto Brandt", phone="555 0101")
    assert response.status_code == 422
    assert "There is a client of that name already" in text(response)
    assert "555 0101" in text(response)
