"""The numbers beside the choices agree with the results, and cost no more in a larger yard."""

import random
from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.http import QueryDict
from django.test import Client
from django.test.utils import CaptureQueriesContext

from catalogue import browsing, filters
from catalogue.filters import SlabFilter
from inventory import worth
from inventory.models import Condition, Figure, Person, Sawn, Slab, Standing
from inventory.viewer import Viewer
from tests.factories import at, copy_slab, make_log, make_place, make_slab, make_species

TODAY = date(2026, 5, 4)
# Under a year, a year to the day, just under two, two to the day, three and more.
DAYS = ((2026, 5, 4), (2025, 5, 4), (2024, 5, 5), (2024, 5, 4), (2022, 1, 1))


def random_yard(seed: int, count: int = 40) -> None:
    rng = random.Random(seed)
    species, places = [make_species() for _ in range(3)], [make_place() for _ in range(2)]
    for _ in range(count):
        slab = make_slab(
            species=rng.choice(species),
            place=rng.choice([*places, None]),
            sawn=rng.choice(Sawn.values),
            figures=rng.sample(Figure.values, rng.choice((0, 1, 2))),
            length_mm=rng.choice((1200.0, 2400.0, 3600.0)),
            asking_price=rng.choice((None, Decimal("400.00"), Decimal("1600.00"))),
        )
        standing = rng.choice(Standing.values)
        Slab.objects.filter(pk=slab.pk).update(
            standing=standing,
            gone_how="sold" if standing == Standing.GONE else "",
            condition=rng.choice(Condition.values),
            received_at=at(*rng.choice(DAYS)),
        )


def random_address(facets: list[browsing.Facet], rng: random.Random) -> str:
    """One or two groups with one or two choices each, and now and then a size or a price."""
    parts = []
    for facet in rng.sample(facets, rng.choice((1, 2))):
        chosen = rng.sample(facet.choices, rng.choice((1, 2)))
        parts += [f"{facet.group.name}={choice.value}" for choice in chosen]
    parts += rng.sample(["length=2+m", "price_to=1000", "thickness=2+in"], rng.choice((0, 0, 1)))
    return "&".join(parts)


def with_only(address: str, group: str, value: str) -> str:
    answers = QueryDict(address, mutable=True)
    answers.setlist(group, [value])
    return answers.urlencode()


@pytest.mark.parametrize("client_view", [False, True])
def test_every_count_is_what_the_page_would_list(owner: Person, client_view: bool) -> None:
    seed = 5
    random_yard(seed)
    rng, viewer = random.Random(seed), Viewer(owner, client_view)
    facets = browsing.look(QueryDict(""), viewer, on=TODAY).facets
    checked = 0
    for _ in range(6):
        address = random_address(facets, rng)
        for facet in browsing.look(QueryDict(address), viewer, on=TODAY).facets:
            for choice in facet.choices:
                alone = with_only(address, facet.group.name, choice.value)
                listed = SlabFilter(QueryDict(alone), viewer, TODAY).qs.count()
                assert choice.count == listed, alone
                checked += choice.count > 0
    assert checked > 60


def test_the_total_is_the_number_of_slabs_listed(owner: Person) -> None:
    random_yard(9, 60)
    viewer = Viewer(owner)
    for address in ("", "sawn=flat", "figure=burl&figure=curl", "condition=ready&length=2+m"):
        looked = browsing.look(QueryDict(f"{address}&pages=9"), viewer)
        assert looked.total == len(looked.cards) > 0, address


