"""Looking through slabs: every filter, the address, pages, roles."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from inventory import codes
from inventory.models import Slab, Standing
from tests.factories import copy_slab, make_log, make_parcel, make_place, make_slab, make_species

ADDRESS = "/slabs/"
HTMX = {"HX-Request": "true"}


def listed(client: Client, address: str = "") -> set[str]:
    """Codes of the cards on the page at that address."""
    page = client.get(ADDRESS + address)
    assert page.status_code == 200
    return {card.slab.code for card in page.context["browse"].cards}


def with_state(slab: Slab, **state: Any) -> Slab:
    """Store derived state directly: what these tests are about is reading it."""
    Slab.objects.filter(pk=slab.pk).update(**state)
    slab.refresh_from_db()
    return slab


def test_everything_in_stock_is_listed_and_gone_wood_is_not(owner_client: Client) -> None:
    free, held = make_slab(), with_state(make_slab(), standing=Standing.HELD)
    gone = with_state(make_slab(), standing=Standing.GONE, gone_how="sold")
    assert listed(owner_client) == {free.code, held.code}
    assert listed(owner_client, "?standing=gone") == {gone.code}
    assert listed(owner_client, "?standing=gone&standing=free") == {gone.code, free.code}


def test_species_are_any_of_those_ticked(owner_client: Client) -> None:
    elm, oak, ash = (make_slab(species=make_species()) for _ in range(3))
    ticked = f"?species={elm.species_id}&species={oak.species_id}"
    assert listed(owner_client, ticked) == {elm.code, oak.code}
    assert ash.code not in listed(owner_client, ticked)


def test_condition_sawn_place_and_figure_narrow(owner_client: Client) -> None:
    shed = make_place()
    plain = make_slab()
    other = with_state(
        make_slab(sawn="quarter", place=shed, figures=["curl", "burl"]), condition="ready"
    )
    for address in (
        "?condition=ready",
        "?sawn=quarter",
        f"?place={shed.pk}",
        "?figure=curl",
        "?figure=burl&figure=quilt",
    ):
        assert listed(owner_client, address) == {other.code}, address
    for address in ("?condition=unknown", "?sawn=unknown", "?place=none"):
        assert listed(owner_client, address) == {plain.code}, address


@pytest.mark.parametrize(
    ("address", "found"),
    [
        ("?length=2.5+m", {"long"}),
        ("?length=8%27", {"long"}),
        ("?width=800+mm", {"long"}),
        ("?thickness=8/4", {"long", "short"}),
        ("?thickness=3+in", {"long"}),
        ("?price_from=1000", {"long"}),
        ("?price_to=%24900.00", {"short"}),
        ("?price_from=900&price_to=2,000", {"long", "short"}),
    ],
)
def test_sizes_and_prices_are_typed_as_people_say_them(
    owner_client: Client, address: str, found: set[str]
) -> None:
    slabs = {
        "short": make_slab(thickness_mm=50.8, asking_price=Decimal("900.00")),
        "long": make_slab(
            length_mm=2600.0,
            thickness_mm=78.0,
            widths=[(0.0, 900.0), (1.0, 850.0)],
            asking_price=Decimal("1800.00"),
        ),
    }
    assert listed(owner_client, address) == {slabs[name].code for name in found}


def test_a_slab_is_found_by_the_size_it_is_shown_as(owner_client: Client) -> None:
    slab = make_slab(length_mm=1371.0)
    page = owner_client.get(ADDRESS)
    assert "4\N{NO-BREAK SPACE}<span" in page.content.decode()
    assert listed(owner_client, "?length=4%276%22") == {slab.code}


def test_words_are_looked_for_on_the_whole_record(owner_client: Client) -> None:
    walnut = make_species(common_name="Walnut, black", other_names="American walnut")
    log = make_log(number="W-17", species=walnut, parcel=make_parcel(supplier="Hollow Mill"))
    slab = make_slab(
        log=log, species=walnut, house_note="stain near the pith", client_note="feather crotch"
    )
    make_slab(species=make_species(common_name="Elm, red"))
    for words in ("walnut", "american", "w-17", "pith", "feather", "hollow", "walnut feather"):
        assert listed(owner_client, f"?q={words}") == {slab.code}, words
    assert listed(owner_client, "?q=walnut+nothing") == set()


def test_words_a_person_may_not_read_find_nothing(worker_client: Client) -> None:
    parcel = make_parcel(supplier="Hollow Mill")
    make_slab(parcel=parcel)
    assert listed(worker_client, "?q=hollow") == set()


def test_a_whole_code_leads_to_its_slab(owner_client: Client) -> None:
    slab = make_slab()
    typed = codes.display(slab.code).lower()
    assert owner_client.get(ADDRESS, {"q": typed}).headers["Location"] == slab.get_absolute_url()
    fragment = owner_client.get(ADDRESS, {"q": typed}, headers=HTMX)
    assert fragment.headers["HX-Redirect"] == slab.get_absolute_url()


def test_a_code_with_a_slip_says_so_beside_the_field(owner_client: Client) -> None:
    code = make_slab().code
    slip = code[:-1] + next(one for one in codes.ALPHABET if one != code[-1])
    page = owner_client.get(ADDRESS, {"q": codes.display(slip)})
    assert "One character is off: look at the tag again." in page.content.decode()
    assert f'value="{codes.display(slip)}"' in page.content.decode()


def test_five_letter_words_are_not_taken_for_codes(owner_client: Client) -> None:
    slab = make_slab(species=make_species(common_name="Maple, hard"))
    assert listed(owner_client, "?q=maple") == {slab.code}


def test_part_of_a_code_finds_what_begins_so(owner_client: Client) -> None:
    slab = make_slab()
    assert slab.code in listed(owner_client, f"?q={slab.code[:3]}-{slab.code[3]}")


@pytest.mark.parametrize(
    ("address", "sentence"),
    [
        ("?length=wide", "is not a length"),
        ("?price_from=cheap", "is not an amount"),
        ("?price_from=900&price_to=100", "The highest price lies below the lowest."),
        ("?condition=soggy", "“soggy” is not among the choices here."),
        ("?species=walnut", "“walnut” is not among the choices here."),
        ("?standing=lost", "“lost” is not among the choices here."),
        ("?figure=%00", "not among the choices here."),
    ],
)
def test_an_answer_that_cannot_be_read_says_so_and_narrows_nothing(
    owner_client: Client, address: str, sentence: str
) -> None:
    slab = make_slab()
    with_state(make_slab(), standing=Standing.GONE, gone_how="used")
    page = owner_client.get(ADDRESS + address)
    assert page.status_code == 200
    assert sentence in page.content.decode()
    if "price_to" not in address:
        assert listed(owner_client, address) == {slab.code}


def test_an_odd_address_never_breaks_the_page(owner_client: Client) -> None:
    slab = make_slab()
    odd = "?page=-3&pages=99999999&sort=;drop&place=none&place=0&q=%25_%27%22"
    assert owner_client.get(ADDRESS + odd).status_code == 200
    assert listed(owner_client, "?page=banana&pages=0&sort=worst") == {slab.code}


def test_sorts_put_the_right_slab_first(owner_client: Client) -> None:
    moment = timezone.now()
    dear = with_state(
        make_slab(length_mm=3000.0, asking_price=Decimal("2000.00")), mc_pct=12.0, code="22222"
    )
    cheap = with_state(
        make_slab(thickness_mm=80.0, widths=[(0.5, 990.0)], asking_price=Decimal("100.00")),
        mc_pct=7.0,
        condition="ready",
        checked_on=date(2026, 5, 1),
        received_at=moment.replace(year=2020),
    )
    with_state(make_slab(asking_price=None), received_at=moment.replace(year=2021))
    firsts = {
        "cheapest": cheap,
        "dearest": dear,
        "longest": dear,
        "widest": cheap,
        "thickest": cheap,
        "readiest": cheap,
        "driest": cheap,
        "code": dear,
        "newest": dear,
    }
    for sort, first in firsts.items():
        page = owner_client.get(ADDRESS, {"sort": sort})
        assert page.context["browse"].cards[0].slab.code == first.code, sort


def test_the_address_holds_the_whole_state(owner_client: Client) -> None:
    slab = make_slab(sawn="flat", figures=["curl"])
    address = f"?species={slab.species_id}&sawn=flat&figure=curl&length=7+ft&sort=longest"
    page = owner_client.get(ADDRESS + address).content.decode()
    for part in (
        f'value="{slab.species_id}" checked',
        'value="flat" checked',
        'value="curl" checked',
        'value="7 ft"',
        'value="longest" selected',
    ):
        assert part in page, part


def test_each_chip_leads_to_the_same_page_without_it(owner_client: Client) -> None:
    slab = make_slab(sawn="flat")
    address = f"?species={slab.species_id}&sawn=flat&sawn=rift&length=7+ft&page=1"
    chips = owner_client.get(ADDRESS + address).context["browse"].chips
    by_words = {chip.words.replace("\N{NO-BREAK SPACE}", " "): chip.query for chip in chips}
    assert by_words["Rift-sawn"] == f"?species={slab.species_id}&sawn=flat&length=7+ft"
    assert by_words["At least 7 ft long"] == f"?species={slab.species_id}&sawn=flat&sawn=rift"
    assert set(by_words) == {
        slab.species.common_name,
        "Flat-sawn",
        "Rift-sawn",
        "At least 7 ft long",
    }


def test_an_address_with_empty_answers_is_tidied(owner_client: Client) -> None:
    answer = owner_client.get(ADDRESS + "?q=&sawn=flat&length=&page=2&pages=")
    assert answer.status_code == 302
    assert answer.headers["Location"] == "?sawn=flat&page=2"


def make_many(count: int) -> None:
    copy_slab(make_slab(), count - 1)


def test_pages_follow_each_other_without_a_gap_or_a_repeat(owner_client: Client) -> None:
    make_many(53)
    pages = [listed(owner_client, f"?page={number}&sort=readiest") for number in (1, 2, 3)]
    assert [len(page) for page in pages] == [24, 24, 5]
    assert len(set.union(*pages)) == 53


def test_pages_loaded_so_far_stand_in_the_address(owner_client: Client) -> None:
    make_many(53)
    first = owner_client.get(ADDRESS + "?sort=code").content.decode()
    assert 'href="?sort=code&amp;page=2"' in first
    assert 'hx-get="/slabs/?sort=code&amp;pages=2"' in first
    assert 'hx-replace-url="true"' in first
    again = owner_client.get(ADDRESS + "?sort=code&pages=2")
    assert len(again.context["browse"].cards) == 48
    assert 'hx-get="/slabs/?sort=code&amp;pages=3"' in again.content.decode()
    assert len(listed(owner_client, "?sort=code&pages=3")) == 53


def test_show_more_is_answered_with_the_new_cards_alone(owner_client: Client) -> None:
    make_many(53)
    everything = listed(owner_client, "?sort=code&pages=2")
    shown = listed(owner_client, "?sort=code")
    headers = HTMX | {"HX-Target": "more"}
    more = owner_client.get(ADDRESS + "?sort=code&pages=2", headers=headers)
    new = {card.slab.code for card in more.context["browse"].cards}
    assert new == everything - shown
    assert "<html" not in more.content.decode()
    assert "HX-Request" in more.headers["Vary"]


def test_a_changed_filter_is_answered_with_the_middle_of_the_page(owner_client: Client) -> None:
    make_slab()
    headers = HTMX | {"HX-Target": "browse"}
    middle = owner_client.get(ADDRESS + "?sawn=flat", headers=headers).content.decode()
    assert middle.lstrip().startswith('<div id="browse"')
    assert "<html" not in middle


def test_going_back_is_answered_with_the_whole_page(owner_client: Client) -> None:
    headers = HTMX | {"HX-Target": "browse", "HX-History-Restore-Request": "true"}
    assert "<html" in owner_client.get(ADDRESS, headers=headers).content.decode()


def test_only_so_many_pages_are_shown_at_once(owner_client: Client) -> None:
    make_many(24 * 11)
    page = owner_client.get(ADDRESS + "?sort=code&pages=50")
    assert len(page.context["browse"].cards) == 240
    assert 'href="?sort=code&amp;page=11"' in page.content.decode()
    assert "hx-replace-url" not in page.content.decode()


def test_an_empty_page_says_what_to_loosen(owner_client: Client) -> None:
    make_slab(sawn="flat", asking_price=Decimal("900.00"))
    make_slab(sawn="flat", asking_price=Decimal("800.00"))
    gone = with_state(make_slab(sawn="rift"), standing=Standing.GONE, gone_how="sold")
    page = owner_client.get(ADDRESS + "?sawn=flat&price_to=100")
    ways = [(way.words, way.count) for way in page.context["browse"].loosenings]
    assert ways == [("Up to $100.00", 2)]
    page = owner_client.get(ADDRESS + f"?sawn=rift&species={gone.species_id}")
    assert "leave out more than one" in page.content.decode()


def test_every_role_may_look_and_signed_out_people_may_not(
    owner_client: Client, worker_client: Client, buyer_client: Client, client: Client
) -> None:
    for one in (owner_client, worker_client, buyer_client):
        assert one.get(ADDRESS).status_code == 200
        assert one.post(ADDRESS).status_code == 405
    assert client.get(ADDRESS).status_code == 302
