"""Moving slabs and changing how they are dried: place, bay, stages and ledger agree."""

from collections.abc import Callable, Iterator
from datetime import date

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory import holds, moves
from inventory.models import (
    Condition,
    DryingStage,
    GoneHow,
    LedgerEntry,
    LedgerKind,
    MoistureCheck,
    Person,
    PlaceKind,
    Slab,
    StageKind,
)
from tests.factories import at, make_bay, make_place, make_slab

pytestmark = pytest.mark.django_db
NOW = at(2026, 5, 20)
TODAY = NOW.date()


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def stages_of(slab: Slab) -> list[tuple[str, str, date, date | None]]:
    rows = DryingStage.objects.filter(slab=slab).order_by("started_on", "pk")
    return [(s.kind, s.place.name if s.place else "", s.started_on, s.ended_on) for s in rows]


def entries_of(slab: Slab) -> list[tuple[str, str, str]]:
    rows = LedgerEntry.objects.filter(slab=slab).order_by("pk")
    return [(row.kind, row.before, row.after) for row in rows]


def test_a_move_writes_place_bay_stage_and_both_ledger_entries(worker: Person) -> None:
    yard, shop = make_place(PlaceKind.YARD, name="Yard"), make_place(PlaceKind.SHOP, name="Shop")
    rack = make_bay(shop, name="Rack 2")
    slab = make_slab()
    moves.move(slab, place=yard, bay=None, by=worker, on=date(2025, 5, 1), now=NOW)
    moves.move(slab, place=shop, bay=rack, by=worker, on=TODAY, now=NOW, note="for the client")
    assert (slab.place, slab.bay) == (shop, rack)
    assert stages_of(slab) == [
        (StageKind.AIR, "Yard", date(2025, 5, 1), TODAY),
        (StageKind.SHOP, "Shop", TODAY, None),
    ]
    assert entries_of(slab) == [
        (LedgerKind.MOVED, "Not put anywhere", "Yard, from 1 May 2025"),
        (LedgerKind.STAGE, "No stage", "Air drying, Yard, from 1 May 2025"),
        (LedgerKind.MOVED, "Yard", "Shop, Rack 2"),
        (LedgerKind.STAGE, "Air drying, Yard", "Resting in the shop, Shop"),
    ]
    last = LedgerEntry.objects.filter(slab=slab, kind=LedgerKind.MOVED).latest("pk")
    assert (last.by, last.at, last.note) == (worker, NOW, "for the client")


@pytest.mark.parametrize(
    ("place_kind", "stage_kind"),
    [
        (PlaceKind.YARD, StageKind.AIR),
        (PlaceKind.SHED, StageKind.AIR),
        (PlaceKind.KILN, StageKind.KILN),
        (PlaceKind.CONDITIONING, StageKind.CONDITIONING),
        (PlaceKind.SHOP, StageKind.SHOP),
        (PlaceKind.SHOWROOM, StageKind.SHOP),
    ],
)
def test_a_place_suggests_its_stage(place_kind: str, stage_kind: str, worker: Person) -> None:
    slab = make_slab()
    place = make_place(place_kind)
    moves.move(slab, place=place, bay=None, by=worker, on=TODAY, now=NOW)
    assert slab.stages.get().kind == stage_kind


def test_the_person_may_name_another_stage(worker: Person) -> None:
    slab = make_slab()
    shop = make_place(PlaceKind.SHOP)
    air = StageKind.AIR
    moves.move(slab, place=shop, bay=None, by=worker, on=TODAY, now=NOW, stage=air)
    assert slab.stages.get().kind == StageKind.AIR


def test_another_bay_of_the_same_place_leaves_the_stage_alone(worker: Person) -> None:
    shed = make_place(PlaceKind.SHED, name="Shed")
    slab = make_slab(place=shed)
    moves.change_stage(
        slab, kind=StageKind.KILN, place=shed, started_on=date(2026, 5, 1), by=worker, now=NOW
    )
    bay = make_bay(shed, name="Bay 1")
    moves.move(slab, place=shed, bay=bay, by=worker, on=TODAY, now=NOW)
    assert stages_of(slab) == [(StageKind.KILN, "Shed", date(2026, 5, 1), None)]
    assert entries_of(slab)[-1] == (LedgerKind.MOVED, "Shed", "Shed, Bay 1")


