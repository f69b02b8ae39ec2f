"""What the stock cost and is worth: exact to the cent, item by item, in as many queries as ever."""

from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import pytest
import time_machine
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from inventory import worth
from inventory.models import GoneHow, Slab, Standing
from inventory.worth import Scope
from tests.factories import at, make_place, make_slab, make_species

ON = date(2026, 6, 30)
SCOPE = Scope(on=ON)


def stock(
    cost: str = "100.00",
    asking: str | None = "300.00",
    *,
    received: datetime | None = None,
    **kwargs: Any,
) -> Slab:
    """A slab with its stored cost and day of receipt set as if long since derived."""
    price = None if asking is None else Decimal(asking)
    slab = make_slab(asking_price=price, own_cost=Decimal(cost), **kwargs)
    Slab.objects.filter(pk=slab.pk).update(
        cost=Decimal(cost), received_at=received or at(2026, 5, 1)
    )
    return slab


def total(by: str = "species", scope: Scope = SCOPE) -> worth.Row:
    return worth.summary(by, scope).total


@given(
    cents=st.integers(0, 10**11),
    pct=st.decimals(min_value=0, max_value=100, places=2, allow_nan=False),
)
def test_what_a_slab_would_fetch_is_its_price_less_the_share_rounded_half_up(
    cents: int, pct: Decimal
) -> None:
    price = Decimal(cents).scaleb(-2)
    exact = price * (100 - pct) / 100
    fetched = worth.would_fetch(price, Scope(on=ON, selling_cost_pct=pct))
    assert fetched == exact.quantize(Decimal("0.01"), ROUND_HALF_UP)


# A textbook exercise on the lower of cost and net realisable value, item by item, over five kinds
# of trees: Warren, Reeve & Duchac, Accounting, chapter on inventories (author and title from
# memory; figures as printed in its published solution): quantity, unit cost, unit market value.
TREES = {
    "Birch": (12, "253.00", "228.00"),
    "Cypress": (18, "43.00", "48.00"),
    "Mountain ash": (12, "279.00", "262.00"),
    "Spruce": (50, "275.00", "266.00"),
    "Willow": (29, "291.00", "299.00"),
}
TREES_WORTH = {
    "Birch": "2736.00",
    "Cypress": "774.00",
    "Mountain ash": "3144.00",
    "Spruce": "13300.00",
    "Willow": "8439.00",
}


@pytest.mark.django_db
def test_the_lower_of_cost_and_net_realisable_value_as_a_published_exercise_has_it() -> None:
    for name, (quantity, cost, value) in TREES.items():
        species = make_species(common_name=f"Yard {name}")
        for _ in range(quantity):
            stock(cost, value, species=species)
    summary = worth.summary("species", Scope(on=ON, selling_cost_pct=Decimal(0)))
    worths = {row.label.removeprefix("Yard "): str(row.worth) for row in summary.rows}
    assert worths == TREES_WORTH
    assert summary.total.worth == Decimal("28393.00")


@pytest.mark.django_db
def test_a_gain_on_one_slab_never_makes_up_for_a_loss_on_another() -> None:
    """IAS 2, paragraph 29: item by item, not by the heap."""
    stock("100.00", "500.00")
    stock("400.00", "200.00")
    row = total()
    assert (row.cost, row.asking) == (Decimal("500.00"), Decimal("700.00"))
    assert row.worth == Decimal("280.00")
    assert row.write_down == Decimal("220.00")


@pytest.mark.django_db
def test_the_cost_of_selling_can_be_changed() -> None:
    stock("300.00", "300.00")
    assert total().worth == Decimal("270.00")
    assert total(scope=Scope(on=ON, selling_cost_pct=Decimal("12.5"))).worth == Decimal("262.50")


@pytest.mark.django_db
def test_a_slab_without_a_price_stands_at_cost_and_is_counted() -> None:
    stock("100.00", None)
    stock("100.00", "300.00")
    row = total()
    assert (row.pieces, row.unpriced) == (2, 1)
    assert (row.asking, row.worth) == (Decimal("300.00"), Decimal("200.00"))


@pytest.mark.django_db
def test_mean_asking_leaves_unpriced_wood_out_and_mean_cost_takes_it_in() -> None:
    """reference/volume.md: 55 × 610 mm × 2.70 m is 38.39 board feet."""
    size: dict[str, Any] = {"widths": [(0.5, 610.0)], "thickness_mm": 55.0, "length_mm": 2700.0}
    stock("383.90", "767.80", **size)
    stock("383.90", None, **size)
    row = total()
    assert row.asking_per_bf == Decimal("20.00")
    assert row.cost_per_bf == Decimal("10.00")
    assert worth.Row(None, "").cost_per_bf is None


