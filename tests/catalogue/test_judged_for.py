"""The slab's page judges it for a use or a commission, as the address says; lists judge nothing."""

import re
from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from catalogue.sheet import sheet_of
from inventory import daily, judging, readiness
from inventory.models import Condition, Person, Slab
from inventory.viewer import CLIENT_VIEW, Viewer
from tests.catalogue.wood import NOW, TODAY, make_checked
from tests.conftest import client_for
from tests.factories import make_commission, make_place, make_slab

pytestmark = pytest.mark.django_db


def words(client: Client, slab: Slab, query: str = "") -> str:
    page = client.get(f"{slab.get_absolute_url()}{query}")
    assert page.status_code == 200
    return " ".join(re.sub(r"<[^>]+>", " ", page.content.decode()).split())


def test_the_page_judges_for_interior_furniture_unless_asked(owner_client: Client) -> None:
    with time_machine.travel(NOW, tick=False):
        slab = make_checked(7.0)
        assert "Ready for interior furniture." in words(owner_client, slab)
        assert "Drier than outdoor use wants." in words(owner_client, slab, "?for=outdoor")
        assert "Ready for resin work." in words(owner_client, slab, "?for=resin")
        assert "Ready for interior furniture." in words(owner_client, slab, "?for=moon")


def test_a_commission_is_judged_by_the_air_of_its_home(owner_client: Client) -> None:
    """70 °F and 65 % RH hold wood at about 12.0 % (Wood Handbook, FPL-GTR-190, Table 4-2)."""
    with time_machine.travel(NOW, tick=False):
        slab = make_checked(7.0)
        damp = make_commission(title="Lake house bench", home_temp_c=21.1, home_rh_pct=65.0)
        text = words(owner_client, slab, f"?for={damp.pk}")
    assert "Drier than “Lake house bench” wants." in text
    assert "Wanted: 11–13 %." in text


def test_commissions_are_named_only_to_those_who_keep_them(
    owner: Person, worker_client: Client
) -> None:
    with time_machine.travel(NOW, tick=False):
        slab, piece = make_checked(7.0), make_commission(title="Secret desk")
        text = words(worker_client, slab, f"?for={piece.pk}")
        assert "Secret desk" not in text
        assert "Ready for interior furniture." in text
        judged = sheet_of(slab, Viewer(owner), TODAY).judged
    assert judged is not None
    assert [choice.purpose.key for choice in judged.pieces] == [str(piece.pk)]


def test_a_client_reads_neither_rules_nor_next_steps(owner: Person) -> None:
    client = client_for(owner)
    session = client.session
    session[CLIENT_VIEW] = True
    session.save()
    text = words(client, make_slab(), "?for=resin")
    assert "Check it with a meter" not in text
    assert "Resin work" not in text


def test_judging_for_many_commissions_takes_as_many_queries_as_for_one(owner: Person) -> None:
    slab = make_checked(7.0)
    make_place()

    def queries(pieces: int) -> int:
        for _ in range(pieces):
            make_commission()
        with CaptureQueriesContext(connection) as captured:
            sheet_of(slab, Viewer(owner), TODAY)
        return len(captured)

    queries(1)
    assert queries(1) == queries(12)


def test_the_check_page_says_the_next_step_in_the_persons_units(
    worker: Person, owner_client: Client
) -> None:
    worker.length_system = "metric"
    worker.save()
    with time_machine.travel(NOW, tick=False):
        slab = make_checked(7.0)
        check = slab.checks.current()[0]
        address = reverse("inventory:check_page", args=[check.pk])
        text = client_for(worker).get(address).content.decode()
        assert "It may be worked; check it again by 5 May to keep it so." in text
        outdoor = client_for(worker).get(f"{address}?for=outdoor").content.decode()
        assert "Drier than outdoor use wants." in outdoor


def test_lists_read_the_stored_condition_and_judge_no_row(
    owner_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Days after the checks grew too old, one bulk look at the day's start is all there is."""
    place = make_place()
    with time_machine.travel(NOW, tick=False):
        slabs = [make_checked(7.0, place=place) for _ in range(3)]
    assert {slab.condition for slab in slabs} == {Condition.READY}
    later = NOW + timedelta(days=40)
    with time_machine.travel(later, tick=False):
        assert slabs[0].condition_until is not None
        assert slabs[0].condition_until < later.date()
        owner_client.get(reverse("catalogue:browse"))
        assert set(Slab.objects.values_list("condition", flat=True)) == {Condition.UNKNOWN}
        monkeypatch.setattr(readiness, "judge", None)
        few = _browse_queries(owner_client)
        for _ in range(9):
            Slab.objects.filter(pk=make_slab(place=place).pk).update(condition=Condition.READY)
        assert _browse_queries(owner_client) == few


def _browse_queries(client: Client) -> int:
    with CaptureQueriesContext(connection) as captured:
        assert client.get(reverse("catalogue:browse")).status_code == 200
    return len(captured)


def test_the_days_look_takes_as_many_queries_for_many_slabs_as_for_few() -> None:
    def queries(slabs: int) -> int:
        for _ in range(slabs):
            make_checked(7.0)
        with CaptureQueriesContext(connection) as captured:
            daily.new_day(TODAY + timedelta(days=40))
        Slab.objects.update(condition_until=TODAY)
        return len(captured)

    queries(1)
    assert queries(2) == queries(8)


def test_every_use_is_offered_with_its_condition(owner: Person) -> None:
    judged = judging.judge_for(make_checked(7.0), TODAY, "metric", "outdoor")
    assert [(c.purpose.key, c.condition_words) for c in judged.uses] == [
        ("interior", "Ready"),
        ("resin", "Ready"),
        ("outdoor", "Too dry"),
    ]
    assert judged.chosen.purpose.key == "outdoor"
    assert not judged.is_for_piece
