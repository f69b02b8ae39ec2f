"""What a parcel cost, landed, and how that falls on each slab: to the cent, summing exactly."""

from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from inventory import derive, parcels, receiving
from inventory.models import (
    CostKind,
    GoneHow,
    HistoryIsKept,
    Parcel,
    ParcelCost,
    Person,
    Slab,
    SplitBasis,
    Standing,
)
from tests.factories import make_parcel, make_slab, make_species

ON = date(2026, 3, 2)


def bill(
    parcel: Parcel, amount: str, kind: CostKind = CostKind.TIMBER, **kwargs: Any
) -> ParcelCost:
    return parcels.add_cost(parcel, kind, Decimal(amount), ON, by=None, **kwargs)


def square(parcel: Parcel, width_mm: float, **kwargs: Any) -> Slab:
    """A slab 1 m long and 50 mm thick of even width: its volume is width × 50 000 mm³."""
    return make_slab(
        [(0.0, width_mm), (1.0, width_mm)],
        parcel=parcel,
        length_mm=1000.0,
        thickness_mm=50.0,
        **kwargs,
    )


def costs(parcel: Parcel) -> list[Decimal]:
    return list(parcel.slabs.order_by("pk").values_list("cost", flat=True))


@given(
    cents=st.integers(0, 10**12),
    weights=st.lists(st.integers(0, 10**11), min_size=1, max_size=60),
)
def test_any_split_sums_exactly_and_no_part_is_a_cent_off_its_quota(
    cents: int, weights: list[int]
) -> None:
    total = Decimal(cents).scaleb(-2)
    parts = parcels.split_cents(total, weights)
    assert sum(parts) == total
    fair = weights if any(weights) else [1] * len(weights)
    for part, weight in zip(parts, fair, strict=True):
        assert abs(int(part * 100) * sum(fair) - cents * weight) < sum(fair)


@given(
    cents=st.integers(0, 10**7),
    weights=st.lists(st.integers(0, 10**6), min_size=2, max_size=20),
    rng=st.randoms(use_true_random=False),
)
def test_a_greater_weight_never_gets_less(cents: int, weights: list[int], rng: Any) -> None:
    parts = parcels.split_cents(Decimal(cents).scaleb(-2), weights)
    pairs = sorted(zip(weights, parts, strict=True))
    for (lighter, less), (heavier, more) in pairwise(pairs):
        assert lighter == heavier or less <= more


# COMAP, For All Practical Purposes, 10th edition (W. H. Freeman, 2016), example 6 and table 14.5:
# the bill of 1792 that was vetoed, 120 seats by Hamilton's method over the census of 1790.
CENSUS_1790 = {
    "Virginia": (630_560, 21),
    "Massachusetts": (475_327, 16),
    "Pennsylvania": (432_879, 14),
    "North Carolina": (353_523, 12),
    "New York": (331_589, 11),
    "Maryland": (278_514, 9),
    "Connecticut": (236_841, 8),
    "South Carolina": (206_236, 7),
    "New Jersey": (179_570, 6),
    "New Hampshire": (141_822, 5),
    "Vermont": (85_533, 3),
    "Georgia": (70_835, 2),
    "Kentucky": (68_705, 2),
    "Rhode Island": (68_446, 2),
    "Delaware": (55_540, 2),
}


def test_the_split_is_hamiltons_as_published_for_the_house_of_1792() -> None:
    people = [people for people, _ in CENSUS_1790.values()]
    parts = parcels.split_cents(Decimal("1.20"), people)
    assert [int(part * 100) for part in parts] == [seats for _, seats in CENSUS_1790.values()]


def test_a_tie_goes_to_the_earlier_slab() -> None:
    assert parcels.split_cents(Decimal("1.00"), [1, 1, 1]) == [
        Decimal("0.34"),
        Decimal("0.33"),
        Decimal("0.33"),
    ]


def test_weights_that_are_all_nothing_share_alike_and_no_weights_give_no_parts() -> None:
    assert parcels.split_cents(Decimal("0.03"), [0, 0]) == [Decimal("0.02"), Decimal("0.01")]
    assert parcels.split_cents(Decimal("5.00"), []) == []


@pytest.mark.parametrize(("total", "weights"), [("1.005", [1]), ("1.00", [2, -1])])
def test_what_cannot_be_split_is_refused(total: str, weights: list[int]) -> None:
    with pytest.raises(ValueError, match=r"cents|zero"):
        parcels.split_cents(Decimal(total), weights)


