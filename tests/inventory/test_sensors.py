"""A sensor's door: its own place alone, in once, refused in sentences, shut when revoked."""

import json
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from inventory import sensors
from inventory.models import AirDayMean, AirRecord, Person, Place, SensorToken
from inventory.wood import humidity
from tests.factories import at, make_place

pytestmark = pytest.mark.django_db
NOW = at(2026, 5, 20, 12)
DOOR = "/api/air/"
ONE = {"at": "2026-05-20T11:00:00+02:00", "temp_c": 20.0, "rh_pct": 45}


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as moving:
        yield moving


@pytest.fixture
def place() -> Place:
    return make_place(name="Shed")


@pytest.fixture
def token(place: Place, owner: Person) -> str:
    return sensors.make_sensor(place, name="Rack", by=owner, now=NOW)[1]


def send(token: str, body: Any, **headers: str) -> HttpResponse:
    """From outside: no session, and cross-site forgery checked as in earnest."""
    client = Client(enforce_csrf_checks=True)
    text = body if isinstance(body, str) else json.dumps(body)
    kind = headers.pop("content_type", "application/json")
    if token:
        headers["authorization"] = f"Bearer {token}"
    answer = client.post(DOOR, text, content_type=kind, headers=headers)
    assert isinstance(answer, HttpResponse)
    return answer


def told(answer: HttpResponse) -> dict[str, Any]:
    said: dict[str, Any] = json.loads(answer.content)
    assert said["said"].endswith(".")
    return said


def test_a_record_goes_in_with_its_emc_and_names_its_sensor(token: str, place: Place) -> None:
    answer = send(token, ONE)
    assert (answer.status_code, told(answer)["added"]) == (200, 1)
    record = AirRecord.objects.get()
    assert (record.place, record.at, record.source) == (place, at(2026, 5, 20, 9), "sensor")
    assert record.emc_pct == humidity.emc_pct(20.0, 45.0)
    assert record.sensor == SensorToken.objects.get()
    assert record.by is None
    assert AirDayMean.objects.get().emc_pct == pytest.approx(record.emc_pct)


def test_sent_again_it_adds_nothing(token: str) -> None:
    send(token, [ONE])
    again = told(send(token, [ONE, {**ONE, "temp_c": 25.0}]))
    assert (again["added"], again["known"], again["differing"]) == (0, 1, 1)
    assert AirRecord.objects.get().temp_c == 20.0


def test_fahrenheit_dew_point_and_wet_bulb_are_understood(token: str) -> None:
    rows = [
        {"at": "2026-05-20T09:00:00Z", "temp_f": 68, "rh_pct": 45},
        {"at": "2026-05-20T10:00:00Z", "temp_c": 20, "dew_point_c": 10},
        {"at": "2026-05-20T11:00:00Z", "temp_c": 20, "wet_bulb_c": 15},
    ]
    assert told(send(token, rows))["added"] == 3
    stored = [(r.temp_c, r.given, round(r.rh_pct, 1)) for r in AirRecord.objects.order_by("at")]
    assert stored == [
        (20.0, "rh", 45.0),
        (20.0, "dew_point", round(humidity.rh_from_dew_point(20.0, 10.0), 1)),
        (20.0, "wet_bulb", round(humidity.rh_from_wet_bulb(20.0, 15.0), 1)),
    ]


