"""The buyer's pages: parcels, bills, logs, and receiving a log's slabs all at once."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.html import escape

from inventory import parcels
from inventory.forms import pasted
from inventory.models import CostKind, LengthSystem, Log, Parcel, ParcelCost, Person, SplitBasis
from tests.conftest import client_for
from tests.factories import make_log, make_parcel, make_person, make_place, make_slab

ON = date(2026, 3, 2)
pytestmark = pytest.mark.django_db


def bill(parcel: Parcel, amount: str = "100.00", **kwargs: Any) -> ParcelCost:
    return parcels.add_cost(parcel, CostKind.TIMBER, Decimal(amount), ON, by=None, **kwargs)


def page(client: Client, name: str, *args: Any, **query: Any) -> str:
    response = client.get(reverse(f"inventory:{name}", args=args), query)
    assert response.status_code == 200
    return response.content.decode()


def doors() -> list[tuple[str, str]]:
    """Every address of these pages, with a method it takes."""
    parcel = make_parcel()
    log, cost = make_log(parcel=parcel), bill(parcel)
    here = {"parcel": parcel.pk, "log": log.pk, "cost": cost.pk}
    names = [
        ("parcels", None, "get"),
        ("parcel_new", None, "post"),
        ("parcel", "parcel", "get"),
        ("parcel_edit", "parcel", "post"),
        ("parcel_basis", "parcel", "post"),
        ("cost_add", "parcel", "post"),
        ("cost_correct", "cost", "post"),
        ("log_new", "parcel", "post"),
        ("log", "log", "get"),
        ("log_edit", "log", "post"),
        ("log_receive", "log", "post"),
    ]
    return [
        (reverse(f"inventory:{name}", args=[here[kind]] if kind else []), method)
        for name, kind, method in names
    ]


def test_workers_and_the_client_view_find_these_doors_shut(
    worker_client: Client, owner_client: Client
) -> None:
    session = owner_client.session
    session["client_view"] = True
    session.save()
    for address, method in doors():
        assert getattr(worker_client, method)(address).status_code == 403, address
        assert getattr(owner_client, method)(address).status_code == 403, address
    assert ParcelCost.objects.count() == 1


def test_signed_out_people_are_asked_to_sign_in(client: Client) -> None:
    for address, method in doors():
        response = getattr(client, method)(address)
        assert response.status_code == 302, address
        assert response["Location"].startswith(reverse("sign_in"))


def test_what_is_not_there_is_not_found_and_wrong_methods_are_refused(buyer_client: Client) -> None:
    for name in ("parcel", "parcel_edit", "cost_add", "cost_correct", "log_new", "log", "log_edit"):
        assert buyer_client.get(reverse(f"inventory:{name}", args=[99_999])).status_code == 404
    parcel = make_parcel()
    assert buyer_client.post(reverse("inventory:parcel", args=[parcel.pk])).status_code == 405
    assert buyer_client.get(reverse("inventory:parcel_basis", args=[parcel.pk])).status_code == 405
    assert buyer_client.delete(reverse("inventory:parcels")).status_code == 405


def test_the_list_shows_cost_and_what_is_gone_and_finds_by_words(buyer_client: Client) -> None:
    parcel = make_parcel(name="Hollow lane", supplier="Brandt")
    make_slab(parcel=parcel)
    make_parcel(name="Ford elm")
    bill(parcel, "1234.50")
    html = page(buyer_client, "parcels")
    assert "$1,234.50" in html
    assert "Ford elm" in html
    assert "Ford elm" not in page(buyer_client, "parcels", q="brandt lane")
    assert "Hollow lane" in page(buyer_client, "parcels", q=parcel.slabs.get().species.common_name)
    assert "No parcel answers to" in page(buyer_client, "parcels", q="<b>nothing")


def queries(client: Client, address: str) -> int:
    with CaptureQueriesContext(connection) as taken:
        assert client.get(address).status_code == 200
    return len(taken)


def fill(parcel: Parcel, count: int) -> None:
    for number in range(1, count + 1):
        log = make_log(parcel=parcel)
        make_slab(parcel=parcel, log=log, number_in_log=number)
        bill(parcel, f"{number}.00")


def test_pages_ask_the_database_as_often_for_ten_rows_as_for_twenty_five(
    buyer_client: Client,
) -> None:
    counts: list[list[int]] = []
    for size in (10, 25):
        parcel = make_parcel()
        fill(parcel, size)
        log = make_log(parcel=parcel)
        for number in range(size):
            make_slab(log=log, parcel=parcel, number_in_log=number + 1)
        while Parcel.objects.count() < size:
            make_slab(parcel=make_parcel())
        addresses = [
            reverse("inventory:parcels"),
            reverse("inventory:parcel", args=[parcel.pk]),
            reverse("inventory:log", args=[log.pk]),
        ]
        buyer_client.get(addresses[0])
        counts.append([queries(buyer_client, address) for address in addresses])
    assert counts[0] == counts[1]


def test_a_parcel_is_put_in_the_book(buyer_client: Client) -> None:
    typed = {
        "name": "Ford elm",
        "supplier": "Dale timber",
        "bought_on": "2026-03-01",
        "split_basis": "area",
    }
    response = buyer_client.post(reverse("inventory:parcel_new"), typed)
    parcel = Parcel.objects.get()
    assert response["Location"] == reverse("inventory:parcel", args=[parcel.pk])
    assert (parcel.name, parcel.split_basis) == ("Ford elm", SplitBasis.AREA)


def test_a_parcel_from_tomorrow_or_of_a_taken_name_keeps_what_was_typed(
    buyer_client: Client,
) -> None:
    make_parcel(name="Ford elm")
    typed = {
        "name": "Ford elm",
        "supplier": "Dale <timber>",
        "bought_on": "2999-01-01",
        "split_basis": "area",
    }
    response = buyer_client.post(reverse("inventory:parcel_new"), typed)
    html = response.content.decode()
    assert response.status_code == 422
    assert "There is a parcel of that name already." in html
    assert "That day has not come yet." in html
    assert "Dale &lt;timber&gt;" in html
    assert Parcel.objects.count() == 1


def test_editing_the_basis_shares_the_cost_anew(buyer_client: Client) -> None:
    parcel = make_parcel()
    thin = make_slab(parcel=parcel, thickness_mm=25.0)
    make_slab(parcel=parcel, thickness_mm=75.0)
    bill(parcel)
    typed = {
        "name": parcel.name,
        "supplier": "Other",
        "bought_on": "2026-01-02",
        "split_basis": "equal",
    }
    buyer_client.post(reverse("inventory:parcel_edit", args=[parcel.pk]), typed)
    thin.refresh_from_db()
    assert thin.cost == Decimal("50.00")


def test_the_basis_is_changed_from_the_parcels_page(buyer_client: Client) -> None:
    parcel = make_parcel()
    thin = make_slab(parcel=parcel, thickness_mm=25.0)
    make_slab(parcel=parcel, thickness_mm=75.0)
    bill(parcel)
    address = reverse("inventory:parcel_basis", args=[parcel.pk])
    response = buyer_client.post(address, {"split_basis": "area"}, follow=True)
    assert "2 slabs’ costs have changed" in response.content.decode()
    thin.refresh_from_db()
    assert thin.cost == Decimal("50.00")
    response = buyer_client.post(address, {"split_basis": "moon"}, follow=True)
    assert "Choose one of the ways" in response.content.decode()


def test_a_bill_is_carried_by_the_slabs_at_once(buyer: Person, buyer_client: Client) -> None:
    parcel = make_parcel()
    slab = make_slab(parcel=parcel)
    typed = {"kind": "haulage", "amount": "$1,080.25", "on": "2026-02-01", "note": "Two trips"}
    buyer_client.post(reverse("inventory:cost_add", args=[parcel.pk]), typed)
    slab.refresh_from_db()
    cost = parcel.costs.get()
    assert (cost.kind, cost.by, slab.cost) == (CostKind.HAULAGE, buyer, Decimal("1080.25"))


@pytest.mark.parametrize(
    ("amount", "words"),
    [
        ("-5", "An amount cannot be below nothing."),
        ("a lot", "is not an amount"),
        ("", "This is still empty"),
    ],
)
def test_an_odd_amount_is_told_beside_its_field(
    buyer_client: Client, amount: str, words: str
) -> None:
    parcel = make_parcel()
    typed = {"kind": "timber", "amount": amount, "on": "2026-02-01", "note": "Number 114"}
    response = buyer_client.post(reverse("inventory:cost_add", args=[parcel.pk]), typed)
    html = response.content.decode()
    assert response.status_code == 422
    assert words in html
    assert "Number 114" in html
    assert not parcel.costs.exists()


def test_the_same_bill_twice_is_asked_about_and_taken_when_kept(buyer_client: Client) -> None:
    parcel = make_parcel()
    address = reverse("inventory:cost_add", args=[parcel.pk])
    typed = {"kind": "timber", "amount": "100", "on": "2026-02-01"}
    buyer_client.post(address, typed)
    response = buyer_client.post(address, typed)
    assert response.status_code == 422
    assert "Is this another?" in response.content.decode()
    assert parcel.costs.count() == 1
    buyer_client.post(address, {**typed, "keep": "amount=100"})
    assert parcel.costs.count() == 2


def test_a_correction_leaves_the_old_bill_readable(buyer_client: Client) -> None:
    parcel = make_parcel()
    wrong = bill(parcel, "1000.00", note="Bill 114")
    address = reverse("inventory:cost_correct", args=[wrong.pk])
    typed = {"kind": "sawing", "amount": "100", "on": "2026-03-02", "note": "A nought too many"}
    buyer_client.post(address, typed)
    html = page(buyer_client, "parcel", parcel.pk)
    assert "<s>$1,000.00</s>" in html
    assert "Was timber: Bill 114." in html
    assert parcels.landed_cost(parcel) == Decimal("100.00")
    response = buyer_client.post(address, {**typed, "amount": "99"})
    assert response.status_code == 422
    assert "corrected already" in response.content.decode()


def test_a_correction_says_what_was_wrong_and_changes_something(buyer_client: Client) -> None:
    wrong = bill(make_parcel(), "10.00")
    typed = {"kind": "timber", "amount": "10.00", "on": "2026-03-02", "note": ""}
    response = buyer_client.post(reverse("inventory:cost_correct", args=[wrong.pk]), typed)
    html = response.content.decode()
    assert response.status_code == 422
    assert "Nothing is different" in html
    assert "This is still empty" in html


def test_the_page_says_when_slabs_carry_nothing_or_all_alike(buyer_client: Client) -> None:
    parcel = make_parcel(split_basis=SplitBasis.ASKING)
    make_slab(parcel=parcel, asking_price=None)
    bill(parcel)
    assert "each carries the same for now" in page(buyer_client, "parcel", parcel.pk)
    make_slab(parcel=parcel)
    parcels.refresh_parcel(parcel)
    assert "1 slab has no asking price" in page(buyer_client, "parcel", parcel.pk)


def test_a_log_is_added_in_the_readers_units_and_sizes_are_doubted(buyer_client: Client) -> None:
    parcel = make_parcel()
    species = make_slab().species
    address = reverse("inventory:log_new", args=[parcel.pk])
    typed = {"number": "A7", "species": species.pk, "length_mm": "8 ft 6", "diameter_mm": "400"}
    response = buyer_client.post(address, typed)
    assert response.status_code == 422
    assert "than any log here" in response.content.decode()
    buyer_client.post(address, {**typed, "diameter_mm": '22"', "sawn_on": "2026-02-01"})
    log = Log.objects.get(number="A7")
    assert log.parcel == parcel
    assert (round(log.length_mm or 0), round(log.diameter_mm or 0)) == (2591, 559)


def test_a_log_is_edited_but_keeps_its_species_once_sawn(buyer_client: Client) -> None:
    log = make_log(parcel=make_parcel(), length_mm=2600.0)
    make_slab(log=log)
    typed = {"number": "B9", "species": "", "length_mm": "", "sawn_on": "2025-05-05"}
    address = reverse("inventory:log_edit", args=[log.pk])
    species = log.species
    assert buyer_client.post(address, typed).status_code == 302
    log.refresh_from_db()
    assert (log.number, log.species, log.length_mm) == ("B9", species, None)
    late = buyer_client.post(address, {**typed, "felled_on": "2025-06-01"})
    assert "sawn before it was felled" in late.content.decode()


def rows_typed(*rows: dict[str, str], **shared: str) -> dict[str, str]:
    typed = {"rows": str(len(rows)), **shared}
    for index, row in enumerate(rows):
        typed |= {f"row-{index}-{name}": value for name, value in row.items()}
    return typed


def metric(person: Person) -> Client:
    person.length_system = LengthSystem.METRIC
    person.save()
    return client_for(person)


def test_a_log_is_received_slab_by_slab_in_sawn_order(buyer: Person) -> None:
    place, parcel = make_place(), make_parcel()
    log = make_log(parcel=parcel)
    bill(parcel, "100.00")
    typed = rows_typed(
        {"number_in_log": "1", "widths": "600, 620", "asking_price": "450"},
        {"number_in_log": "2", "widths": "600, 620", "thickness_mm": "54", "house_note": "Cracked"},
        {"number_in_log": "3"},
        length_mm="2.4 m",
        thickness_mm="27",
        where=f"place-{place.pk}",
        sawn="flat",
    )
    client = metric(buyer)
    response = client.post(reverse("inventory:log_receive", args=[log.pk]), typed)
    assert response["Location"] == reverse("inventory:log", args=[log.pk])
    first, second = log.slabs.order_by("number_in_log")
    assert (first.parcel, first.place, first.species) == (log.parcel, place, log.species)
    assert (first.thickness_mm, second.thickness_mm, first.length_mm) == (27, 54, 2400)
    assert (first.asking_price, second.house_note) == (Decimal("450.00"), "Cracked")
    assert (first.cost, second.cost) == (Decimal("33.33"), Decimal("66.67"))
    assert page(client, "log", log.pk).index(first.display_code) > 0


def test_a_bad_row_is_told_beside_it_and_nothing_is_received_or_lost(buyer: Person) -> None:
    log = make_log(parcel=make_parcel())
    make_slab(log=log, number_in_log=9)
    typed = rows_typed(
        {"number_in_log": "1", "widths": "600, 620", "length_mm": "2400"},
        {"number_in_log": "2", "widths": "600, sixty", "length_mm": "2400", "house_note": "Keep"},
        {"number_in_log": "2", "widths": "600", "length_mm": "24000"},
        {"number_in_log": "4", "house_note": "No size at all"},
        thickness_mm="54",
    )
    address = reverse("inventory:log_receive", args=[log.pk])
    response = metric(buyer).post(address, typed)
    html = response.content.decode()
    assert response.status_code == 422
    for words in (
        "The 2nd width: “sixty” is not a length",
        "Another row has this number.",
        "longer than any slab here",
        "Say how long it is, here or for all above.",
        "Give at least one width.",
    ):
        assert words in html
    for text in ("600, sixty", "Keep", "No size at all", "24000"):
        assert escape(text) in html
    assert log.slabs.count() == 1


def test_what_the_record_refuses_is_told_in_the_row_and_takes_all_back(buyer: Person) -> None:
    log = make_log(parcel=make_parcel())
    make_slab(log=log, number_in_log=2)
    row = {"widths": "600", "length_mm": "2400", "thickness_mm": "54"}
    typed = rows_typed({"number_in_log": "1", **row}, {"number_in_log": "2", **row})
    response = metric(buyer).post(reverse("inventory:log_receive", args=[log.pk]), typed)
    assert response.status_code == 422
    assert "has a slab 2 already" in response.content.decode()
    assert log.slabs.count() == 1


def test_a_doubted_size_is_kept_when_the_person_says_so(buyer: Person) -> None:
    log = make_log(parcel=make_parcel())
    row = {"number_in_log": "1", "widths": "600", "length_mm": "13000", "thickness_mm": "54"}
    typed = rows_typed(row)
    client, address = metric(buyer), reverse("inventory:log_receive", args=[log.pk])
    assert client.post(address, typed).status_code == 422
    assert client.post(address, {**typed, "keep": "row-0-length_mm=13000"}).status_code == 302
    assert log.slabs.get().length_mm == 13_000


def test_an_empty_page_and_a_broken_count_receive_nothing(buyer_client: Client) -> None:
    log = make_log(parcel=make_parcel())
    for rows in ("8", "-1", "", "x", "9" * 30, "²"):
        response = buyer_client.post(
            reverse("inventory:log_receive", args=[log.pk]), {"rows": rows}
        )
        assert response.status_code == 422
        assert "Write at least one slab" in response.content.decode()


def test_more_rows_keep_what_was_typed_and_count_on(buyer_client: Client) -> None:
    log = make_log(parcel=make_parcel())
    typed = rows_typed({"number_in_log": "5", "widths": "20, 21"}, more="yes")
    html = buyer_client.post(
        reverse("inventory:log_receive", args=[log.pk]), typed
    ).content.decode()
    assert 'name="rows" value="9"' in html
    assert 'value="20, 21"' in html
    assert 'name="row-1-number_in_log" value="6"' in html


def test_a_pasted_table_fills_the_rows_and_can_then_be_received(buyer: Person) -> None:
    log = make_log(parcel=make_parcel())
    client, address = metric(buyer), reverse("inventory:log_receive", args=[log.pk])
    table = "Width 1\tWidth 2\tNo\tLength (in)\tThickness\tPrice\n24\t25 1/2\t3\t95\t2\t450\n"
    response = client.post(address, {"rows": "8", "paste": "yes", "pasted": table})
    html = response.content.decode()
    assert response.status_code == 200
    assert "1 row read" in html
    assert 'value="24 in; 25 1/2 in"' in html
    typed = rows_typed(
        {
            "number_in_log": "3",
            "widths": "24 in; 25 1/2 in",
            "length_mm": "95 in",
            "thickness_mm": "2 in",
        }
    )
    client.post(address, typed)
    slab = log.slabs.get()
    assert slab.greatest_width_mm == pytest.approx(25.5 * 25.4)


def test_a_pasted_row_that_is_wrong_has_its_message_and_the_rest_stays(buyer: Person) -> None:
    log = make_log(parcel=make_parcel())
    table = "1\t2400\t54\t600\t610\n2\tlong\t54\t600\n"
    typed = {"rows": "1", "paste": "yes", "pasted": table}
    response = metric(buyer).post(reverse("inventory:log_receive", args=[log.pk]), typed)
    html = response.content.decode()
    assert response.status_code == 422
    assert "“long” is not a length" in html
    assert 'value="600; 610"' in html


def test_pasting_nothing_or_too_much_is_told_and_kept(buyer_client: Client) -> None:
    log = make_log(parcel=make_parcel())
    address = reverse("inventory:log_receive", args=[log.pk])
    for text, words in (("  \n", "Paste the rows first"), ("1\t2\t3\n" * 81, "too many at once")):
        response = buyer_client.post(address, {"rows": "8", "paste": "yes", "pasted": text})
        assert response.status_code == 422
        assert words in response.content.decode()


def test_a_table_is_read_with_headings_in_any_order_or_with_none() -> None:
    headed = "Note;Thickness (mm);Length (m);Width A (mm);No.\nknotty;54;2.4;600;7"
    assert pasted.rows(headed) == [
        {
            "house_note": "knotty",
            "thickness_mm": "54 mm",
            "length_mm": "2.4 m",
            "number_in_log": "7",
            "widths": "600 mm",
        }
    ]
    assert pasted.rows("7\t2.4 m\t54\t600\t\t620") == [
        {
            "number_in_log": "7",
            "length_mm": "2.4 m",
            "thickness_mm": "54",
            "widths": "600; 620",
        }
    ]


def test_the_owner_keeps_parcels_too_and_others_do_not(owner_client: Client) -> None:
    assert page(owner_client, "parcels")
    stranger = client_for(make_person())
    assert stranger.get(reverse("inventory:parcels")).status_code == 403