@pytest.mark.django_db
def test_landed_cost_is_the_sum_of_bills_and_falls_by_volume() -> None:
    parcel = make_parcel()
    square(parcel, 300.0)
    square(parcel, 600.0)
    bill(parcel, "800.00")
    bill(parcel, "100.01", CostKind.HAULAGE)
    assert parcels.landed_cost(parcel) == Decimal("900.01")
    assert costs(parcel) == [Decimal("300.00"), Decimal("600.01")]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("basis", "shares"),
    [
        (SplitBasis.VOLUME, ["25.00", "75.00"]),
        (SplitBasis.AREA, ["50.00", "50.00"]),
        (SplitBasis.ASKING, ["10.00", "90.00"]),
        (SplitBasis.EQUAL, ["50.00", "50.00"]),
    ],
)
def test_each_basis_splits_by_what_it_says(basis: SplitBasis, shares: list[str]) -> None:
    parcel = make_parcel()
    for thickness_mm, price in ((25.0, "100.00"), (75.0, "900.00")):
        make_slab(parcel=parcel, thickness_mm=thickness_mm, asking_price=Decimal(price))
    bill(parcel, "100.00")
    parcels.change_basis(parcel, basis)
    assert costs(parcel) == [Decimal(share) for share in shares]


@pytest.mark.django_db
def test_a_published_volume_carries_its_share() -> None:
    """reference/volume.md: 55 × 610 mm × 2.70 m is 0.090585 m³; beside 1 m³ at 1090.59 in all."""
    parcel = make_parcel()
    even = [(0.0, 610.0), (1.0, 610.0)]
    make_slab(even, parcel=parcel, thickness_mm=55.0, length_mm=2700.0)
    make_slab([(0.5, 1000.0)], parcel=parcel, thickness_mm=200.0, length_mm=5000.0)
    bill(parcel, "1090.59")
    assert costs(parcel) == [Decimal("90.59"), Decimal("1000.00")]


@pytest.mark.django_db
def test_a_slab_that_is_gone_keeps_its_share() -> None:
    """Costs are identified item by item (IAS 2, paragraph 23)."""
    parcel = make_parcel()
    gone, _ = square(parcel, 300.0), square(parcel, 300.0)
    Slab.objects.filter(pk=gone.pk).update(standing=Standing.GONE, gone_how=GoneHow.SOLD)
    bill(parcel, "90.00")
    assert costs(parcel) == [Decimal("45.00"), Decimal("45.00")]


@pytest.mark.django_db
def test_a_slab_without_size_carries_nothing_while_others_have_some() -> None:
    parcel = make_parcel()
    bare = make_slab(parcel=parcel)
    Slab.objects.filter(pk=bare.pk).update(volume_mm3=0.0)
    square(parcel, 300.0)
    bill(parcel, "70.00")
    split = parcels.splits([parcel.pk])[parcel.pk]
    assert costs(parcel) == [Decimal("0.00"), Decimal("70.00")]
    assert split.without_weight == {bare.pk}
    assert not split.is_equal_for_want


@pytest.mark.django_db
def test_where_nothing_has_a_size_all_share_alike_and_the_split_says_so() -> None:
    parcel = make_parcel(split_basis=SplitBasis.ASKING)
    for _ in range(3):
        make_slab(parcel=parcel, asking_price=None)
    bill(parcel, "1.00")
    assert costs(parcel) == [Decimal("0.34"), Decimal("0.33"), Decimal("0.33")]
    assert parcels.splits([parcel.pk])[parcel.pk].is_equal_for_want


@pytest.mark.django_db
def test_own_cost_stands_alone_and_comes_on_top_of_a_share() -> None:
    parcel = make_parcel()
    alone = make_slab(own_cost=Decimal("210.00"))
    both = square(parcel, 300.0, own_cost=Decimal("12.50"))
    bill(parcel, "100.00")
    assert parcels.costs_many([alone, both]) == {
        alone.pk: Decimal("210.00"),
        both.pk: Decimal("112.50"),
    }


@pytest.mark.django_db
def test_a_slab_of_no_parcel_and_no_own_cost_costs_nothing() -> None:
    slab = make_slab()
    assert parcels.costs_many([slab]) == {slab.pk: Decimal("0.00")}