def test_two_places_of_one_kind_are_two_stages_and_one_ledger_entry(worker: Person) -> None:
    """The air differs from shed to shed, so the record must say which; the drying is the same."""
    slab = make_slab()
    first, second = make_place(PlaceKind.SHED, name="A"), make_place(PlaceKind.SHED, name="B")
    moves.move(slab, place=first, bay=None, by=worker, on=date(2026, 1, 5), now=NOW)
    moves.move(slab, place=second, bay=None, by=worker, on=TODAY, now=NOW)
    assert [stage[:2] for stage in stages_of(slab)] == [("air", "A"), ("air", "B")]
    assert entries_of(slab)[2:] == [(LedgerKind.MOVED, "A", "B")]


def test_a_slip_put_right_the_same_day_leaves_one_stage(worker: Person) -> None:
    slab = make_slab()
    yard, kiln, shed = (make_place(kind) for kind in ("yard", "kiln", "shed"))
    moves.move(slab, place=yard, bay=None, by=worker, on=date(2026, 1, 5), now=NOW)
    for place in (kiln, shed):
        moves.move(slab, place=place, bay=None, by=worker, on=TODAY, now=NOW)
    assert [stage[0] for stage in stages_of(slab)] == ["air", "air"]
    assert stages_of(slab)[-1][1:] == (shed.name, TODAY, None)


def refused(act: Callable[[], object]) -> dict[str, list[str]]:
    with pytest.raises(ValidationError) as problem:
        act()
    assert not LedgerEntry.objects.exclude(kind__in=["used"]).exists()
    return problem.value.message_dict


def test_a_bay_of_another_place_is_refused(worker: Person) -> None:
    slab, shed = make_slab(), make_place(name="Shed")
    elsewhere = make_bay(name="Bay 9")
    said = refused(
        lambda: moves.move(slab, place=shed, bay=elsewhere, by=worker, on=TODAY, now=NOW)
    )
    assert said == {"bay": ["“Bay 9” is not a bay of Shed."]}


@pytest.mark.parametrize(
    ("on", "words"),
    [
        (date(2026, 5, 21), "has not come yet"),
        (date(2026, 2, 28), "was sawn on 1 March"),
    ],
)
def test_days_that_cannot_be_are_refused(on: date, words: str, worker: Person) -> None:
    slab, place = make_slab(sawn_on=date(2026, 3, 1)), make_place()
    said = refused(lambda: moves.move(slab, place=place, bay=None, by=worker, on=on, now=NOW))
    assert words in said["on"][0]


def test_a_day_before_the_last_move_is_refused(worker: Person) -> None:
    slab, place = make_slab(), make_place()
    moves.move(slab, place=make_place(), bay=None, by=worker, on=date(2026, 4, 2), now=NOW)
    with pytest.raises(ValidationError, match="since 2 April"):
        moves.move(slab, place=place, bay=None, by=worker, on=date(2026, 4, 1), now=NOW)


def test_where_it_lies_already_is_said(worker: Person) -> None:
    slab, shop = make_slab(), make_place(name="Shop")
    moves.move(slab, place=shop, bay=None, by=worker, on=TODAY, now=NOW)
    with pytest.raises(ValidationError, match="lies there already: Shop"):
        moves.move(slab, place=shop, bay=None, by=worker, on=TODAY, now=NOW)


def test_a_slab_that_is_gone_stays_where_it_was(worker: Person) -> None:
    slab, place = make_slab(), make_place()
    holds.mark_gone(slab, how=GoneHow.USED, by=worker, now=NOW)
    said = refused(lambda: moves.move(slab, place=place, bay=None, by=worker, on=TODAY, now=NOW))
    assert said == {"__all__": [f"{slab} is gone: used."]}


