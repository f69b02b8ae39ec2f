"""The pages of one slab's record: receive, measure, price, part with it, ledger."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory import codes, holds, ledger
from inventory.models import GoneHow, LedgerKind, LengthSystem, Person, ShapeBasis, Slab, Standing
from tests.conftest import client_for
from tests.factories import (
    make_bay,
    make_log,
    make_parcel,
    make_person,
    make_place,
    make_slab,
    make_species,
)

pytestmark = pytest.mark.django_db
NEW = "/slabs/new/"


def typed(**kwargs: Any) -> dict[str, Any]:
    """What a person types for a walnut slab in feet and inches."""
    defaults: dict[str, Any] = {
        "length_mm": "7' 6\"",
        "thickness_mm": "8/4",
        "widths_how": "stations",
        "widths": "26 1/2, 28, 27",
        "entry_key": "a-key-of-its-own",
    }
    if "species" not in kwargs and "log" not in kwargs:
        defaults["species"] = make_species().pk
    return {**defaults, **kwargs}


def as_typed_for(slab: Slab, client: Client) -> dict[str, Any]:
    """What the measure page shows for the slab, to send back untouched."""
    form = client.get(page_of(slab, "slab_measure")).context["form"]
    shown = {name: form[name].value() for name in form.fields}
    return {name: value for name, value in shown.items() if value not in (None, [])}


def page_of(slab: Slab, name: str) -> str:
    return reverse(f"inventory:{name}", args=[slab.code])


# Addresses


def test_new_is_a_page_and_not_a_slab(worker_client: Client) -> None:
    assert worker_client.get(NEW).context["form"] is not None


def test_a_code_in_an_address_may_be_typed_as_people_type_it(worker_client: Client) -> None:
    slab = make_slab()
    for text in (slab.code.lower(), slab.display_code, slab.display_code.lower()):
        assert worker_client.get(f"/slabs/{text}/measure/").status_code == 200


def test_a_miswritten_code_gets_a_sentence(worker_client: Client) -> None:
    response = worker_client.get("/slabs/K7M-40/measure/")
    assert response.status_code == 404
    assert "there is no zero" in str(response.context.get("exception", response.content))


# Receiving


def test_a_worker_receives_a_slab_typed_in_feet_and_inches(worker_client: Client) -> None:
    bay = make_bay(make_place())
    response = worker_client.post(NEW, typed(where=f"bay-{bay.pk}", figures=["burl"]))
    slab = Slab.objects.get()
    assert response.headers["Location"] == slab.get_absolute_url()
    assert slab.length_mm == pytest.approx(90 * 25.4)
    assert slab.thickness_mm == pytest.approx(50.8)
    assert slab.widths == [[0.0, pytest.approx(673.1)], [0.5, 711.2], [1.0, 685.8]]
    assert (slab.bay, slab.place, slab.figures) == (bay, bay.place, ["burl"])
    assert slab.mc_pct is None


def test_the_same_form_sent_twice_makes_one_slab(worker_client: Client) -> None:
    form = typed()
    first = worker_client.post(NEW, form)
    second = worker_client.post(NEW, form)
    assert first.headers["Location"] == second.headers["Location"]
    assert Slab.objects.count() == 1


def test_the_next_slab_of_the_log_begins_with_what_they_share(worker_client: Client) -> None:
    log = make_log(number="L44")
    response = worker_client.post(NEW, typed(log="l44", number_in_log="4", another="yes"))
    form = worker_client.get(response.headers["Location"]).context["form"]
    assert form["log"].value() == "L44"
    assert form["number_in_log"].value() == 5
    assert form["thickness_mm"].value() == "2\N{NO-BREAK SPACE}in"
    assert form["species"].value() == log.species.pk
    assert form["widths"].value() is None


def test_every_wrong_width_is_told_which_one_it_is_and_nothing_typed_is_lost(
    worker_client: Client,
) -> None:
    response = worker_client.post(NEW, typed(widths="26 1/2, wide, 27, 9/8", house_note="Ask Ada"))
    assert response.status_code == 422
    told = " ".join(response.context["form"].errors["widths"])
    assert "The 2nd width: “wide” is not a length" in told
    assert "The 4th width: “9/8” is a whole or more" in told
    page = response.content.decode()
    assert 'value="26 1/2, wide, 27, 9/8"' in page
    assert "Ask Ada" in page
    assert not Slab.objects.exists()


def test_an_absurd_width_is_asked_about_and_kept_when_confirmed(worker_client: Client) -> None:
    form = typed(length_mm="24 ft", widths="26 1/2, 280, 27")
    response = worker_client.post(NEW, form)
    assert response.status_code == 422
    asked = " ".join(response.context["form"].errors["widths"])
    assert asked.startswith("The 2nd width:")
    assert "did you mean" in asked
    kept = {**form, "keep": "widths=26 1/2, 280, 27"}
    assert worker_client.post(NEW, kept).status_code == 302
    assert Slab.objects.get().greatest_width_mm == pytest.approx(280 * 25.4)


def test_a_forty_metre_slab_is_asked_about(worker_client: Client) -> None:
    response = worker_client.post(NEW, typed(length_mm="40 m"))
    assert response.status_code == 422
    assert "longer than any slab here" in response.context["form"].errors["length_mm"][0]
    assert "Yes, keep “40 m”" in response.content.decode()


def test_a_slab_wider_than_long_is_asked_about(worker_client: Client) -> None:
    response = worker_client.post(NEW, typed(length_mm="20 in"))
    assert "wider than it is long" in response.context["form"].errors["widths"][0]


def test_least_middle_and_greatest_are_taken_instead_of_stations(worker_client: Client) -> None:
    three = {"width_least": "20", "width_middle": "22", "width_greatest": "24"}
    worker_client.post(NEW, typed(widths_how="three", widths="rubbish", **three))
    assert [width for _, width in Slab.objects.get().widths] == pytest.approx(
        [24 * 25.4, 22 * 25.4, 20 * 25.4]
    )
    assert Slab.objects.get().are_widths_unplaced
    assert Slab.objects.get().shape_basis == ShapeBasis.THREE


def test_three_widths_come_back_as_three_and_sent_back_untouched_change_nothing(
    worker_client: Client,
) -> None:
    three = {"width_least": "507 mm", "width_middle": "563 mm", "width_greatest": "611 mm"}
    worker_client.post(NEW, typed(widths_how="three", widths="", **three))
    slab = Slab.objects.get()
    address = page_of(slab, "slab_measure")
    shown = as_typed_for(slab, worker_client)
    assert shown["widths_how"] == "three"
    worker_client.post(address, shown)
    assert Slab.objects.get().widths == slab.widths
    assert slab.ledger.count() == 1
    worker_client.post(address, shown | {"widths_how": "stations", "widths": "24, 22"})
    assert Slab.objects.get().shape_basis == ShapeBasis.WIDTHS
    entry = slab.ledger.newest_first()[0]
    assert "Widths taken as least, middle and greatest" in entry.before
    assert "Widths taken at places along it" in entry.after


@pytest.mark.parametrize(
    ("three", "field", "words"),
    [
        (("20", "", "24"), "width_middle", "Give this width too"),
        (("20", "30", "24"), "width_middle", "between the other two"),
        (("20", "22", "many"), "width_greatest", "is not a length"),
        (("1", "22", "24"), "width_least", "narrower than any slab"),
        (("20", "22", "240"), "width_greatest", "wider than any slab"),
    ],
)
def test_each_of_the_three_widths_is_told_what_is_wrong_with_it(
    worker_client: Client, three: tuple[str, ...], field: str, words: str
) -> None:
    names = ("width_least", "width_middle", "width_greatest")
    sent = dict(zip(names, three, strict=True))
    response = worker_client.post(NEW, typed(widths_how="three", widths="", **sent))
    assert response.status_code == 422
    assert words in " ".join(response.context["form"].errors[field])


def test_widths_left_over_in_the_other_way_do_not_matter(worker_client: Client) -> None:
    assert worker_client.post(NEW, typed(width_least="junk")).status_code == 302


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"species": ""}, "species", "Say the species"),
        ({"log": "L99"}, "log", "No log has the number “L99”"),
        ({"length_mm": ""}, "length_mm", "Say how long it is"),
        ({"widths": ""}, "widths", "at least one width"),
        ({"number_in_log": "3"}, "number_in_log", "Say which log"),
        ({"where": "bay-999"}, "where", "to choose"),
        ({"sawn_on": "2999-01-01"}, "sawn_on", "has not come yet"),
        ({"figures": ["gold"]}, "figures", "to choose"),
    ],
)
def test_what_is_missing_or_wrong_is_said_beside_its_field(
    worker_client: Client, wrong: dict[str, Any], field: str, words: str
) -> None:
    response = worker_client.post(NEW, typed(**wrong))
    assert response.status_code == 422
    assert words in " ".join(response.context["form"].errors[field])


def test_a_worker_neither_sees_nor_sets_money_or_parcel(worker_client: Client) -> None:
    parcel = make_parcel(name="Load from the Fens")
    page = worker_client.get(NEW).content.decode()
    assert parcel.name not in page
    assert "sking price" not in page
    worker_client.post(NEW, typed(asking_price="900", own_cost="5", parcel=parcel.pk))
    slab = Slab.objects.get()
    assert (slab.asking_price, slab.own_cost, slab.parcel) == (None, None, None)


def test_a_buyer_sets_money_and_parcel(buyer_client: Client) -> None:
    parcel = make_parcel()
    buyer_client.post(NEW, typed(asking_price="$1,200.50", parcel=parcel.pk))
    slab = Slab.objects.get()
    assert (slab.asking_price, slab.parcel) == (Decimal("1200.50"), parcel)


@pytest.mark.parametrize("amount", ["-4", "twelve", "1.234", "1,2,3"])
def test_an_amount_that_is_none_is_told(buyer_client: Client, amount: str) -> None:
    response = buyer_client.post(NEW, typed(asking_price=amount))
    assert response.status_code == 422
    assert response.context["form"].errors["asking_price"]


def test_a_metric_persons_bare_numbers_are_millimetres() -> None:
    person = make_person("Worker", length_system=LengthSystem.METRIC)
    client_for(person).post(NEW, typed(length_mm="2400", thickness_mm="54", widths="680, 720"))
    slab = Slab.objects.get()
    assert (slab.length_mm, slab.thickness_mm) == (2400.0, 54.0)
    assert slab.widths == [[0.0, 680.0], [1.0, 720.0]]


# Measuring


def test_sending_the_measures_back_untouched_changes_nothing_to_the_last_digit(
    worker_client: Client,
) -> None:
    slab = make_slab(widths=[(0.1, 681.3), (0.45, 722.7)], length_mm=2413.7, thickness_mm=53.3)
    response = worker_client.post(page_of(slab, "slab_measure"), as_typed_for(slab, worker_client))
    assert response.status_code == 302
    again = Slab.objects.get(pk=slab.pk)
    assert again.widths == [[0.1, 681.3], [0.45, 722.7]]
    assert (again.length_mm, again.thickness_mm) == (2413.7, 53.3)
    assert not again.ledger.exists()


def test_a_new_measure_is_stored_and_told(worker: Person, worker_client: Client) -> None:
    slab = make_slab(length_mm=2400.0)
    sent = {**as_typed_for(slab, worker_client), "length_mm": "100", "faults": ["crack", "twist"]}
    worker_client.post(page_of(slab, "slab_measure"), sent)
    entry = slab.ledger.get()
    assert (entry.kind, entry.by) == (LedgerKind.MEASURED, worker)
    assert entry.after == "Length 2540 mm; Faults crack, twist"
    assert Slab.objects.get(pk=slab.pk).length_mm == pytest.approx(2540)


def test_another_species_asks_for_a_reason_and_keeps_what_was_typed(
    worker_client: Client,
) -> None:
    slab, elm = make_slab(), make_species(common_name="Wych elm")
    sent = {**as_typed_for(slab, worker_client), "species": elm.pk}
    response = worker_client.post(page_of(slab, "slab_measure"), sent)
    assert response.status_code == 422
    assert "Say why" in response.context["form"].errors["reason"][0]
    worker_client.post(page_of(slab, "slab_measure"), {**sent, "reason": "Misread"})
    assert slab.ledger.get().kind == LedgerKind.CORRECTED
    assert Slab.objects.get(pk=slab.pk).species == elm


# Prices


def test_a_buyer_prices_a_slab(buyer_client: Client) -> None:
    slab = make_slab(asking_price=Decimal("900.00"))
    sent = {"asking_price": "1,150", "own_cost": "", "note": "Better figure than thought"}
    assert buyer_client.post(page_of(slab, "slab_price"), sent).status_code == 302
    assert Slab.objects.get(pk=slab.pk).asking_price == Decimal("1150.00")
    assert slab.ledger.get().after == "Asking price $1,150.00"


def test_a_price_that_cannot_be_read_is_told_and_kept(buyer_client: Client) -> None:
    slab = make_slab()
    response = buyer_client.post(page_of(slab, "slab_price"), {"asking_price": "a lot"})
    assert response.status_code == 422
    assert 'value="a lot"' in response.content.decode()


# Parting with a slab


def test_an_owner_parts_with_a_slab_and_brings_it_back(owner_client: Client) -> None:
    slab = make_slab()
    sent = {"how": GoneHow.SOLD, "note": "To a boat builder"}
    assert owner_client.post(page_of(slab, "slab_gone"), sent).status_code == 302
    slab.refresh_from_db()
    assert (slab.standing, slab.gone_how) == (Standing.GONE, GoneHow.SOLD)
    assert slab.ledger.get().note == "To a boat builder"
    assert "Put it back in stock" in owner_client.get(page_of(slab, "slab_gone")).content.decode()
    owner_client.post(page_of(slab, "slab_back"), {"note": "The other slab was meant"})
    slab.refresh_from_db()
    assert slab.standing == Standing.FREE


def test_a_held_slab_goes_only_when_that_is_meant(owner: Person, owner_client: Client) -> None:
    slab, now = make_slab(), timezone.now()
    until = timezone.localdate() + timedelta(days=5)
    holds.place_hold(slab, label="Mrs Oduya: bench", until=until, by=owner, now=now)
    sent = {"how": GoneHow.SOLD, "note": "To another"}
    response = owner_client.post(page_of(slab, "slab_gone"), sent)
    assert response.status_code == 422
    assert "is held until" in response.context["form"].non_field_errors()[0]
    assert "To another" in response.content.decode()
    owner_client.post(page_of(slab, "slab_gone"), {**sent, "even_if_promised": "on"})
    slab.refresh_from_db()
    assert slab.standing == Standing.GONE


def test_writing_off_asks_why(owner_client: Client) -> None:
    slab = make_slab()
    response = owner_client.post(page_of(slab, "slab_gone"), {"how": GoneHow.WRITTEN_OFF})
    assert response.status_code == 422
    assert response.context["form"].errors["note"] == ["Say why it is written off."]


def test_a_slab_gone_already_is_told(owner_client: Client) -> None:
    slab = make_slab()
    owner_client.post(page_of(slab, "slab_gone"), {"how": GoneHow.SOLD})
    response = owner_client.post(page_of(slab, "slab_gone"), {"how": GoneHow.USED})
    assert response.status_code == 422
    assert "is gone: sold" in response.context["form"].non_field_errors()[0]
    assert slab.ledger.count() == 1


# Ledger


def entries(client: Client, slab: Slab, **query: Any) -> list[str]:
    page = client.get(page_of(slab, "slab_ledger"), query).context["page"]
    return [entry.after for entry in page.object_list]


def test_the_ledger_is_read_newest_first_a_page_at_a_time(worker_client: Client) -> None:
    slab, now = make_slab(), timezone.now()
    for number in range(45):
        ledger.write(
            slab,
            LedgerKind.MEASURED,
            by=None,
            after=f"Line {number}",
            at=now + timedelta(minutes=number),
        )
    assert entries(worker_client, slab)[0] == "Line 44"
    assert entries(worker_client, slab, page=2) == [f"Line {n}" for n in range(4, -1, -1)]


def test_money_in_the_ledger_is_read_only_by_those_who_see_cost(
    worker_client: Client, buyer_client: Client
) -> None:
    slab = make_slab()
    ledger.write(slab, LedgerKind.PRICED, by=None, after="Asking price $1,111.00")
    assert "1,111" not in worker_client.get(page_of(slab, "slab_ledger")).content.decode()
    assert "$1,111.00" in buyer_client.get(page_of(slab, "slab_ledger")).content.decode()


def test_the_ledger_is_shut_in_the_client_view(owner_client: Client) -> None:
    session = owner_client.session
    session["client_view"] = True
    session.save()
    slab = make_slab()
    for name in ("slab_ledger", "slab_measure", "slab_price", "slab_gone", "slab_photos"):
        assert owner_client.get(page_of(slab, name)).status_code == 403


def test_the_ledger_asks_the_database_no_more_for_more_lines(worker_client: Client) -> None:
    few, many = make_slab(), make_slab()
    for slab, lines in ((few, 2), (many, 30)):
        for number in range(lines):
            ledger.write(slab, LedgerKind.MEASURED, by=make_person(), after=str(number))
    worker_client.get(page_of(few, "slab_ledger"))
    with CaptureQueriesContext(connection) as short:
        worker_client.get(page_of(few, "slab_ledger"))
    with CaptureQueriesContext(connection) as long:
        worker_client.get(page_of(many, "slab_ledger"))
    assert len(short) == len(long)


# Doors

PAGES = {
    "slab_measure": ("Owner", "Worker", "Buyer"),
    "slab_price": ("Owner", "Buyer"),
    "slab_gone": ("Owner", "Buyer"),
    "slab_photos": ("Owner", "Worker", "Buyer"),
    "slab_ledger": ("Owner", "Worker", "Buyer", ""),
    "slab_label": ("Owner", "Worker", "Buyer", ""),
}


@pytest.mark.parametrize("role", ["Owner", "Worker", "Buyer", ""])
@pytest.mark.parametrize("name", PAGES)
def test_each_role_opens_just_its_own_pages(name: str, role: str) -> None:
    response = client_for(make_person(role)).get(page_of(make_slab(), name))
    assert response.status_code == (200 if role in PAGES[name] else 403)


@pytest.mark.parametrize("name", [*PAGES, "slab_back"])
def test_a_signed_out_person_is_asked_to_sign_in(client: Client, name: str) -> None:
    response = client.get(page_of(make_slab(), name))
    assert response.status_code == 302
    assert response.headers["Location"].startswith("/sign-in/")


@pytest.mark.parametrize("name", PAGES)
def test_a_slab_nobody_has_is_not_found(owner_client: Client, name: str) -> None:
    missing = codes.with_check("ZZZZ")
    assert owner_client.get(reverse(f"inventory:{name}", args=[missing])).status_code == 404


@pytest.mark.parametrize("name", PAGES)
def test_other_methods_are_refused(owner_client: Client, name: str) -> None:
    assert owner_client.delete(page_of(make_slab(), name)).status_code == 405


def test_bringing_back_is_never_a_mere_look(owner_client: Client) -> None:
    assert owner_client.get(page_of(make_slab(), "slab_back")).status_code == 405


@pytest.mark.parametrize("name", ["slab_price", "slab_gone", "slab_back"])
def test_a_worker_changes_neither_price_nor_standing(worker_client: Client, name: str) -> None:
    slab = make_slab(asking_price=Decimal("900.00"))
    sent = {"asking_price": "1", "how": GoneHow.SOLD}
    assert worker_client.post(page_of(slab, name), sent).status_code == 403
    slab.refresh_from_db()
    assert (slab.asking_price, slab.standing) == (Decimal("900.00"), Standing.FREE)


def test_the_ways_in_are_shown_to_those_who_may_take_them(
    owner_client: Client, worker_client: Client
) -> None:
    slab = make_slab()
    assert NEW in worker_client.get(reverse("catalogue:browse")).content.decode()
    nobody = client_for(make_person())
    assert NEW not in nobody.get(reverse("catalogue:browse")).content.decode()
    owner_client.post(page_of(slab, "slab_gone"), {"how": GoneHow.SOLD})
    assert "Back in stock" in owner_client.get(slab.get_absolute_url()).content.decode()
    assert "Back in stock" not in worker_client.get(slab.get_absolute_url()).content.decode()