WRONG = {
    "no object": (7, "is an object"),
    "no time": ({"temp_c": 20, "rh_pct": 45}, "Give “at”"),
    "no offset": ({**ONE, "at": "2026-05-20T11:00:00"}, "lacks its offset"),
    "no moment": ({**ONE, "at": "soon"}, "is not a time"),
    "to come": ({**ONE, "at": "2026-05-21T11:00:00Z"}, "has not come yet"),
    "dead clock": ({**ONE, "at": "1969-05-21T11:00:00Z"}, "set the sensor's clock"),
    "two temperatures": ({**ONE, "temp_f": 68}, "Give one of “temp_c”"),
    "no humidity": ({"at": ONE["at"], "temp_c": 20}, "Give one of “rh_pct”"),
    "words for numbers": ({**ONE, "rh_pct": "45"}, "is to be a number"),
    "no air": ({**ONE, "rh_pct": 145}, "between 0 and 100"),
    "no heat": ({**ONE, "temp_c": 900}, "between −40 and 120"),
    "dew above air": ({"at": ONE["at"], "temp_c": 10, "dew_point_c": 20}, "cannot be above"),
    "another place": ({**ONE, "place": 1}, "its own place alone"),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_a_record_that_cannot_be_taken_is_told_and_the_rest_go_in(name: str, token: str) -> None:
    row, words = WRONG[name]
    answer = send(token, [row, ONE])
    (refused,) = told(answer)["refused"]
    assert (answer.status_code, refused["index"]) == (200, 0)
    assert words in refused["reason"]
    assert refused["reason"].endswith(".")
    assert AirRecord.objects.count() == 1


def test_where_every_record_is_refused_the_status_says_so(token: str) -> None:
    answer = send(token, [{**ONE, "rh_pct": 145}])
    assert (answer.status_code, told(answer)["refused"][0]["index"]) == (422, 0)
    assert not AirRecord.objects.exists()


def test_a_token_opens_its_own_place_alone(token: str, owner: Person) -> None:
    other = make_place(name="Kiln")
    send(token, {**ONE, "place": other.pk})
    send(sensors.make_sensor(other, name="K", by=owner, now=NOW)[1], ONE)
    assert [record.place for record in AirRecord.objects.all()] == [other]


@pytest.mark.parametrize("wrong", ["", "nonsense", "x" * 5000])
def test_without_a_token_of_ours_the_door_stays_shut(wrong: str, token: str) -> None:
    answer = send(wrong, ONE)
    assert answer.status_code == 401
    assert answer["WWW-Authenticate"] == "Bearer"
    assert told(answer)
    assert not AirRecord.objects.exists()


def test_a_revoked_token_opens_nothing_and_its_records_stay(token: str, owner: Person) -> None:
    send(token, ONE)
    sensors.revoke(SensorToken.objects.get(), by=owner, now=NOW)
    answer = send(token, {**ONE, "at": "2026-05-20T09:30:00Z"})
    assert answer.status_code == 403
    assert "revoked" in told(answer)["said"]
    assert AirRecord.objects.count() == 1


def test_the_token_itself_is_kept_nowhere(token: str) -> None:
    (row,) = SensorToken.objects.values()
    assert token not in str(row)
    assert len(row["token_hash"]) == 64


@pytest.mark.parametrize(
    ("body", "kind", "status"),
    [
        ("at=now", "application/x-www-form-urlencoded", 415),
        ("{", "application/json", 422),
        ("[]", "application/json", 422),
        ('[{"temp_c": NaN}]', "application/json", 422),
        ("\udcff".encode("utf-8", "surrogateescape").decode("latin-1"), "application/json", 422),
        (json.dumps([ONE] * 1001), "application/json", 413),
        (" " * (1024 * 1024 + 1), "application/json", 413),
        ("[" * 100_000, "application/json", 422),
    ],
)
def test_what_is_no_list_of_records_is_refused(
    body: str, kind: str, status: int, token: str
) -> None:
    answer = send(token, body, content_type=kind)
    assert (answer.status_code, AirRecord.objects.count()) == (status, 0)
    assert told(answer)


def test_a_thousand_records_go_in_at_once(token: str) -> None:
    first = datetime(2026, 5, 1)
    rows = [{**ONE, "at": f"{first + timedelta(minutes=n)}Z"} for n in range(1000)]
    assert told(send(token, rows))["added"] == AirRecord.objects.count() == 1000


def test_asking_too_often_is_told_how_long_to_wait(
    token: str, clock: time_machine.Traveller
) -> None:
    for _ in range(sensors.MOST_A_MINUTE):
        assert send(token, ONE).status_code == 200
    clock.shift(20)
    answer = send(token, {**ONE, "at": "2026-05-20T09:30:00Z"})
    assert (answer.status_code, answer["Retry-After"]) == (429, "40")
    assert told(answer)
    clock.shift(40)
    assert send(token, ONE).status_code == 200


def test_a_browser_sees_nothing_at_the_door(client: Client, owner_client: Client) -> None:
    for browser in (client, owner_client):
        answer = browser.get(DOOR)
        assert (answer.status_code, answer["Allow"]) == (405, "POST")
        assert browser.post(DOOR, "{}", content_type="application/json").status_code == 401


# The pages


def test_a_token_is_shown_once_and_works(owner_client: Client, place: Place) -> None:
    address = reverse("inventory:sensors", args=[place.pk])
    page = owner_client.post(address, {"name": "  North   rack "})
    token = page.context["token"]
    assert page.status_code == 200
    assert "no-store" in page["Cache-Control"]
    assert page.content.decode().count(token) == 2
    assert send(token, ONE).status_code == 200
    again = owner_client.get(address).content.decode()
    assert token not in again
    assert "North rack" in again
    assert "Last word 20 May 2026" in again


def test_a_name_is_needed_and_taken_once_in_a_place(owner_client: Client, place: Place) -> None:
    address = reverse("inventory:sensors", args=[place.pk])
    assert owner_client.post(address, {"name": " "}).status_code == 422
    owner_client.post(address, {"name": "Rack"})
    page = owner_client.post(address, {"name": "Rack"})
    assert page.status_code == 422
    assert "has a sensor of that name already" in page.content.decode()
    assert SensorToken.objects.count() == 1


def test_a_token_is_taken_back_once(owner_client: Client, token: str, place: Place) -> None:
    sensor = SensorToken.objects.get()
    for words in ("can send no more", "revoked already"):
        page = owner_client.post(reverse("inventory:sensor_revoke", args=[sensor.pk]), follow=True)
        assert words in page.content.decode()
    assert send(token, ONE).status_code == 403
    owner_client.post(reverse("inventory:sensors", args=[place.pk]), {"name": "Rack"})
    assert SensorToken.objects.live().count() == 1


def test_sensors_are_the_owners_to_keep(worker_client: Client, token: str, place: Place) -> None:
    sensor = SensorToken.objects.get()
    for address in (
        reverse("inventory:sensors", args=[place.pk]),
        reverse("inventory:sensor_revoke", args=[sensor.pk]),
    ):
        assert worker_client.post(address, {"name": "Mine"}).status_code == 403
    assert SensorToken.objects.live().get() == sensor
