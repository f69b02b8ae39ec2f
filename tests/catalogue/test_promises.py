"""Wood promised to a commission: a pair together or not at all, and tied to its piece."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
import time_machine

from catalogue import promises
from catalogue.models import CommissionHold, Stage
from inventory import holds
from inventory.models import Hold, HoldKind, LedgerEntry, Person, Slab
from tests.catalogue.wood import NOW, TODAY
from tests.factories import make_commission, make_slab

UNTIL = TODAY + timedelta(days=14)
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def standings(*slabs: Slab) -> list[str]:
    return [Slab.objects.get(pk=slab.pk).standing for slab in slabs]


def test_a_pair_is_held_together_and_tied_to_the_commission(owner: Person) -> None:
    commission, slabs = make_commission(), [make_slab(), make_slab()]
    made = promises.hold(commission, slabs, until=UNTIL, by=owner, now=NOW)
    assert {hold.label for hold in made} == {f"{commission.client.name}: {commission.title}"}
    assert promises.promised_to(commission) == made
    assert standings(*slabs) == ["held", "held"]


def test_when_one_of_a_pair_is_taken_neither_is_held(owner: Person) -> None:
    free, taken = make_slab(), make_slab()
    holds.place_hold(taken, label="x", until=UNTIL, by=owner, now=NOW)
    commission = make_commission()
    with pytest.raises(holds.AlreadyPromised):
        promises.hold(commission, [free, taken], until=UNTIL, by=owner, now=NOW)
    with pytest.raises(holds.AlreadyPromised):
        promises.allot(commission, [free, taken], by=owner, now=NOW)
    assert standings(free, taken) == ["free", "held"]
    assert not CommissionHold.objects.exists()
    assert not LedgerEntry.objects.filter(slab=free).exists()


def test_its_own_hold_becomes_an_allotment_tied_to_it(owner: Person) -> None:
    commission, held, free = make_commission(), make_slab(), make_slab()
    promises.hold(commission, [held], until=UNTIL, by=owner, now=NOW)
    promises.allot(commission, [held, free], by=owner, now=NOW)
    kinds = {hold.slab: hold.kind for hold in promises.promised_to(commission)}
    assert kinds == {held: HoldKind.ALLOTMENT, free: HoldKind.ALLOTMENT}


def test_wood_held_for_another_piece_is_not_allotted(owner: Person) -> None:
    slab = make_slab()
    promises.hold(make_commission(), [slab], until=UNTIL, by=owner, now=NOW)
    with pytest.raises(holds.AlreadyPromised):
        promises.allot(make_commission(), [slab], by=owner, now=NOW)


def test_only_its_own_wood_is_released_or_extended(owner: Person) -> None:
    slab, commission = make_slab(), make_commission()
    promises.hold(make_commission(), [slab], until=UNTIL, by=owner, now=NOW)
    with pytest.raises(promises.NotItsWood):
        promises.release(commission, [slab], by=owner, now=NOW)
    with pytest.raises(promises.NotItsWood):
        promises.extend(commission, [slab], until=UNTIL, by=owner, now=NOW)
    assert standings(slab) == ["held"]


def test_holds_of_a_pair_are_given_another_day_together(owner: Person) -> None:
    commission, slabs = make_commission(), [make_slab(), make_slab()]
    promises.hold(commission, slabs, until=UNTIL, by=owner, now=NOW)
    later = UNTIL + timedelta(days=7)
    promises.extend(commission, slabs, until=later, by=owner, now=NOW)
    assert set(Hold.objects.active().values_list("until", flat=True)) == {later}


def test_a_closed_commission_is_promised_nothing(owner: Person) -> None:
    commission = make_commission(stage=Stage.DONE)
    with pytest.raises(promises.NotOpen, match="is done"):
        promises.hold(commission, [make_slab()], until=UNTIL, by=owner, now=NOW)


@pytest.mark.parametrize("count", [0, 3])
def test_one_slab_or_two_are_promised_at_a_time(owner: Person, count: int) -> None:
    slabs = [make_slab() for _ in range(count)]
    with pytest.raises(promises.WrongNumber):
        promises.hold(make_commission(), slabs, until=UNTIL, by=owner, now=NOW)


def test_a_renamed_commission_renames_its_promises(owner: Person) -> None:
    commission, slab = make_commission(), make_slab()
    promises.hold(commission, [slab], until=UNTIL, by=owner, now=NOW)
    commission.title = "Longer table"
    commission.save()
    assert promises.name_again(commission) == 1
    assert Hold.objects.get().label == f"{commission.client.name}: Longer table"
    assert promises.name_again(commission) == 0