@pytest.mark.django_db
@pytest.mark.parametrize("amount", ["0.01", "0.10", "0.07", "1234567.89"])
def test_two_thousand_small_amounts_add_up_exactly(amount: str) -> None:
    species = make_species()
    one = stock(amount, amount, species=species)
    fields = [field for field in Slab._meta.concrete_fields if not field.primary_key]
    row = {field.attname: getattr(Slab.objects.get(pk=one.pk), field.attname) for field in fields}
    copies = [Slab(**{**row, "code": f"{number:05}"}) for number in range(1999)]
    Slab.objects.bulk_create(copies)
    row_now = total(scope=Scope(on=ON, selling_cost_pct=Decimal(0)))
    assert row_now.cost == row_now.asking == row_now.worth == 2000 * Decimal(amount)


@pytest.mark.django_db
def test_rows_and_single_slabs_agree_to_the_cent() -> None:
    amounts = [("0.05", "0.05"), ("12.34", "13.71"), ("99.99", "111.10"), ("7.77", None)]
    for cost, asking in amounts:
        stock(cost, asking)
    scope = Scope(on=ON, selling_cost_pct=Decimal("9.99"))
    singly = [worth.lower_of(slab.cost, slab.asking_price, scope) for slab in Slab.objects.all()]
    assert total(scope=scope).worth == sum(singly)


@pytest.mark.django_db
def test_only_wood_in_stock_is_counted_unless_asked() -> None:
    stock()
    gone = stock("50.00")
    Slab.objects.filter(pk=gone.pk).update(standing=Standing.GONE, gone_how=GoneHow.SOLD)
    assert total().pieces == 1
    assert total(scope=Scope(on=ON, standings=(Standing.GONE,))).cost == Decimal("50.00")


@pytest.mark.django_db
def test_rows_come_in_their_natural_order_with_no_place_last() -> None:
    loft, yard = make_place(name="Loft", position=2), make_place(name="Yard", position=1)
    for place in (loft, None, yard):
        stock(place=place)
    rows = worth.summary("place", SCOPE).rows
    assert [row.label for row in rows] == ["Yard", "Loft", "No place said"]
    assert [row.key for row in rows] == [yard.pk, loft.pk, None]


@pytest.mark.django_db
def test_the_same_slabs_sum_alike_whichever_way_they_are_sorted() -> None:
    for number in range(6):
        stock(f"{number}.15", received=at(2020 + number, 3, 1), place=make_place())
    totals = [total(by) for by in worth.DIMENSIONS]
    assert {(row.pieces, row.cost, row.worth, row.long_cost) for row in totals} == {
        (6, Decimal("15.90"), Decimal("15.90"), totals[0].long_cost)
    }


@pytest.mark.django_db
def test_species_and_place_narrow_the_count() -> None:
    slab, _ = stock(place=make_place()), stock(place=make_place())
    assert total(scope=Scope(on=ON, species_pk=slab.species_id)).pieces == 1
    assert total(scope=Scope(on=ON, place_pk=slab.place_id)).pieces == 1


@pytest.mark.django_db
def test_two_years_in_stock_are_counted_to_the_day() -> None:
    stock("10.00", received=at(2024, 6, 30, 23))
    stock("20.00", received=at(2024, 7, 1, 0))
    row = total()
    assert (row.long_pieces, row.long_cost) == (1, Decimal("10.00"))


def test_a_leap_day_s_anniversary_is_the_twenty_eighth() -> None:
    assert worth.years_before(date(2028, 2, 29), 2) == date(2026, 2, 28)


@pytest.mark.django_db
@time_machine.travel("2026-06-30T12:00:00Z")
def test_stock_by_species_and_age_puts_each_slab_in_one_band() -> None:
    species = make_species()
    for year in (2026, 2025, 2024, 2023, 2019):
        stock(species=species, received=at(year, 6, 30))
    (bar,) = worth.ages_by_species(Scope(on=timezone.localdate()))
    assert bar.pieces == (1, 1, 1, 2)
    assert bar.total_mm3 == pytest.approx(5 * bar.volumes_mm3[0])


@pytest.mark.django_db
def test_a_summary_is_one_query_however_many_slabs(django_assert_num_queries: Any) -> None:
    for _ in range(12):
        stock()
    for by in worth.DIMENSIONS:
        with django_assert_num_queries(1):
            worth.summary(by, SCOPE)
    with django_assert_num_queries(1):
        worth.ages_by_species(SCOPE)


@pytest.mark.django_db
def test_an_empty_yard_is_worth_nothing() -> None:
    assert total().worth == Decimal("0.00")
    assert worth.summary("species", SCOPE).rows == ()