@pytest.mark.django_db
def test_a_correction_supersedes_a_bill_and_both_stay(owner: Person) -> None:
    parcel = make_parcel()
    square(parcel, 300.0)
    wrong = bill(parcel, "1000.00")
    right = parcels.correct_cost(
        wrong, CostKind.TIMBER, Decimal("100.00"), ON, by=owner, note="A nought too many"
    )
    assert list(parcel.costs.current()) == [right]
    assert set(parcel.costs.all()) == {wrong, right}
    assert costs(parcel) == [Decimal("100.00")]
    with pytest.raises(HistoryIsKept):
        wrong.delete()


@pytest.mark.django_db
def test_a_bill_cannot_be_corrected_twice(owner: Person) -> None:
    wrong = bill(make_parcel(), "10.00")
    parcels.correct_cost(wrong, CostKind.TIMBER, Decimal("1.00"), ON, by=owner)
    with pytest.raises(parcels.ParcelProblem, match="newer one"):
        parcels.correct_cost(wrong, CostKind.TIMBER, Decimal("2.00"), ON, by=owner)


@pytest.mark.django_db
@pytest.mark.parametrize("amount", ["-0.01", "1.005", "10000000000.00", "NaN"])
def test_an_odd_amount_is_refused_in_words(amount: str) -> None:
    with pytest.raises(parcels.ParcelProblem):
        bill(make_parcel(), amount)


@pytest.mark.django_db
def test_refreshing_writes_only_what_changed_and_leaves_what_derive_would_write() -> None:
    parcel = make_parcel()
    square(parcel, 300.0)
    bill(parcel, "100.00")
    newcomer = square(parcel, 100.0)
    assert parcels.refresh_parcel(parcel) == 2
    assert parcels.refresh_parcel(parcel) == 0
    newcomer.refresh_from_db()
    assert derive.differences(newcomer, ON, ["cost"]) == {}
    assert sum(costs(parcel)) == Decimal("100.00")


def queries_of_a_bill(slabs: int) -> int:
    parcel = make_parcel()
    for number in range(slabs):
        square(parcel, 300.0 + number)
    with CaptureQueriesContext(
        connection,
    ) as queries:
        bill(parcel, "1234.56")
    assert sum(costs(parcel)) == Decimal("1234.56")
    return len(queries)


@pytest.mark.django_db
def test_a_bill_asks_the_database_as_often_for_sixty_slabs_as_for_six() -> None:
    assert queries_of_a_bill(6) == queries_of_a_bill(60)


@pytest.mark.django_db
def test_costs_of_many_slabs_of_many_parcels_take_three_queries(
    django_assert_num_queries: Any,
) -> None:
    for _ in range(8):
        parcel = make_parcel()
        square(parcel, 300.0)
        bill(parcel, "10.00")
    slabs = list(Slab.objects.all())
    with django_assert_num_queries(3):
        assert set(parcels.costs_many(slabs).values()) == {Decimal("10.00")}


def received(parcel: Parcel, width_mm: float, **kwargs: Any) -> Slab:
    facts: dict[str, Any] = {
        "species": make_species(),
        "length_mm": 1000.0,
        "thickness_mm": 50.0,
        "widths": [[0.5, width_mm]],
        "sawn": "",
        "parcel": parcel,
        "asking_price": Decimal("100.00"),
    }
    return receiving.receive(None, timezone.now(), **{**facts, **kwargs})


@pytest.mark.django_db
def test_receiving_and_measuring_a_slab_share_the_cost_anew() -> None:
    parcel = make_parcel()
    received(parcel, 300.0)
    bill(parcel, "90.00")
    second = received(parcel, 600.0)
    assert costs(parcel) == [Decimal("30.00"), Decimal("60.00")]
    receiving.measure(second, None, timezone.now(), widths=[[0.5, 300.0]])
    assert costs(parcel) == [Decimal("45.00"), Decimal("45.00")]


@pytest.mark.django_db
def test_a_new_asking_price_shares_the_cost_anew_where_that_is_the_basis() -> None:
    parcel = make_parcel(split_basis=SplitBasis.ASKING)
    slab, _ = received(parcel, 300.0), received(parcel, 300.0)
    bill(parcel, "90.00")
    price = Decimal("200.00")
    receiving.price(slab, None, timezone.now(), asking_price=price, own_cost=None)
    assert costs(parcel) == [Decimal("60.00"), Decimal("30.00")]
