"""Charges: slabs in, slabs out, their stages and moisture, and what is refused."""

from datetime import date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.db.models import ProtectedError
from django.test.utils import CaptureQueriesContext

from inventory import charges, moves
from inventory.models import (
    Charge,
    ChargeSlab,
    DryingStage,
    LedgerKind,
    MoistureCheck,
    Person,
    Place,
    Slab,
    Standing,
)
from tests.factories import at, make_bay, make_place, make_slab

pytestmark = pytest.mark.django_db

TODAY = date(2026, 5, 20)
NOW = at(2026, 5, 20)


@pytest.fixture(autouse=True)
def _frozen() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def kiln(db: None) -> Place:
    return make_place("kiln", name="Kiln")


@pytest.fixture
def shop(db: None) -> Place:
    return make_place("shop", name="Shop")


def in_shed(mc_pct: float | None = 18.0) -> Slab:
    shed = make_place("shed")
    slab = make_slab()
    moves.move(slab, place=shed, bay=None, by=None, on=date(2026, 1, 10), now=NOW)
    Slab.objects.filter(pk=slab.pk).update(mc_pct=mc_pct)
    slab.refresh_from_db()
    return slab


def opened(kiln: Place, slabs: list[Slab], on: date = date(2026, 5, 1), **kwargs: Any) -> Charge:
    return charges.open_charge(kiln, slabs, started_on=on, by=None, now=NOW, **kwargs)


def checked(slab: Slab, on: date, pct: float) -> MoistureCheck:
    moment = datetime.combine(on, NOW.timetz())
    return MoistureCheck.objects.create(slab=slab, on=on, at=moment, mean_pct=pct, max_pct=pct)


def test_opening_a_charge_moves_its_slabs_in_and_begins_their_kiln_stage(
    kiln: Place, owner: Person
) -> None:
    slab = in_shed()
    charge = charges.open_charge(
        kiln, [slab], started_on=date(2026, 5, 1), by=owner, now=NOW, note="Slow"
    )
    slab.refresh_from_db()
    assert slab.place == kiln
    stage = DryingStage.objects.get(slab=slab, ended_on=None)
    assert (stage.kind, stage.place, stage.started_on) == ("kiln", kiln, date(2026, 5, 1))
    assert charge.stays.get().entered_on == date(2026, 5, 1)
    moved = slab.ledger.filter(kind=LedgerKind.MOVED).first()
    assert moved is not None
    assert moved.note == "For charge Kiln 1"
    assert moved.by == owner


def test_a_charge_without_a_name_takes_the_next_number_of_its_place(kiln: Place) -> None:
    first = opened(kiln, [in_shed()])
    charges.end_charge(first, place=make_place("shop"), on=date(2026, 5, 9), by=None, now=NOW)
    assert opened(kiln, [in_shed()], date(2026, 5, 10)).name == "Kiln 2"


def test_a_slab_that_lies_in_the_kiln_already_keeps_its_bay(kiln: Place) -> None:
    bay = make_bay(kiln)
    slab = in_shed()
    moves.move(slab, place=kiln, bay=bay, by=None, on=date(2026, 4, 28), now=NOW)
    opened(kiln, [slab, in_shed()])
    slab.refresh_from_db()
    assert slab.bay == bay


def test_a_slab_does_not_go_in_before_it_came_to_the_kiln(kiln: Place) -> None:
    slab = in_shed()
    moves.move(slab, place=kiln, bay=None, by=None, on=date(2026, 5, 8), now=NOW)
    with pytest.raises(ValidationError, match="came there on 8 May") as caught:
        opened(kiln, [slab], date(2026, 5, 1))
    assert list(caught.value.message_dict) == ["started_on"]


def test_ending_a_charge_sends_its_slabs_to_rest_and_says_until_when(
    kiln: Place, shop: Place
) -> None:
    slab = in_shed()
    charge = opened(kiln, [slab])
    ended = charges.end_charge(charge, place=shop, on=date(2026, 5, 15), by=None, now=NOW)
    slab.refresh_from_db()
    assert slab.place == shop
    assert slab.stages.get(ended_on=None).kind == "shop"
    assert (ended.moved, ended.rest_until) == (1, date(2026, 5, 29))
    assert charge.stays.get().left_on == ended.charge.ended_on == date(2026, 5, 15)


