"""The pages of charges: picking slabs, putting them in, ending, core logs, and who may."""

from datetime import date, timedelta
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory import air, charges, moves
from inventory.charge_charts import AirPoint, thinned
from inventory.models import (
    AirGiven,
    Charge,
    CoreLog,
    CoreTemperature,
    MoistureCheck,
    Place,
    SampleBoard,
    Slab,
)
from tests.factories import at, make_bay, make_place, make_slab

pytestmark = pytest.mark.django_db

NOW = at(2026, 5, 20)
TODAY = date(2026, 5, 20)
NBSP = "\N{NO-BREAK SPACE}"
HOT = "Time,Core 1,Core 2\n" + "\n".join(
    f"2026-05-03 {10 + m // 60}:{m % 60:02},60.0,57.5" for m in range(45)
)


@pytest.fixture(autouse=True)
def _frozen() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def kiln(db: None) -> Place:
    return make_place("kiln", name="Kiln")


def slab_in(place: Place, mc_pct: float | None = 15.0, **kwargs: Any) -> Slab:
    slab = make_slab(**kwargs)
    moves.move(slab, place=place, bay=None, by=None, on=date(2026, 1, 10), now=NOW)
    Slab.objects.filter(pk=slab.pk).update(mc_pct=mc_pct)
    slab.refresh_from_db()
    return slab


def a_charge(kiln: Place, slabs: list[Slab] | None = None) -> Charge:
    inside = slabs or [slab_in(make_place("shed"))]
    return charges.open_charge(kiln, inside, started_on=date(2026, 5, 1), by=None, now=NOW)


def sent(kiln: Place, **kwargs: Any) -> dict[str, Any]:
    return {"where": f"place-{kiln.pk}", "on": "2026-05-18", "name": "", "note": "", **kwargs}


def text_of(response: Any, status: int = 200) -> str:
    assert response.status_code == status
    return str(response.content.decode()).replace(NBSP, " ")


def post_new(client: Client, said: dict[str, Any]) -> HttpResponse:
    return client.post(reverse("inventory:charge_new"), said)  # type: ignore[return-value]


def test_the_page_shows_what_lies_where_one_looks(worker_client: Client, kiln: Place) -> None:
    shed = make_place("shed")
    here, elsewhere = slab_in(shed), slab_in(make_place("shed"))
    page = worker_client.get(reverse("inventory:charge_new"), {"look_in": f"place-{shed.pk}"})
    assert here.display_code in text_of(page)
    assert elsewhere.display_code not in text_of(page)


def test_looking_elsewhere_keeps_ticks_and_what_was_typed(
    worker_client: Client, kiln: Place
) -> None:
    one, other = make_place("shed"), make_place("yard")
    ticked, there = slab_in(one), slab_in(other)
    said = sent(
        kiln, slabs=[ticked.code], look="yes", look_in=f"place-{other.pk}", name="Walnut load"
    )
    form = post_new(worker_client, said).context["form"]  # type: ignore[attr-defined]
    assert form["slabs"].value() == [ticked.code]
    assert [code for code, _ in form.fields["slabs"].choices] == [ticked.code, there.code]
    assert form["name"].value() == "Walnut load"
    assert not Charge.objects.exists()


def test_slabs_in_a_charge_already_and_those_gone_are_not_offered(
    worker_client: Client, kiln: Place
) -> None:
    shed = make_place("conditioning")
    taken, gone, free = slab_in(shed), slab_in(shed), slab_in(shed)
    a_charge(shed, [taken])
    Slab.objects.filter(pk=gone.pk).update(standing="gone")
    page = worker_client.get(reverse("inventory:charge_new"), {"look_in": f"place-{shed.pk}"})
    offered = [code for code, _ in page.context["form"].fields["slabs"].choices]
    assert offered == [free.code]


