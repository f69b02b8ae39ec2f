"""The warnings page, setting one aside on it, and where else warnings are told."""

import re
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from catalogue import today
from inventory import alert_lists
from inventory.models import Alert, AlertKind, Person
from inventory.viewer import CLIENT_VIEW, Viewer
from tests.conftest import client_for
from tests.factories import make_meter, make_person, make_place, make_slab
from tests.inventory.check_helpers import NOW, TODAY

pytestmark = pytest.mark.django_db
WARNINGS = "/warnings/"


@pytest.fixture(autouse=True)
def _frozen(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The day's look is left out: these warnings are made by hand, without their facts."""
    monkeypatch.setattr("inventory.watch.look_daily", lambda on: None)
    with time_machine.travel(NOW, tick=False):
        yield


def make_alert(kind: str = AlertKind.STALLED, **kwargs: Any) -> Alert:
    if not {"slab", "place", "meter"} & set(kwargs):
        kwargs["slab"] = make_slab(place=make_place())
    kwargs.setdefault("sentence", "It has stood at about 12 % for 8 weeks.")
    return Alert.objects.create(kind=kind, stands_on="x", raised_on=TODAY, **kwargs)


def words(client: Client, address: str = WARNINGS) -> str:
    page = client.get(address)
    assert page.status_code == 200
    return " ".join(re.sub(r"<[^>]+>", " ", page.content.decode()).split())


def aside(client: Client, alert: Alert, reason: str) -> Any:
    address = reverse("inventory:warning_set_aside", args=[alert.pk])
    return client.post(address, {f"w{alert.pk}-reason": reason})


def test_a_place_tells_its_own_warnings_and_no_others(worker_client: Client) -> None:
    place, other = make_place(name="Old barn"), make_place(name="Loft")
    make_alert(AlertKind.SILENT, place=place, sentence="No word of the air.")
    make_alert(AlertKind.DAMP_AIR, place=other, sentence="The loft is damp.")
    make_alert(slab=make_slab(place=place), sentence="The slab stalls.")
    make_alert(AlertKind.DAMP_AIR, place=place, sentence="It was damp.", resolved_on=TODAY)
    told = words(worker_client, reverse("inventory:place", args=[place.pk]))
    assert "No word of the air. No word of the air. Look through the warnings" in told
    for sentence in ("The loft is damp.", "The slab stalls.", "It was damp."):
        assert sentence not in told


def test_warnings_are_told_under_their_subjects_with_links(worker_client: Client) -> None:
    slab = make_slab(place=make_place(name="Long shed"))
    make_alert(slab=slab)
    make_alert(AlertKind.REGAINING, slab=slab, sentence="It took up 2 %.")
    place = make_place(name="Old barn")
    make_alert(AlertKind.SILENT, place=place, sentence="No word of the air.")
    meter = make_meter(name="Grey pins")
    make_alert(AlertKind.METER_DUE, meter=meter, sentence="Its test was due.")
    page = worker_client.get(WARNINGS)
    groups = page.context["groups"]
    assert [(g.words, len(g.rows)) for g in groups] == [
        ("Old barn", 1),
        ("Grey pins", 1),
        (f"{slab.species.common_name} {slab.display_code}", 2),
    ]
    assert [g.url for g in groups] == [
        reverse("inventory:place", args=[place.pk]),
        reverse("inventory:meters"),
        slab.get_absolute_url(),
    ]


def test_a_quiet_yard_says_so(worker_client: Client) -> None:
    assert "Nothing to warn of." in words(worker_client)


def test_the_worker_sets_a_slabs_warning_aside_with_a_reason(
    worker: Person, worker_client: Client
) -> None:
    alert = make_alert()
    answer = aside(worker_client, alert, "It waits for the kiln")
    assert (answer.status_code, answer["Location"]) == (302, WARNINGS)
    alert.refresh_from_db()
    assert (alert.set_aside_by, alert.set_aside_reason) == (worker, "It waits for the kiln")
    text = words(worker_client)
    assert "Nothing to warn of." in text
    assert "“It waits for the kiln”" in text


@pytest.mark.parametrize(("reason", "said"), [(" ", "Say in a few words"), ("x" * 201, "200")])
def test_a_reason_that_is_none_comes_back_beside_its_field(
    worker_client: Client, reason: str, said: str
) -> None:
    alert, other = make_alert(), make_alert()
    answer = aside(worker_client, alert, reason)
    text = answer.content.decode()
    assert answer.status_code == 422
    assert said in text
    assert text.count("errorlist") == 1
    if reason.strip():
        assert f'value="{reason}"' in text
    assert Alert.objects.open().count() == 2
    assert f"w{other.pk}-reason" in text


def test_places_and_meters_are_set_aside_by_those_who_keep_the_yard(
    owner_client: Client, worker_client: Client
) -> None:
    for alert in (
        make_alert(AlertKind.SILENT, place=make_place()),
        make_alert(AlertKind.METER_DUE, meter=make_meter()),
    ):
        assert aside(worker_client, alert, "No").status_code == 403
        assert aside(owner_client, alert, "Battery ordered").status_code == 302
    assert Alert.objects.open().count() == 0


def test_the_worker_is_not_shown_what_only_the_owner_may_do(worker_client: Client) -> None:
    make_alert(AlertKind.SILENT, place=make_place())
    assert "Set it aside" not in words(worker_client)
    make_alert()
    assert words(worker_client).count("Set it aside") == 1


@pytest.mark.parametrize("role", ["Buyer", ""])
def test_others_of_the_house_read_and_change_nothing(role: str) -> None:
    alert, client = make_alert(), client_for(make_person(role))
    assert "It has stood" in words(client)
    assert aside(client, alert, "No").status_code == 403
    assert client.post(reverse("inventory:warning_take_up", args=[alert.pk])).status_code == 403


def test_a_client_is_shown_no_warning_anywhere(owner: Person) -> None:
    alert, client = make_alert(), client_for(owner)
    session = client.session
    session[CLIENT_VIEW] = True
    session.save()
    assert alert.slab is not None
    assert client.get(WARNINGS).status_code == 403
    assert aside(client, alert, "No").status_code == 403
    assert "It has stood" not in words(client, alert.slab.get_absolute_url())


def test_signed_out_missing_and_wrong_methods(client: Client, owner_client: Client) -> None:
    alert = make_alert()
    address = reverse("inventory:warning_set_aside", args=[alert.pk])
    assert client.post(address).status_code == 302
    assert owner_client.get(address).status_code == 405
    missing = reverse("inventory:warning_set_aside", args=[alert.pk + 99])
    assert owner_client.post(missing).status_code == 404
    assert owner_client.post(WARNINGS).status_code == 405


def test_one_that_somebody_settled_meanwhile_is_told_not_refused(worker_client: Client) -> None:
    alert = make_alert(resolved_on=TODAY)
    answer = aside(worker_client, alert, "It waits")
    assert answer.status_code == 302
    assert "settled already" in words(worker_client)


def test_it_may_be_taken_up_again(worker_client: Client) -> None:
    alert = make_alert()
    aside(worker_client, alert, "It waits")
    worker_client.post(reverse("inventory:warning_take_up", args=[alert.pk]))
    assert Alert.objects.open().get() == alert


def test_what_is_over_is_told_for_a_month(worker_client: Client) -> None:
    make_alert(resolved_on=TODAY - timedelta(days=30), sentence="A month ago.")
    make_alert(resolved_on=TODAY - timedelta(days=31), sentence="Longer ago.")
    text = words(worker_client)
    assert "A month ago." in text
    assert "Longer ago." not in text


def test_the_slabs_page_tells_its_own_warnings(worker_client: Client) -> None:
    alert, other = make_alert(sentence="This one."), make_alert(sentence="The other.")
    assert alert.slab is not None
    text = words(worker_client, alert.slab.get_absolute_url())
    assert "This one." in text
    assert "The other." not in text
    assert other.slab is not None


def test_today_counts_warnings_and_tells_the_first_few(
    worker_client: Client, buyer_client: Client
) -> None:
    for _ in range(8):
        make_alert()
    make_alert(AlertKind.SILENT, place=make_place())
    page = worker_client.get(reverse("catalogue:today"))
    warned = page.context["page"].warned
    assert (warned.count, len(warned.told), warned.more) == (8, 6, 2)
    assert "All 8 warnings" in page.content.decode()
    assert buyer_client.get(reverse("catalogue:today")).context["page"].warned is None


def queries_of(client: Client, address: str) -> int:
    with CaptureQueriesContext(connection) as captured:
        assert client.get(address).status_code == 200
    return len(captured)


@pytest.mark.parametrize("name", ["inventory:warnings", "catalogue:today"])
def test_many_warnings_take_as_many_queries_as_ten(owner_client: Client, name: str) -> None:
    for _ in range(10):
        make_alert()
        make_alert(resolved_on=TODAY)
    address = reverse(name)
    owner_client.get(address)
    few = queries_of(owner_client, address)
    for _ in range(40):
        make_alert()
        make_alert(resolved_on=TODAY)
    assert queries_of(owner_client, address) == few


def test_long_lists_come_in_pages(owner: Person) -> None:
    for _ in range(alert_lists.A_PAGE + 1):
        make_alert()
    page = alert_lists.open_page("2")
    assert len(alert_lists.groups(page.object_list, Viewer(owner))) == 1


def test_only_those_who_tend_the_yard_are_told_of_warnings_on_today(owner: Person) -> None:
    make_alert()
    assert today.warned(Viewer(owner)) is not None
    assert today.warned(Viewer(owner, client_view=True)) is None
    assert today.warned(Viewer(make_person())) is None