def test_slabs_of_a_conditioning_room_may_rest_where_they_lie() -> None:
    room = make_place("conditioning")
    charge = opened(room, [in_shed()])
    ended = charges.end_charge(charge, place=room, on=date(2026, 5, 15), by=None, now=NOW)
    assert ended.moved == 0
    assert ended.rest_until == date(2026, 5, 15)
    assert not charge.stays.filter(left_on=None).exists()


def test_a_slab_moved_out_by_hand_leaves_its_charge_that_day(kiln: Place, shop: Place) -> None:
    gone_early, stays = in_shed(), in_shed()
    charge = opened(kiln, [gone_early, stays])
    moves.move(gone_early, place=shop, bay=None, by=None, on=date(2026, 5, 8), now=NOW)
    assert charge.stays.get(slab=gone_early).left_on == date(2026, 5, 8)
    assert charge.stays.get(slab=stays).left_on is None


def test_another_bay_of_the_same_kiln_is_still_the_charge(kiln: Place) -> None:
    slab = in_shed()
    charge = opened(kiln, [slab])
    moves.move(slab, place=kiln, bay=make_bay(kiln), by=None, on=date(2026, 5, 8), now=NOW)
    assert charge.stays.get().left_on is None


def test_a_slab_moved_out_on_a_day_before_it_went_in_stays_a_day_of_no_length(
    kiln: Place, shop: Place
) -> None:
    """It lay in the kiln before the charge began, so the move itself may be of an earlier day."""
    slab = in_shed()
    moves.move(slab, place=kiln, bay=None, by=None, on=date(2026, 4, 1), now=NOW)
    charge = opened(kiln, [slab], date(2026, 5, 1))
    moves.move(slab, place=shop, bay=None, by=None, on=date(2026, 4, 20), now=NOW)
    assert charge.stays.get().left_on == date(2026, 5, 1)


def test_a_slab_used_up_while_inside_goes_nowhere_when_the_charge_ends(
    kiln: Place, shop: Place
) -> None:
    slab = in_shed()
    charge = opened(kiln, [slab])
    Slab.objects.filter(pk=slab.pk).update(standing=Standing.GONE)
    ended = charges.end_charge(charge, place=shop, on=date(2026, 5, 15), by=None, now=NOW)
    assert ended.moved == 0
    assert charge.stays.get().left_on == date(2026, 5, 15)


def test_more_slabs_go_into_a_charge_that_runs(kiln: Place) -> None:
    charge = opened(kiln, [in_shed()])
    late = in_shed()
    (stay,) = charges.add_slabs(charge, [late], on=date(2026, 5, 6), by=None, now=NOW)
    assert stay.entered_on == date(2026, 5, 6)
    assert charge.stays.count() == 2


@pytest.mark.parametrize(
    ("kind", "sentence"), [("shop", "neither a kiln nor"), ("yard", "neither a kiln nor")]
)
def test_a_charge_is_of_a_kiln_or_a_conditioning_room(kind: str, sentence: str) -> None:
    with pytest.raises(ValidationError, match=sentence):
        opened(make_place(kind), [in_shed()])


def test_a_kiln_takes_one_charge_at_a_time_and_a_room_several(kiln: Place) -> None:
    opened(kiln, [in_shed()])
    with pytest.raises(ValidationError, match="end it first"):
        opened(kiln, [in_shed()])
    room = make_place("conditioning")
    opened(room, [in_shed()])
    opened(room, [in_shed()])
    assert Charge.objects.running().filter(place=room).count() == 2


def test_what_cannot_be_opened_is_refused_and_nothing_is_written(kiln: Place) -> None:
    slab = in_shed()
    with pytest.raises(ValidationError, match="not come yet"):
        opened(kiln, [slab], TODAY + timedelta(days=1))
    with pytest.raises(ValidationError, match="at least one slab"):
        opened(kiln, [])
    with pytest.raises(ValidationError, match="has been where it is since") as caught:
        opened(kiln, [slab], date(2026, 1, 1))
    assert list(caught.value.message_dict) == ["started_on"]
    assert not Charge.objects.exists()
    slab.refresh_from_db()
    assert slab.place != kiln


def test_a_slab_is_in_one_charge_at_a_time(kiln: Place) -> None:
    slab = in_shed()
    charge = opened(kiln, [slab])
    with pytest.raises(ValidationError, match="is in “Kiln 1” already"):
        opened(make_place("conditioning"), [slab])
    with pytest.raises(IntegrityError), transaction.atomic():
        ChargeSlab.objects.create(charge=charge, slab=slab, entered_on=TODAY)