def test_a_worker_begins_a_charge_with_ticked_and_typed_slabs(
    worker_client: Client, kiln: Place
) -> None:
    bay = make_bay(kiln)
    ticked, typed = slab_in(make_place("shed")), slab_in(make_place("shed"))
    said = sent(kiln, slabs=[ticked.code], codes=typed.display_code.lower(), where=f"bay-{bay.pk}")
    response = post_new(worker_client, said)
    charge = Charge.objects.get()
    assert response["Location"] == charge.get_absolute_url()
    assert (charge.name, charge.started_on) == ("Kiln 1", date(2026, 5, 18))
    assert {stay.slab for stay in charge.stays.all()} == {ticked, typed}
    ticked.refresh_from_db()
    assert ticked.bay == bay


def test_wet_wood_is_asked_about_and_goes_in_when_kept(worker_client: Client, kiln: Place) -> None:
    wet = slab_in(make_place("shed"), 27.0)
    said = sent(kiln, slabs=[wet.code], note="Slowly")
    asked = post_new(worker_client, said)
    text = text_of(asked, 422)
    assert f"{wet} (27 %) is wetter than the 20 % or so" in text
    assert "Slowly" in text
    assert not Charge.objects.exists()
    token = asked.context["form"].fields["slabs"].keep_token  # type: ignore[attr-defined]
    another = slab_in(make_place("shed"), 31.0)
    more = {**said, "slabs": [wet.code, another.code], "keep": token}
    assert post_new(worker_client, more).status_code == 422
    assert post_new(worker_client, {**said, "keep": token}).status_code == 302
    assert Charge.objects.get().stays.count() == 1


def test_a_conditioning_room_takes_wet_wood_without_asking(worker_client: Client) -> None:
    room, wet = make_place("conditioning"), slab_in(make_place("shed"), 27.0)
    assert post_new(worker_client, sent(room, slabs=[wet.code])).status_code == 302


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"slabs": []}, "Tick at least one slab"),
        ({"codes": "nonsense"}, "“nonsense”"),
        ({"on": "2026-05-30"}, "has not come yet"),
        ({"on": "2025-12-01"}, "has been where it is since"),
        ({"on": "someday"}, "That is no day"),
        ({"where": "place-0"}, "to choose"),
    ],
)
def test_what_is_wrong_stands_beside_its_field_and_nothing_typed_is_lost(
    worker_client: Client, kiln: Place, change: dict[str, Any], sentence: str
) -> None:
    slab = slab_in(make_place("shed"))
    said = {**sent(kiln, slabs=[slab.code], note="Top bunk"), **change}
    text = text_of(post_new(worker_client, said), 422)
    assert sentence in text
    assert "Top bunk" in text
    assert not Charge.objects.exists()


def test_a_kiln_that_is_full_says_so(worker_client: Client, kiln: Place) -> None:
    a_charge(kiln)
    slab = slab_in(make_place("shed"))
    text = text_of(post_new(worker_client, sent(kiln, slabs=[slab.code])), 422)
    assert "add to it, or end it first" in text


def test_more_slabs_go_in(worker_client: Client, kiln: Place) -> None:
    charge, slab = a_charge(kiln), slab_in(make_place("shed"))
    address = reverse("inventory:charge_add", args=[charge.pk])
    assert "More slabs into Kiln 1" in text_of(worker_client.get(address))
    worker_client.post(address, sent(kiln, slabs=[slab.code]))
    assert charge.stays.count() == 2


def test_ending_it_moves_the_slabs_and_says_until_when_they_rest(
    worker_client: Client, kiln: Place
) -> None:
    charge, shop = a_charge(kiln), make_place("shop", name="Bench shop")
    address = reverse("inventory:charge_end", args=[charge.pk])
    assert "1 slab still in it: it goes" in text_of(worker_client.get(address))
    said = {"on": "2026-05-19", "where": f"place-{shop.pk}"}
    page = text_of(worker_client.post(address, said, follow=True))
    assert "They rest in shop air until 2 June" in page
    assert "From 1 May to 19 May, 18 days" in page
    assert "Its slabs rest in shop air until 2 June" in page
    assert "ended on 19 May" in text_of(worker_client.post(address, said), 422)