def test_a_stack_moves_as_one_or_not_at_all(worker: Person) -> None:
    shop = make_place()
    slabs = [make_slab(), make_slab(sawn_on=TODAY)]
    said = refused(
        lambda: moves.move_many(
            slabs, place=shop, bay=None, by=worker, on=date(2026, 5, 1), now=NOW
        )
    )
    assert said["on"] == [f"{slabs[1]} was sawn on 20 May: choose that day or later."]
    assert not Slab.objects.filter(place=shop).exists()
    moves.move_many(slabs, place=shop, bay=None, by=worker, on=TODAY, now=NOW)
    assert Slab.objects.filter(place=shop).count() == 2


def test_moving_a_stack_asks_as_often_for_forty_as_for_four(worker: Person) -> None:
    old, shop = make_place(PlaceKind.SHED), make_place(PlaceKind.SHOP)

    def queries(count: int) -> int:
        slabs = [make_slab(place=old) for _ in range(count)]
        moves.move_many(slabs, place=old, bay=None, by=worker, on=date(2026, 5, 1), now=NOW)
        with CaptureQueriesContext(
            connection,
        ) as asked:
            moved = moves.move_many(slabs, place=shop, bay=None, by=worker, on=TODAY, now=NOW)
        assert len(moved) == count
        return len(asked)

    queries(1)  # from here on the air's mean is kept
    assert queries(4) == queries(40)


def test_slabs_of_a_stack_that_lie_there_already_are_left_alone(worker: Person) -> None:
    shop = make_place()
    here, coming = make_slab(), make_slab()
    moves.move(here, place=shop, bay=None, by=worker, on=date(2026, 5, 1), now=NOW)
    moved = moves.move_many([here, coming], place=shop, bay=None, by=worker, on=TODAY, now=NOW)
    assert moved == [coming]
    assert stages_of(here)[-1][2] == date(2026, 5, 1)


def test_a_stage_change_ends_the_one_before(worker: Person) -> None:
    kiln = make_place(PlaceKind.KILN, name="Kiln")
    slab = make_slab(place=kiln)
    moves.begin(slab, by=worker, now=NOW, started_on=date(2026, 4, 1))
    moves.change_stage(
        slab,
        kind=StageKind.CONDITIONING,
        place=kiln,
        started_on=date(2026, 5, 1),
        by=worker,
        now=NOW,
    )
    assert stages_of(slab) == [
        (StageKind.KILN, "Kiln", date(2026, 4, 1), date(2026, 5, 1)),
        (StageKind.CONDITIONING, "Kiln", date(2026, 5, 1), None),
    ]
    words = ("Kiln drying, Kiln", "Conditioning, Kiln, from 1 May 2026")
    assert entries_of(slab)[-1] == (LedgerKind.STAGE, *words)


def test_the_same_stage_again_changes_nothing(worker: Person) -> None:
    slab = make_slab(place=make_place())
    first = moves.begin(slab, by=worker, now=NOW)
    assert moves.begin(slab, by=worker, now=NOW) == first
    assert len(entries_of(slab)) == 1


def test_a_slab_put_nowhere_begins_no_stage(worker: Person) -> None:
    assert moves.begin(make_slab(), by=worker, now=NOW) is None
    assert not DryingStage.objects.exists()


def test_a_move_out_of_the_shop_is_judged_at_once(worker: Person) -> None:
    """Ready wood that goes back to the yard is ready no longer, in the same transaction."""
    slab, shop = make_slab(thickness_mm=30), make_place(PlaceKind.SHOP)
    moves.move(slab, place=shop, bay=None, by=worker, on=date(2026, 4, 1), now=NOW)
    for day in (date(2026, 5, 1), date(2026, 5, 19)):
        numbers = {"mean_pct": 7.0, "max_pct": 7.1, "min_pct": 6.9, "spread_pct": 0.2, "places": 3}
        MoistureCheck.objects.create(slab=slab, on=day, at=NOW, is_trusted=True, **numbers)
    moves.move(slab, place=shop, bay=make_bay(shop), by=worker, on=TODAY, now=NOW)
    assert slab.condition == Condition.READY
    yard = make_place(PlaceKind.YARD)
    moves.move(slab, place=yard, bay=None, by=worker, on=TODAY, now=NOW)
    assert slab.condition == Condition.RESTING
