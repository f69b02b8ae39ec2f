"""Places, air, moves, meters and species as people use them: doors, forms, lists."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory import air, moves
from inventory.forms.places import BAYS_MOST
from inventory.models import (
    AirGiven,
    AirRecord,
    Bay,
    LedgerEntry,
    Person,
    Place,
    PlaceKind,
    Slab,
    StageKind,
)
from tests.factories import at, make_bay, make_meter, make_place, make_slab, make_species

pytestmark = pytest.mark.django_db
NOW = at(2026, 5, 20, 12)
TODAY = "2026-05-20"


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def record(place: Place, days_ago: float = 0, temp_c: float = 20.0, rh: float = 45.0) -> AirRecord:
    moment = NOW - timedelta(days=days_ago)
    return air.record_air(
        place, at=moment, temp_c=temp_c, given=AirGiven.RH, value=rh, by=None, now=NOW
    )  # fmt: skip


def words(page: Any) -> str:
    return str(page.content.decode()).replace("\N{NO-BREAK SPACE}", " ")


def url(name: str, *args: object) -> str:
    return reverse(f"inventory:{name}", args=args)


@pytest.fixture
def pages() -> dict[str, str]:
    """Every page of this part of the house."""
    place, slab = make_place(), make_slab()
    made = record(place)
    return {
        "places": url("places"),
        "place": url("place", place.pk),
        "air_list": url("air_list", place.pk),
        "meters": url("meters"),
        "species": url("species"),
        "place_new": url("place_new"),
        "place_edit": url("place_edit", place.pk),
        "meter_new": url("meter_new"),
        "meter_edit": url("meter_edit", make_meter().pk),
        "species_new": url("species_new"),
        "species_edit": url("species_edit", make_species().pk),
        "air_add": url("air_add", place.pk),
        "air_correct": url("air_correct", made.pk),
        "air_paste": url("air_paste", place.pk),
        "slab_move": url("slab_move", slab.code),
        "place_move_here": url("place_move_here", place.pk),
    }


READ = {"places", "place", "air_list", "meters", "species"}
WORK = {"air_add", "air_correct", "air_paste", "slab_move", "place_move_here"}


@pytest.mark.parametrize("verb", ["get", "post"])
def test_each_page_opens_to_those_whose_duty_it_is(
    verb: str,
    pages: dict[str, str],
    owner_client: Client,
    worker_client: Client,
    buyer_client: Client,
    client: Client,
) -> None:
    allowed = {owner_client: set(pages), worker_client: READ | WORK, buyer_client: READ}
    for name, address in pages.items():
        for who, may in allowed.items():
            status = getattr(who, verb)(address).status_code
            shut = 403 if name not in READ else 200
            opened = 200 if verb == "get" else 422
            if name in READ and verb == "post":
                assert status == 405
            else:
                assert status == (opened if name in may else shut), (name, verb)
        assert getattr(client, verb)(address).status_code == 302


def test_the_client_view_shuts_every_door_to_the_record(
    pages: dict[str, str], owner_client: Client
) -> None:
    owner_client.post(reverse("catalogue:client_view"), {"on": "yes"})
    assert owner_client.session.get("client_view")
    for address in pages.values():
        assert owner_client.get(address).status_code == 403


@pytest.mark.parametrize("name", ["place", "place_edit", "air_add", "air_paste", "air_list",
                                  "place_move_here", "meter_edit", "species_edit"])  # fmt: skip
def test_what_is_not_there_is_not_found(name: str, owner_client: Client) -> None:
    assert owner_client.get(url(name, 999_999)).status_code == 404


# Places


def test_the_list_says_where_wood_settles(buyer_client: Client) -> None:
    shop = make_place(name="Shop")
    record(shop, 30, rh=45.0)
    for days in range(29, -1, -3):
        record(shop, days, rh=45.0)
    make_place(PlaceKind.KILN, name="Kiln")
    make_slab(place=shop)
    page = words(buyer_client.get(url("places")))
    settled = air.working_emc(shop, NOW).mean
    assert f"Wood left here settles at about {settled:.1f} %." in page
    assert "From the air of the last 30 days." in page
    assert "No air on record in the last 30 days." in page
    assert "Shop, 1 slab<" in page
    assert "68 °F" in page


def test_temperatures_are_shown_as_the_viewer_reads_them(
    worker_client: Client, worker: Person
) -> None:
    record(make_place())
    worker.length_system = "metric"
    worker.save()
    assert "20 °C" in words(worker_client.get(url("places")))


def count_queries(client: Client, address: str) -> int:
    client.get(address)
    with CaptureQueriesContext(connection) as asked:
        assert client.get(address).status_code == 200
    return len(asked)


def test_the_list_of_places_asks_as_often_for_thirty_as_for_three(worker_client: Client) -> None:
    def more(count: int) -> int:
        for _ in range(count):
            place = make_place()
            record(place)
            make_slab(place=place)
        return count_queries(worker_client, url("places"))

    assert more(3) == more(27)


def test_a_place_asks_as_often_for_fifty_slabs_as_for_ten(worker_client: Client) -> None:
    place, species = make_place(), make_species()
    make_bay(place)

    def more(count: int) -> int:
        for days in range(count):
            bay = make_bay(place)
            make_slab(place=place, bay=bay, species=species)
            record(place, days + count / 100)
        return count_queries(worker_client, url("place", place.pk))

    assert more(10) == more(40)


@pytest.mark.parametrize(
    ("name", "make"),
    [("meters", make_meter), ("species", make_species)],
)
def test_lists_ask_as_often_for_many_as_for_few(
    name: str, make: Callable[[], object], worker_client: Client
) -> None:
    make()
    few = count_queries(worker_client, url(name))
    for _ in range(20):
        make()
    assert count_queries(worker_client, url(name)) == few


def test_slabs_are_listed_as_one_walks_and_by_bay(worker_client: Client) -> None:
    place = make_place()
    second, first = make_bay(place, name="B", position=2), make_bay(place, name="A", position=1)
    slabs = [make_slab(place=place, bay=bay) for bay in (None, second, first)]
    page = words(worker_client.get(url("place", place.pk)))
    positions = [page.index(slab.display_code) for slab in reversed(slabs)]
    assert positions == sorted(positions)
    only = words(worker_client.get(url("place", place.pk), {"bay": first.pk}))
    assert slabs[2].display_code in only
    assert slabs[1].display_code not in only
    assert worker_client.get(url("place", place.pk), {"bay": "x", "page": "y"}).status_code == 200


def place_form(bays: list[tuple[str, str]], **kwargs: str) -> dict[str, str]:
    form = {"name": "Long shed", "kind": "shed", "position": "2", "note": ""}
    total = {"bays-TOTAL_FORMS": str(len(bays)), "bays-INITIAL_FORMS": "0"}
    rows = {
        f"bays-{i}-{field}": value
        for i, pair in enumerate(bays)
        for field, value in zip(("name", "position"), pair, strict=True)
    }
    return {**form, **total, **rows, **kwargs}


def test_a_place_is_added_with_its_bays(owner_client: Client) -> None:
    form = place_form([("Bay 1", "0"), ("Bay 2", "1"), ("", "2")])
    assert owner_client.post(url("place_new"), form).status_code == 302
    place = Place.objects.get(name="Long shed")
    assert (place.kind, place.position) == ("shed", 2)
    assert list(place.bays.values_list("name", flat=True)) == ["Bay 1", "Bay 2"]


def test_a_place_of_the_same_name_keeps_what_was_typed(owner_client: Client) -> None:
    make_place(name="Long shed")
    page = owner_client.post(url("place_new"), place_form([("Bay 1", "0")]))
    assert page.status_code == 422
    assert "There is a place of that name already." in words(page)
    assert 'value="Bay 1"' in words(page)
    assert Place.objects.count() == 1


def test_a_page_that_asks_for_a_million_bays_shows_no_more_than_a_place_has(
    owner_client: Client,
) -> None:
    form = place_form([("Bay 1", "0")], **{"bays-TOTAL_FORMS": "1000000", "name": ""})
    page = owner_client.post(url("place_new"), form)
    assert page.status_code == 422
    assert 'value="Bay 1"' in words(page)
    assert words(page).count('-DELETE"') <= 2 * BAYS_MOST


def test_two_bays_of_one_name_are_refused_in_a_sentence(owner_client: Client) -> None:
    page = owner_client.post(url("place_new"), place_form([("Bay 1", "0"), ("Bay 1", "1")]))
    assert page.status_code == 422
    assert not Place.objects.exists()


def edit_bay(bay: Bay, **kwargs: str) -> dict[str, str]:
    form = place_form([(bay.name, "0")], name=bay.place.name)
    return {**form, "bays-INITIAL_FORMS": "1", "bays-0-id": str(bay.pk), **kwargs}


def test_an_empty_bay_is_taken_away_and_a_full_one_is_not(owner_client: Client) -> None:
    empty = make_bay()
    edit = url("place_edit", empty.place.pk)
    assert owner_client.post(edit, edit_bay(empty, **{"bays-0-DELETE": "on"})).status_code == 302
    assert not Bay.objects.filter(pk=empty.pk).exists()
    full = make_bay(empty.place)
    make_slab(place=full.place, bay=full)
    page = owner_client.post(edit, edit_bay(full, **{"bays-0-DELETE": "on"}))
    assert page.status_code == 422
    assert "1 slab is on record in" in words(page)
    assert Bay.objects.filter(pk=full.pk).exists()


# Air


def test_air_is_typed_in_the_viewers_degrees(worker_client: Client, worker: Person) -> None:
    place = make_place()
    form = {"temp_c": "68", "given": "rh", "value": "45", "at": ""}
    page = worker_client.post(url("air_add", place.pk), form, follow=True)
    stored = AirRecord.objects.get()
    assert stored.temp_c == pytest.approx(20.0)
    assert (stored.rh_pct, stored.at, stored.by) == (45.0, NOW, worker)
    assert f"settles at {stored.emc_pct:.1f} %" in words(page)


@pytest.mark.parametrize(("given", "value"), [("wet_bulb", "59 F"), ("dew_point", "50")])
def test_wet_bulb_and_dew_point_are_typed_as_temperatures(
    given: str, value: str, worker_client: Client
) -> None:
    form = {"temp_c": "20 °C", "given": given, "value": value, "at": "2026-05-19T08:30"}
    assert worker_client.post(url("air_add", make_place().pk), form).status_code == 302
    stored = AirRecord.objects.get()
    expected = {"wet_bulb": 15.0, "dew_point": 10.0}[given]
    assert stored.given_value == pytest.approx(expected)
    assert stored.at == at(2026, 5, 19, 8) + timedelta(minutes=30)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"temp_c": "400"}, "must be between −40 and 120 °C"),
        ({"temp_c": "warm"}, "“warm” is not a temperature"),
        ({"value": "146"}, "must be between 0 and 100 %"),
        ({"value": "damp"}, "“damp” is not a humidity"),
        ({"given": "wet_bulb", "value": "90"}, "cannot be above the air"),
        ({"at": "2027-01-01T10:00"}, "That moment has not come yet."),
        ({"value": ""}, "This is still empty"),
    ],
)
def test_air_that_cannot_be_is_refused_beside_its_field(
    typed: dict[str, str], sentence: str, worker_client: Client
) -> None:
    form = {"temp_c": "68", "given": "rh", "value": "45", "at": "", **typed}
    kiln = make_place(PlaceKind.KILN)
    page = worker_client.post(url("air_add", kiln.pk), form)
    assert page.status_code == 422
    assert sentence in words(page)
    for text in (form["temp_c"], form["value"]):
        assert not text or f'value="{text}"' in words(page)
    assert not AirRecord.objects.exists()


def test_doubtful_air_is_asked_about_and_kept_when_confirmed(worker_client: Client) -> None:
    form = {"temp_c": "131", "given": "rh", "value": "5", "at": ""}
    address = url("air_add", make_place(name="Shop").pk)
    page = words(worker_client.post(address, form))
    assert "131 °F in Shop? Is that right?" in page
    assert "Humidity of 5 %?" in page
    keep = {"keep": ["temp_c=131", "value=5"]}
    assert worker_client.post(address, {**form, **keep}).status_code == 302
    assert AirRecord.objects.get().rh_pct == 5.0


def test_a_record_is_put_right_and_both_stay_readable(worker_client: Client) -> None:
    wrong = record(make_place(), 1, rh=90.0)
    correct = url("air_correct", wrong.pk)
    assert 'value="90"' in words(worker_client.get(correct))
    form = {"temp_c": "68", "given": "rh", "value": "45", "at": "2026-05-19T12:00"}
    assert worker_client.post(correct, form).status_code == 302
    page = words(worker_client.get(url("air_list", wrong.place.pk)))
    assert "Put right by worker" in page
    assert "90" in page
    again = worker_client.get(correct, follow=True)
    assert "Somebody has corrected this record already." in words(again)


def test_a_record_corrected_in_another_tab_keeps_what_is_typed(worker_client: Client) -> None:
    wrong = record(make_place(), 1, rh=90.0)
    correct = url("air_correct", wrong.pk)
    form = {"temp_c": "68", "given": "rh", "value": "45", "at": "2026-05-19T12:00"}
    worker_client.post(correct, form)
    late = worker_client.post(correct, {**form, "value": "47"})
    assert late.status_code == 422
    page = words(late)
    assert "Somebody has corrected this meanwhile." in page
    assert 'value="47"' in page
    theirs = AirRecord.objects.current().get()
    assert theirs.rh_pct == 45.0
    assert url("air_correct", theirs.pk) in page
    assert (
        worker_client.post(url("air_correct", theirs.pk), {**form, "value": "47"}).status_code
        == 302
    )
    assert AirRecord.objects.current().get().rh_pct == 47.0


TABLE = "time;temp;rh\n2026-05-18 10:00;20,5;45\n2026-05-18 11:00;20,5;450\n"


def test_a_pasted_table_goes_in_and_bad_lines_come_back_to_be_mended(worker_client: Client) -> None:
    address = url("air_paste", make_place().pk)
    page = worker_client.post(address, {"text": TABLE, "degrees": "C"})
    assert page.status_code == 422
    said = words(page)
    assert "1 record added." in said
    assert "must be between 0 and 100 %, not 450." in said
    box = said[said.index("<textarea") : said.index("</textarea>")]
    assert "2026-05-18 11:00;20,5;450" in box
    assert "2026-05-18 10:00" not in box
    mended = "time;temp;rh\n2026-05-18 11:00;20,5;45"
    assert worker_client.post(address, {"text": mended, "degrees": "C"}).status_code == 302
    assert AirRecord.objects.count() == 2


def test_dates_that_read_two_ways_are_asked_about_and_the_table_stays(
    worker_client: Client,
) -> None:
    address = url("air_paste", make_place().pk)
    text = "time,temp,rh\n03/04/2026 10:00,68,45\n"
    page = worker_client.post(address, {"text": text, "degrees": "F"})
    assert page.status_code == 422
    assert "could be read two ways" in words(page)
    assert "03/04/2026 10:00,68,45" in words(page)
    form = {"text": text, "degrees": "F", "day_order": "day"}
    assert worker_client.post(address, form).status_code == 302
    assert AirRecord.objects.get().at == at(2026, 4, 3, 10)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [("nothing to see", "could not be told apart"), (" ", "There is nothing to read")],
)
def test_what_is_no_table_gets_a_sentence(text: str, sentence: str, worker_client: Client) -> None:
    page = worker_client.post(url("air_paste", make_place().pk), {"text": text, "degrees": "C"})
    assert page.status_code == 422
    assert sentence in words(page)


# Moves


def test_a_slab_is_moved_by_a_tap(worker_client: Client) -> None:
    slab, bay = make_slab(), make_bay(make_place(name="Shop"), name="Rack 1")
    form = {"where": f"bay-{bay.pk}", "stage": "", "on": TODAY, "note": ""}
    page = worker_client.post(url("slab_move", slab.code), form)
    assert (page.status_code, page["Location"]) == (302, slab.get_absolute_url())
    slab.refresh_from_db()
    assert (slab.bay, slab.place) == (bay, bay.place)
    assert slab.stages.get().kind == StageKind.SHOP


def test_the_move_page_marks_where_it_lies_and_warns_of_its_weight(worker_client: Client) -> None:
    bay = make_bay()
    slab = make_slab(place=bay.place, bay=bay)
    page = words(worker_client.get(url("slab_move", slab.code)))
    assert f'value="bay-{bay.pk}" ' in page
    assert page.count(" checked") == 2
    assert "not by hand" in page or "two people" in page


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"where": ""}, "Say where it goes."),
        ({"where": "bay-999999"}, "to choose"),
        ({"on": "2026-05-21"}, "That day has not come yet."),
        ({"on": "2026-01-01"}, "was sawn on 1 March"),
        ({"on": "soon"}, "That is no day"),
        ({"stage": "oven"}, "to choose"),
    ],
)
def test_a_move_that_cannot_be_keeps_what_was_typed(
    typed: dict[str, str], sentence: str, worker_client: Client
) -> None:
    place = make_place()
    slab = make_slab(sawn_on=at(2026, 3, 1).date())
    form = {"where": f"place-{place.pk}", "stage": "", "on": TODAY, "note": "to flatten", **typed}
    page = worker_client.post(url("slab_move", slab.code), form)
    assert page.status_code == 422
    assert sentence in words(page)
    assert 'value="to flatten"' in words(page)
    assert not LedgerEntry.objects.exists()


def test_a_stack_is_moved_by_its_codes(worker_client: Client) -> None:
    shop = make_place(name="Shop")
    bay = make_bay(shop)
    slabs = [make_slab() for _ in range(3)]
    codes = f"{slabs[0].display_code}\n{slabs[1].code.lower()}, {slabs[2].code}\n{slabs[2].code}"
    form = {"codes": codes, "bay": bay.pk, "stage": "", "on": TODAY}
    page = worker_client.post(url("place_move_here", shop.pk), form, follow=True)
    assert "3 slabs moved to Shop." in words(page)
    assert Slab.objects.filter(bay=bay).count() == 3
    again = worker_client.post(url("place_move_here", shop.pk), form, follow=True)
    assert "They all lay in Shop already." in words(again)


def test_a_code_nobody_bears_moves_nothing_and_is_named(worker_client: Client) -> None:
    shop, slab = make_place(), make_slab()
    missing = make_slab()
    Slab.objects.filter(pk=missing.pk).delete()
    form = {"codes": f"{slab.code}\n{missing.code}\nhello", "on": TODAY, "stage": ""}
    page = worker_client.post(url("place_move_here", shop.pk), form)
    assert page.status_code == 422
    assert f"No slab has the code {missing.code}." in words(page)
    assert "“hello”" in words(page)
    assert slab.code in words(page)
    assert not Slab.objects.filter(place=shop).exists()


def test_a_bay_of_another_place_is_not_offered(worker_client: Client) -> None:
    shop, elsewhere = make_place(), make_bay()
    form = {"codes": make_slab().code, "bay": elsewhere.pk, "on": TODAY, "stage": ""}
    page = worker_client.post(url("place_move_here", shop.pk), form)
    assert page.status_code == 422
    assert "to choose" in words(page)


def test_the_year_of_air_is_drawn_on_the_page_of_its_place(worker_client: Client) -> None:
    place = make_place(name="Shop")
    assert "<figure" not in words(worker_client.get(url("place", place.pk)))
    record(place, 40)
    page = words(worker_client.get(url("place", place.pk)))
    assert "The air of Shop over the last year" in page
    assert moves.usual_stage(place).label.lower() in page