def test_an_end_before_the_beginning_is_refused(worker_client: Client, kiln: Place) -> None:
    charge, shop = a_charge(kiln), make_place("shop")
    address = reverse("inventory:charge_end", args=[charge.pk])
    said = {"on": "2026-04-20", "where": f"place-{shop.pk}"}
    text = text_of(worker_client.post(address, said), 422)
    assert "choose that day or later" in text
    assert 'value="2026-04-20"' in text


def test_the_page_tells_of_slabs_air_and_cores(buyer_client: Client, kiln: Place) -> None:
    slab = slab_in(make_place("shed"))
    for on, pct in ((date(2026, 4, 28), 17.0), (date(2026, 5, 15), 9.0)):
        MoistureCheck.objects.create(slab=slab, on=on, at=NOW, mean_pct=pct, max_pct=pct)
    charge = a_charge(kiln, [slab])
    for day in range(1, 15):
        moment = at(2026, 5, day)
        air.record_air(
            kiln, at=moment, temp_c=40.0 + day, given=AirGiven.RH, value=60.0, by=None, now=NOW
        )
    text = text_of(buyer_client.get(charge.get_absolute_url()))
    assert "Runs since 1 May, 19 days" in text
    assert "The wood went in at 17.0 % and stands at 9.0 %, on the mean." in text
    assert "The air went from 106 °F to 129 °F" in text
    assert text.count("<svg") >= 2
    assert "This is a record, not a certificate." in text
    assert "A hot kiln burns" in text
    assert "style=" not in text
    assert "<td>14 May</td>" in text
    assert text.count("The numbers") == 1


def test_the_core_log_is_taken_and_its_heat_told(worker_client: Client, kiln: Place) -> None:
    charge = a_charge(kiln)
    address = reverse("inventory:core_paste", args=[charge.pk])
    page = worker_client.post(address, {"text": HOT, "degrees": "C", "day_order": ""}, follow=True)
    text = text_of(page)
    assert "90 readings added. Read as 2 probes (Core 1 and Core 2) in °C." in text
    assert "133 °F or more was held at both probes" in text
    assert "30 minutes were full at 10:30" in text
    assert '<th scope="row">Core 2</th><td class="number">45</td><td>3 May, 10:00</td>' in text
    assert "This is a record, not a certificate." in text
    assert "ISPM 15" in text


def test_a_file_is_taken_as_well_as_a_paste(worker_client: Client, kiln: Place) -> None:
    charge = a_charge(kiln)
    file = SimpleUploadedFile("core.csv", HOT.encode("utf-16"), "text/csv")
    address = reverse("inventory:core_paste", args=[charge.pk])
    worker_client.post(address, {"file": file, "degrees": "C", "day_order": ""})
    assert CoreTemperature.objects.filter(charge=charge).count() == 90


def test_lines_that_cannot_be_taken_come_back_to_be_mended(
    worker_client: Client, kiln: Place
) -> None:
    charge = a_charge(kiln)
    address = reverse("inventory:core_paste", args=[charge.pk])
    wrong = HOT.replace("10:07,60.0", "10:07,hot")
    page = worker_client.post(address, {"text": wrong, "degrees": "C", "day_order": ""})
    text = text_of(page, 422)
    assert "Core 1: “hot” is not a temperature." in text
    assert CoreTemperature.objects.count() == 89
    box = page.context["form"]["text"].value()
    assert box == "Time,Core 1,Core 2\n2026-05-03 10:07,hot,57.5"
    mended = {"text": box.replace("hot", "59"), "degrees": "C", "day_order": ""}
    assert worker_client.post(address, mended).status_code == 302
    assert CoreTemperature.objects.count() == 90


@pytest.mark.parametrize(
    ("text", "sentence"),
    [("", "There is nothing to read"), ("a letter\nto a friend", "could not be told apart")],
)
def test_what_is_no_log_is_refused_and_stays_in_the_box(
    worker_client: Client, kiln: Place, text: str, sentence: str
) -> None:
    address = reverse("inventory:core_paste", args=[a_charge(kiln).pk])
    page = worker_client.post(address, {"text": text, "degrees": "C", "day_order": ""})
    assert sentence in text_of(page, 422)
    assert text in page.context["form"]["text"].value()