@pytest.mark.parametrize("client_view", [False, True])
@pytest.mark.parametrize("rest", ["", "&sort=dearest", "&length=2+m&view=outlines", "&figure=curl"])
def test_a_word_on_very_many_slabs_is_read_once_and_counted_the_same(
    owner: Person, monkeypatch: pytest.MonkeyPatch, client_view: bool, rest: str
) -> None:
    random_yard(13)
    Slab.objects.filter(pk__in=Slab.objects.order_by("pk")[:33]).update(client_note="Even wane.")
    viewer, data = Viewer(owner, client_view), QueryDict(f"q=wane{rest}")
    told = browsing.look(data, viewer, on=TODAY)
    assert 0 < told.total <= 33
    monkeypatch.setattr(filters, "MOST_KEYS", 5)
    with CaptureQueriesContext(connection) as asked:
        read = browsing.look(data, viewer, on=TODAY)
    assert [facet.choices for facet in read.facets] == [facet.choices for facet in told.facets]
    assert [card.slab for card in read.cards] == [card.slab for card in told.cards]
    assert (read.total, read.frame) == (told.total, told.frame)
    if "figure" not in rest:
        # Once to see that there are too many, once for all that is shown.
        assert sum("client_note" in one["sql"] and "wane" in one["sql"] for one in asked) == 2


def test_how_long_in_stock_and_priced_are_asked_as_worth_sums_them(owner: Person) -> None:
    random_yard(3)
    viewer, scope = Viewer(owner), worth.Scope(TODAY)
    for row in worth.summary("age", scope).rows:
        looked = browsing.look(QueryDict(f"age={row.key}&pages=9"), viewer, on=TODAY)
        assert looked.total == len(looked.cards) == row.pieces > 0, row.label
    unpriced = browsing.look(QueryDict("priced=no"), viewer, on=TODAY)
    assert unpriced.total == worth.summary("age", scope).total.unpriced > 0
    client = browsing.look(QueryDict("age=2&priced=no"), Viewer(owner, True), on=TODAY)
    assert not {"age", "priced"} & {facet.group.name for facet in client.facets}
    assert client.total == Slab.objects.in_stock().count(), "a client's question of it does nothing"


def test_counts_by_hand(owner: Person) -> None:
    walnut, oak = make_species(), make_species()
    make_slab(species=walnut, figures=["burl", "curl"], sawn="flat")
    make_slab(species=walnut, figures=["curl"], sawn="rift")
    make_slab(species=oak, sawn="flat")
    looked = browsing.look(QueryDict(f"species={walnut.pk}&sawn=flat"), Viewer(owner))
    counts = {
        facet.group.name: {choice.value: choice.count for choice in facet.choices}
        for facet in looked.facets
    }
    assert counts["species"] == {str(walnut.pk): 1, str(oak.pk): 1}
    assert {value: n for value, n in counts["sawn"].items() if n} == {"flat": 1, "rift": 1}
    assert {value: n for value, n in counts["figure"].items() if n} == {"burl": 1, "curl": 1}
    assert looked.total == 1


def queries_of(client: Client, address: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as asked:
        assert client.get(address).status_code == 200
    return len(asked)


@pytest.mark.parametrize(
    "address",
    [
        "/slabs/?",
        "/slabs/?sort=readiest&figure=curl",
        "/slabs/?length=2+m&price_to=2000&sawn=flat",
        "/slabs/?q=note",
        "/slabs/?pages=3",
    ],
)
def test_a_larger_yard_asks_no_more_questions(owner_client: Client, address: str) -> None:
    species = make_species()
    for _ in range(10):
        make_slab(
            log=make_log(species=species),
            species=species,
            place=make_place(),
            figures=["curl"],
            sawn="flat",
            client_note="a note",
        )
    queries_of(owner_client, address)
    few = queries_of(owner_client, address)
    copy_slab(Slab.objects.earliest("pk"), 990)
    assert Slab.objects.count() == 1000
    assert queries_of(owner_client, address) == few


def test_the_slab_page_asks_no_more_for_a_large_log(owner_client: Client) -> None:
    log = make_log()
    slab = make_slab(log=log, number_in_log=1)
    make_slab(log=log, number_in_log=2)
    queries_of(owner_client, slab.get_absolute_url())
    few = queries_of(owner_client, slab.get_absolute_url())
    copy_slab(slab, 200)
    assert queries_of(owner_client, slab.get_absolute_url()) == few
