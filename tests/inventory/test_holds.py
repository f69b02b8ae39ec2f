"""A slab is promised once, until a day; who, when and how it ended stays on the ledger."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pytest
import time_machine
from django.db import IntegrityError, transaction

from inventory import holds
from inventory.models import (
    GoneHow,
    Hold,
    HoldEnd,
    HoldKind,
    LedgerEntry,
    LedgerKind,
    Person,
    Slab,
    Standing,
)
from tests.factories import at, make_person, make_slab

NOW = at(2026, 4, 10)
UNTIL = date(2026, 5, 3)
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def slab() -> Slab:
    return make_slab()


def hold_it(slab: Slab, by: Person, **kwargs: Any) -> Hold:
    given = {"label": "Aalto: long table", "until": UNTIL, "now": NOW, **kwargs}
    return holds.place_hold(slab, by=by, **given)


def kinds(slab: Slab) -> list[str]:
    return list(LedgerEntry.objects.filter(slab=slab).order_by("pk").values_list("kind", flat=True))


def stored(slab: Slab) -> tuple[str, str]:
    return Slab.objects.values_list("standing", "gone_how").get(pk=slab.pk)


def test_a_hold_is_kept_on_the_slab_and_on_the_ledger(slab: Slab, owner: Person) -> None:
    hold = hold_it(slab, owner)
    assert (hold.until, hold.made_by, hold.made_at) == (UNTIL, owner, NOW)
    assert stored(slab) == (Standing.HELD, "")
    entry = LedgerEntry.objects.get(slab=slab)
    assert (entry.kind, entry.by, entry.before) == (LedgerKind.HELD, owner, "Free")
    assert entry.after == "Held until 3 May 2026: Aalto: long table"


def test_a_held_slab_is_not_promised_again_and_the_sentence_names_nobody(
    slab: Slab, owner: Person
) -> None:
    hold_it(slab, owner)
    with pytest.raises(holds.AlreadyPromised) as refusal:
        hold_it(slab, owner, label="Somebody else")
    assert str(refusal.value) == f"{slab} is held until 3 May."
    with pytest.raises(holds.AlreadyPromised):
        holds.allot(slab, label="Somebody else", by=owner, now=NOW)
    assert kinds(slab) == [LedgerKind.HELD]


def test_an_allotted_slab_is_not_promised_again(slab: Slab, owner: Person) -> None:
    holds.allot(slab, label="Aalto: long table", by=owner, now=NOW)
    assert stored(slab) == (Standing.ALLOTTED, "")
    with pytest.raises(holds.AlreadyPromised, match="is allotted to a piece already"):
        hold_it(slab, owner)


def test_the_database_itself_refuses_a_second_promise(slab: Slab, owner: Person) -> None:
    hold_it(slab, owner)
    with pytest.raises(IntegrityError), transaction.atomic():
        Hold.objects.create(slab=slab, label="x", until=UNTIL, made_at=NOW)


def test_a_refusal_of_the_database_becomes_a_sentence(
    slab: Slab, owner: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    hold_it(slab, owner)
    monkeypatch.setattr(holds, "_demand_free", lambda slab, now: None)
    with pytest.raises(holds.AlreadyPromised, match="was promised a moment ago"):
        hold_it(slab, owner)
    assert kinds(slab) == [LedgerKind.HELD]


def test_a_hold_cannot_end_before_it_begins(slab: Slab, owner: Person) -> None:
    with pytest.raises(holds.LastDayPassed, match="9 April has passed"):
        hold_it(slab, owner, until=date(2026, 4, 9))
    assert hold_it(slab, owner, until=date(2026, 4, 10)).until == date(2026, 4, 10)


def test_a_release_frees_the_slab_once(slab: Slab, owner: Person) -> None:
    hold = hold_it(slab, owner)
    ended = holds.release(hold, by=owner, now=NOW, note="They chose elm.")
    assert (ended.ended_how, ended.ended_by, ended.ended_at) == (HoldEnd.RELEASED, owner, NOW)
    assert stored(slab) == (Standing.FREE, "")
    assert LedgerEntry.objects.get(kind=LedgerKind.RELEASED).note == "They chose elm."
    with pytest.raises(holds.PromiseEnded):
        holds.release(hold, by=owner, now=NOW)
    assert kinds(slab) == [LedgerKind.HELD, LedgerKind.RELEASED]


def test_a_hold_turns_into_an_allotment_to_the_same_purpose(slab: Slab, owner: Person) -> None:
    hold = hold_it(slab, owner)
    allotment = holds.allot_held(hold, by=owner, now=NOW)
    hold.refresh_from_db()
    assert hold.ended_how == HoldEnd.ALLOTTED
    assert (allotment.kind, allotment.label, allotment.until) == (
        HoldKind.ALLOTMENT,
        hold.label,
        None,
    )
    assert stored(slab) == (Standing.ALLOTTED, "")
    with pytest.raises(holds.AlreadyPromised, match="allotted already"):
        holds.allot_held(allotment, by=owner, now=NOW)


def test_an_overdue_hold_is_neither_extended_nor_allotted(slab: Slab, owner: Person) -> None:
    hold = hold_it(slab, owner)
    late = NOW + timedelta(days=30)
    with pytest.raises(holds.PromiseEnded, match="ended on 3 May"):
        holds.allot_held(hold, by=owner, now=late)
    with pytest.raises(holds.PromiseEnded, match="ended on 3 May"):
        holds.extend(hold, until=date(2026, 6, 1), by=owner, now=late)


def test_a_hold_is_given_another_last_day(slab: Slab, owner: Person) -> None:
    hold = holds.extend(hold_it(slab, owner), until=date(2026, 5, 20), by=owner, now=NOW)
    assert Hold.objects.get(pk=hold.pk).until == date(2026, 5, 20)
    entry = LedgerEntry.objects.filter(slab=slab).order_by("pk").last()
    assert entry is not None
    assert entry.before.startswith("Held until 3 May 2026")
    assert entry.after.startswith("Held until 20 May 2026")


def test_a_hold_lapses_by_the_clock_after_its_last_day(slab: Slab, owner: Person) -> None:
    hold = hold_it(slab, owner)
    assert holds.lapse_due(UNTIL) == 0
    assert holds.lapse_due(UNTIL + timedelta(days=1)) == 1
    assert holds.lapse_due(UNTIL + timedelta(days=1)) == 0
    hold.refresh_from_db()
    assert (hold.ended_how, hold.ended_by) == (HoldEnd.LAPSED, None)
    entry = LedgerEntry.objects.get(kind=LedgerKind.RELEASED)
    assert (entry.by, entry.note) == (None, "Its last day has passed.")
    assert stored(slab) == (Standing.FREE, "")


def test_an_overdue_hold_nobody_swept_does_not_stand_in_the_way(slab: Slab, owner: Person) -> None:
    hold_it(slab, owner)
    late = at(2026, 5, 4)
    second = holds.place_hold(slab, label="Next", until=date(2026, 5, 18), by=owner, now=late)
    assert list(Hold.objects.active()) == [second]
    assert kinds(slab) == [LedgerKind.HELD, LedgerKind.RELEASED, LedgerKind.HELD]


def test_a_stale_copy_of_the_slab_does_not_spoil_its_standing(slab: Slab, owner: Person) -> None:
    hold = hold_it(slab, owner)
    stale = Slab.objects.get(pk=slab.pk)
    holds.release(hold, by=owner, now=NOW)
    assert stale.standing == Standing.HELD
    hold_it(stale, owner)
    assert stored(slab) == (Standing.HELD, "")


@pytest.mark.parametrize(
    ("how", "kind"),
    [
        (GoneHow.USED, LedgerKind.USED),
        (GoneHow.SOLD, LedgerKind.SOLD),
        (GoneHow.WRITTEN_OFF, LedgerKind.WRITTEN_OFF),
    ],
)
def test_a_slab_goes_and_the_ledger_says_how(
    slab: Slab, owner: Person, how: GoneHow, kind: LedgerKind
) -> None:
    holds.mark_gone(slab, how=how, by=owner, now=NOW, note="Gone.")
    assert stored(slab) == (Standing.GONE, how)
    assert kinds(slab) == [kind]
    with pytest.raises(holds.AlreadyGone):
        holds.mark_gone(slab, how=how, by=owner, now=NOW)
    with pytest.raises(holds.AlreadyGone, match=f"is gone: {how.label.lower()}"):
        hold_it(slab, owner)


def test_using_an_allotted_slab_ends_its_allotment(slab: Slab, owner: Person) -> None:
    allotment = holds.allot(slab, label="Long table", by=owner, now=NOW)
    holds.mark_gone(slab, how=GoneHow.USED, by=owner, now=NOW)
    allotment.refresh_from_db()
    assert (allotment.ended_how, allotment.ended_at) == (HoldEnd.GONE, NOW)
    assert stored(slab) == (Standing.GONE, GoneHow.USED)


def test_selling_a_promised_slab_asks_for_a_release_first(slab: Slab, owner: Person) -> None:
    hold = hold_it(slab, owner)
    with pytest.raises(holds.AlreadyPromised, match=r"held until 3 May. Release it first"):
        holds.mark_gone(slab, how=GoneHow.SOLD, by=owner, now=NOW)
    assert stored(slab) == (Standing.HELD, "")
    holds.mark_gone(slab, how=GoneHow.SOLD, by=owner, now=NOW, even_if_promised=True)
    hold.refresh_from_db()
    assert hold.ended_how == HoldEnd.GONE


def test_a_slab_marked_gone_by_mistake_comes_back_and_both_entries_stay(
    slab: Slab, owner: Person
) -> None:
    holds.mark_gone(slab, how=GoneHow.SOLD, by=owner, now=NOW)
    holds.bring_back(slab, by=owner, now=NOW, note="It was its neighbour.")
    assert stored(slab) == (Standing.FREE, "")
    assert kinds(slab) == [LedgerKind.SOLD, LedgerKind.CORRECTED]
    with pytest.raises(holds.NotGone):
        holds.bring_back(slab, by=owner, now=NOW)
    holds.mark_gone(slab, how=GoneHow.USED, by=owner, now=NOW)
    assert stored(slab) == (Standing.GONE, GoneHow.USED)


def test_standing_of_many_agrees_with_one_by_one_in_two_queries(
    owner: Person, django_assert_num_queries: Any
) -> None:
    slabs = [make_slab() for _ in range(5)]
    hold_it(slabs[1], owner)
    holds.allot(slabs[2], label="Table", by=owner, now=NOW)
    holds.mark_gone(slabs[3], how=GoneHow.USED, by=owner, now=NOW)
    holds.mark_gone(slabs[4], how=GoneHow.SOLD, by=owner, now=NOW)
    holds.bring_back(slabs[4], by=owner, now=NOW)
    one_by_one = {slab.pk: holds.standing_of(slab) for slab in slabs}
    with django_assert_num_queries(2):
        many = holds.standing_many(slabs)
    assert many == one_by_one
    assert [many[slab.pk]["standing"] for slab in slabs] == [
        "free",
        "held",
        "allotted",
        "gone",
        "free",
    ]


def test_the_day_turns_with_the_first_request(slab: Slab, owner: Person) -> None:
    hold_it(slab, make_person("Owner"))
    from inventory import daily

    daily.new_day(UNTIL + timedelta(days=1))
    assert stored(slab) == (Standing.FREE, "")