def test_a_log_is_set_aside_with_a_reason(worker_client: Client, kiln: Place) -> None:
    charge = a_charge(kiln)
    paste = reverse("inventory:core_paste", args=[charge.pk])
    worker_client.post(paste, {"text": HOT, "degrees": "C", "day_order": ""})
    address = reverse("inventory:core_set_aside", args=[CoreLog.objects.get().pk])
    assert "Say why it is set aside." in text_of(worker_client.post(address, {"why": ""}), 422)
    text = text_of(worker_client.post(address, {"why": "Probe in the air"}, follow=True))
    assert "Probe in the air" in text
    assert "No log of core temperatures" in text
    assert worker_client.get(address).status_code == 405


def test_the_list_and_the_places_lead_to_charges(worker_client: Client, kiln: Place) -> None:
    charge, room = a_charge(kiln), make_place("conditioning")
    other = a_charge(room)
    text = text_of(worker_client.get(reverse("inventory:charges")))
    assert charge.get_absolute_url() in text
    of_kiln = text_of(worker_client.get(reverse("inventory:charges"), {"place": kiln.pk}))
    assert other.get_absolute_url() not in of_kiln
    assert reverse("inventory:charges") in text_of(worker_client.get(reverse("inventory:places")))
    place = worker_client.get(reverse("inventory:place", args=[kiln.pk]))
    assert "Charges of this place" in text_of(place)


def test_the_slab_names_its_charges_to_the_house_alone(owner_client: Client, kiln: Place) -> None:
    slab = slab_in(make_place("shed"))
    charge = a_charge(kiln, [slab])
    assert charge.get_absolute_url() in text_of(owner_client.get(slab.get_absolute_url()))
    session = owner_client.session
    session["client_view"] = True
    session.save()
    assert charge.name not in text_of(owner_client.get(slab.get_absolute_url()))


def test_sample_boards_of_its_slabs_are_named(worker_client: Client, kiln: Place) -> None:
    slab = slab_in(make_place("shed"))
    board = SampleBoard.objects.create(name="Board 7", slab=slab)
    SampleBoard.objects.create(name="Elsewhere", slab=make_slab())
    text = text_of(worker_client.get(a_charge(kiln, [slab]).get_absolute_url()))
    assert board.name in text
    assert "Elsewhere" not in text


def test_queries_grow_neither_with_charges_nor_with_slabs(
    worker_client: Client, kiln: Place
) -> None:
    small = a_charge(kiln)
    large = a_charge(make_place("conditioning"), [slab_in(make_place("shed")) for _ in range(8)])
    worker_client.get(reverse("inventory:charges"))
    counts = []
    for charge in (small, large):
        with CaptureQueriesContext(connection) as queries:
            worker_client.get(charge.get_absolute_url())
        counts.append(len(queries))
    assert counts[0] == counts[1]
    with CaptureQueriesContext(connection) as few:
        worker_client.get(reverse("inventory:charges"))
    for number in range(12):
        day = TODAY - timedelta(days=number)
        Charge.objects.create(name=f"Old {number}", place=kiln, started_on=day, ended_on=day)
    with CaptureQueriesContext(connection) as many:
        worker_client.get(reverse("inventory:charges"))
    assert len(many) == len(few)


def test_a_charge_that_is_not_there_is_not_found(worker_client: Client) -> None:
    for name in ("charge", "charge_add", "charge_end", "core_paste"):
        assert worker_client.get(reverse(f"inventory:{name}", args=[999])).status_code == 404


def test_a_long_air_log_is_drawn_by_means_that_keep_its_mean() -> None:
    points = [
        AirPoint(NOW + timedelta(minutes=m), 20.0 + m % 7, 40.0 + m % 5, 8.0) for m in range(5000)
    ]
    few = thinned(points, most=100)
    assert len(few) == 100
    mean = sum(point.temp_c for point in few) / len(few)
    assert mean == pytest.approx(sum(point.temp_c for point in points) / len(points), abs=0.05)
    assert [point.at for point in few] == sorted(point.at for point in few)
    assert thinned(points[:50], most=100) == points[:50]
