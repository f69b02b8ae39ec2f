"""Readiness read from the record: facts of many slabs at once, and what the row keeps."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory import derive, readiness
from inventory.models import Condition, Person, PlaceKind, Slab, StageKind
from inventory.readiness import INTERIOR, Outcome, Target, Use
from tests.factories import make_place, make_slab
from tests.inventory.check_helpers import TODAY, record


def dried_slab(by: Person, place_kind: str = PlaceKind.SHOP) -> Slab:
    """Two steady checks, and three months at a place of that kind."""
    place = make_place(place_kind)
    slab = make_slab(place=place)
    slab.stages.create(kind=StageKind.SHOP, place=place, started_on=TODAY - timedelta(days=90))
    for days in (18, 1):
        record(slab, by, on=TODAY - timedelta(days=days))
    return slab


def queries_for(slabs: list[Slab]) -> int:
    with CaptureQueriesContext(connection) as captured:
        readiness.stored_many(slabs, TODAY)
    return len(captured)


def test_many_slabs_take_as_many_queries_as_one(worker: Person) -> None:
    slabs = [dried_slab(worker) for _ in range(6)]
    assert queries_for(slabs[:1]) == queries_for(slabs) == 3


def test_many_and_one_say_the_same_and_agree_with_the_row(worker: Person) -> None:
    slabs = [dried_slab(worker), make_slab(), dried_slab(worker, PlaceKind.SHED)]
    many = readiness.stored_many(slabs, TODAY)
    assert set(many) == {slab.pk for slab in slabs}
    for slab in slabs:
        assert readiness.stored(slab, TODAY) == many[slab.pk]
        derive.write(slab, TODAY, "moisture")
        stored = Slab.objects.get(pk=slab.pk)
        assert {name: getattr(stored, name) for name in many[slab.pk]} == many[slab.pk]


def test_the_stored_row_says_all_a_list_needs(worker: Person) -> None:
    slab = dried_slab(worker)
    row = readiness.stored(slab, TODAY)
    checked_on = TODAY - timedelta(days=1)
    assert row == {
        "latest_check_id": slab.checks.current()[0].pk,
        "checked_on": checked_on,
        "mc_pct": pytest.approx(7.2),
        "check_due_on": checked_on + timedelta(days=30),
        "condition": Condition.READY,
        "condition_until": checked_on + timedelta(days=30),
        "ready_since": checked_on,
    }


@pytest.mark.django_db
def test_an_unchecked_slab_is_unknown_and_due_now() -> None:
    row = readiness.stored(make_slab(), TODAY)
    assert row["condition"] == Condition.UNKNOWN
    assert (row["check_due_on"], row["condition_until"], row["ready_since"]) == (None, None, None)


def test_the_calendar_alone_turns_a_ready_slab_unknown_through_the_daily_look(
    worker: Person,
) -> None:
    slab = dried_slab(worker)
    late = TODAY + timedelta(days=30)
    assert derive.refresh_conditions(late) == 1
    assert Slab.objects.get(pk=slab.pk).condition == Condition.UNKNOWN
    assert derive.refresh_conditions(late) == 0


@pytest.mark.parametrize("kind", [PlaceKind.YARD, PlaceKind.SHED, PlaceKind.KILN])
def test_rest_called_so_in_outdoor_air_is_no_rest(worker: Person, kind: str) -> None:
    verdict = readiness.verdict_of(dried_slab(worker, kind), TODAY)
    assert verdict.reason("rested").outcome is Outcome.NOT_MET


def test_a_verdict_is_given_for_the_target_asked_for(worker: Person) -> None:
    slab = dried_slab(worker)
    assert readiness.verdict_of(slab, TODAY).target == INTERIOR
    damp = Target(9.0, 14.0, Use.OUTDOOR)
    verdict = readiness.verdicts_of([slab], TODAY, damp)[slab.pk]
    assert verdict.condition == Condition.TOO_DRY
    assert verdict.in_words == "Drier than outdoor use wants."