def test_names_are_taken_once(kiln: Place) -> None:
    opened(kiln, [in_shed()], name="Walnut")
    with pytest.raises(ValidationError, match="of that name already"):
        opened(make_place("conditioning"), [in_shed()], name="Walnut")


def test_a_charge_ends_once_on_a_possible_day_and_in_shop_air(kiln: Place, shop: Place) -> None:
    charge = opened(kiln, [in_shed()])
    charges.add_slabs(charge, [in_shed()], on=date(2026, 5, 6), by=None, now=NOW)

    def end(place: Place, on: date) -> None:
        charges.end_charge(charge, place=place, on=on, by=None, now=NOW)

    with pytest.raises(ValidationError, match="no shop air"):
        end(make_place("shed"), date(2026, 5, 10))
    with pytest.raises(ValidationError, match="choose that day or later"):
        end(shop, date(2026, 5, 5))
    with pytest.raises(ValidationError, match="not come yet"):
        end(shop, TODAY + timedelta(days=1))
    end(shop, date(2026, 5, 10))
    with pytest.raises(ValidationError, match="ended on 10 May"):
        end(shop, date(2026, 5, 12))
    with pytest.raises(ValidationError, match="ended on 10 May"):
        charges.add_slabs(charge, [in_shed()], on=TODAY, by=None, now=NOW)


def test_moisture_in_and_out_is_of_the_nearest_checks(kiln: Place, shop: Place) -> None:
    slab = in_shed()
    for on, pct in [
        (date(2026, 3, 1), 26.0),
        (date(2026, 4, 20), 19.0),
        (date(2026, 4, 30), 18.0),
        (date(2026, 5, 7), 12.0),
        (date(2026, 5, 16), 8.0),
        (date(2026, 5, 18), 7.5),
    ]:
        checked(slab, on, pct)
    charge = opened(kiln, [slab])
    (stay,) = charges.stays_of(charge)
    assert stay.before is not None
    assert stay.after is not None
    assert (stay.before.pct, stay.after.pct, stay.is_after_inside) == (18.0, 7.5, True)
    charges.end_charge(charge, place=shop, on=date(2026, 5, 15), by=None, now=NOW)
    (stay,) = charges.stays_of(charge)
    assert stay.after is not None
    assert (stay.after.pct, stay.is_after_inside) == (8.0, False)
    assert stay.lost_pct == pytest.approx(10.0)
    words = charges.moisture_words([stay]).replace("\N{NO-BREAK SPACE}", " ")
    assert words == "The wood went in at 18.0 % and came out at 8.0 %, on the mean."


def test_checks_older_than_thirty_days_or_corrected_do_not_count(kiln: Place) -> None:
    slab = in_shed()
    checked(slab, date(2026, 3, 1), 26.0)
    wrong = checked(slab, date(2026, 4, 30), 92.0)
    charge = opened(kiln, [slab])
    MoistureCheck.objects.create(
        slab=slab, on=date(2026, 4, 30), at=NOW, mean_pct=19.2, supersedes=wrong
    )
    (stay,) = charges.stays_of(charge)
    assert stay.before is not None
    assert stay.before.pct == 19.2
    assert stay.after is None
    assert charges.moisture_words([stay]) == ""


def test_wet_and_unchecked_slabs_are_asked_about() -> None:
    wet, dry, unknown = in_shed(24.4), in_shed(20.0), in_shed(None)
    words = charges.wet_words([wet, dry, unknown]).replace("\N{NO-BREAK SPACE}", " ")
    assert words.startswith(f"{wet} (24 %) is wetter than the 20 % or so")
    assert f"{unknown} has never been checked" in words
    assert str(dry) not in words
    assert charges.wet_words([dry]) == ""


def test_history_holds_on_to_what_it_names(kiln: Place) -> None:
    charge = opened(kiln, [in_shed()])
    with pytest.raises(ProtectedError):
        charge.delete()


def test_queries_do_not_grow_with_the_slabs(kiln: Place) -> None:
    room = make_place("conditioning")
    few, many = [in_shed()], [in_shed() for _ in range(6)]
    with CaptureQueriesContext(connection) as one:
        opened(kiln, few)
    with CaptureQueriesContext(connection) as six:
        opened(room, many)
    assert len(six) - len(one) <= 1
    with CaptureQueriesContext(connection) as one:
        charges.stays_of(Charge.objects.get(place=kiln))
    with CaptureQueriesContext(connection) as six:
        charges.stays_of(Charge.objects.get(place=room))
    assert len(six) == len(one)
