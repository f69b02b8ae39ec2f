"""Two to four slabs side by side."""

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from catalogue.comparing import Row
from inventory.models import Slab, Standing
from tests.catalogue.test_browse import with_state
from tests.factories import make_slab


def address(*slabs: Slab) -> str:
    return "/compare/?" + "&".join(f"slab={slab.code}" for slab in slabs)


def rows(client: Client, *slabs: Slab) -> dict[str, Row]:
    comparison = client.get(address(*slabs)).context["comparison"]
    return {row.words: row for row in comparison.rows}


def test_slabs_stand_in_the_order_asked_with_one_scale(owner_client: Client) -> None:
    slabs = [make_slab(length_mm=length) for length in (2000.0, 3000.0, 1000.0)]
    page = owner_client.get(address(*slabs))
    columns = page.context["comparison"].columns
    assert [column.card.slab.code for column in columns] == [slab.code for slab in slabs]
    assert len({column.drawn.view_box for column in columns}) == 1
    # One each, and one with all of them laid over each other.
    assert page.content.decode().count('class="upright"') == 4


def test_a_slab_is_turned_and_flipped_by_the_address_and_back_again(owner_client: Client) -> None:
    wedge = make_slab(length_mm=1000.0, widths=[(0.0, 400.0), (1.0, 200.0)])
    other = make_slab()
    plain, *_ = columns(owner_client, address(wedge, other))
    turned, *_ = columns(owner_client, f"/compare/{plain.turn_query}")
    assert turned.is_turned
    assert turned.drawn.path != plain.drawn.path
    assert set(turned.drawn.path.strip("MZ").split("L")) == {
        "-200 -1000", "200 -1000", "-100 0", "100 0"
    }  # fmt: skip
    back, *_ = columns(owner_client, f"/compare/{turned.turn_query}")
    assert back.drawn == plain.drawn
    both, *_ = columns(owner_client, f"/compare/{turned.flip_query}")
    assert both.is_turned
    assert both.is_flipped


def test_an_address_that_turns_what_is_not_there_turns_nothing(owner_client: Client) -> None:
    one, two = make_slab(), make_slab()
    page = f"{address(one, two)}&turn=nonsense&flip=%00"
    assert not any(one.is_turned or one.is_flipped for one in columns(owner_client, page))


def columns(client: Client, page: str) -> list[Any]:
    answer = client.get(page)
    assert answer.status_code == 200
    return list(answer.context["comparison"].columns)


def test_the_greatest_of_each_size_stands_out_and_bars_are_in_proportion(
    owner_client: Client,
) -> None:
    short, long = make_slab(length_mm=1500.0), make_slab(length_mm=3000.0)
    length = rows(owner_client, short, long)["Length"]
    assert [cell.bar for cell in length.cells] == [50.0, 100.0]
    assert [cell.is_greatest for cell in length.cells] == [False, True]
    thickness = rows(owner_client, short, long)["Thickness"]
    assert not thickness.differs
    assert not any(cell.is_greatest for cell in thickness.cells)


def test_what_is_not_known_is_a_dash_and_breaks_nothing(owner_client: Client) -> None:
    bare = make_slab(asking_price=None)
    Slab.objects.filter(pk=bare.pk).update(widths=[], mean_width_mm=0, volume_mm3=0)
    found = rows(owner_client, bare, make_slab())
    assert found["Asking price"].cells[0].shown == "–"
    assert found["Width, mean inside bark"].cells[0].shown == "–"


def test_cost_is_compared_only_for_those_who_see_it(
    owner_client: Client, worker_client: Client
) -> None:
    one = with_state(make_slab(), cost=Decimal("111.11"))
    other = with_state(make_slab(), cost=Decimal("222.22"))
    assert rows(owner_client, one, other)["Landed cost"].cells[1].shown == "$222.22"
    page = worker_client.get(address(one, other)).content.decode()
    assert "Landed cost" not in page
    assert "222.22" not in page


def test_one_slab_alone_asks_for_another(owner_client: Client) -> None:
    slab = make_slab()
    page = owner_client.get(address(slab))
    assert page.status_code == 200
    assert "Choose two to four slabs" in page.content.decode()
    assert slab.display_code in page.content.decode()
    assert "Choose two to four slabs" in owner_client.get("/compare/").content.decode()


def test_five_slabs_are_asked_to_become_four(owner_client: Client) -> None:
    slabs = [make_slab() for _ in range(5)]
    page = owner_client.get(address(*slabs))
    assert "Four at most fit side by side: take 1 away." in page.content.decode()
    assert len(page.context["comparison"].columns) == 5
    assert 'id="add-code"' not in page.content.decode()


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("22223", "No slab here bears the code 222-23."),
        ("K0M-4Q", "there is no zero on our tags"),
        ("<b>", "is not in a code"),
    ],
)
def test_a_code_that_is_none_becomes_a_sentence(
    owner_client: Client, typed: str, sentence: str
) -> None:
    one, other = make_slab(), make_slab()
    page = owner_client.get("/compare/", {"slab": [one.code, other.code, typed]})
    assert sentence in page.content.decode()
    assert "<b>" not in page.content.decode()
    assert len(page.context["comparison"].columns) == 2


def test_one_is_taken_away_and_one_added_by_code(owner_client: Client) -> None:
    one, two, three = make_slab(), make_slab(), make_slab()
    page = owner_client.get(address(one, two, three))
    without = page.context["comparison"].columns[1].without_query
    assert without == f"?slab={one.code}&slab={three.code}"
    added = owner_client.get("/compare/", {"slab": [one.code, three.code.lower(), one.code, ""]})
    assert added.context["comparison"].codes == [one.code, three.code]


def test_gone_wood_may_be_looked_back_at_by_staff(owner_client: Client) -> None:
    gone = with_state(make_slab(), standing=Standing.GONE, gone_how="sold")
    assert "Sold" in owner_client.get(address(gone, make_slab())).content.decode()


def test_compare_is_for_signed_in_people_and_for_looking(
    client: Client, owner_client: Client
) -> None:
    assert client.get("/compare/").status_code == 302
    assert owner_client.post("/compare/").status_code == 405
