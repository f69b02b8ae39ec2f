"""The worker with a meter: the round, entry with its questions, one check, correcting."""

from collections.abc import Iterator
from datetime import timedelta
from html import unescape
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.checks import ReadingEntry
from inventory.models import Meter, MoistureCheck, Person, Place, Slab
from tests.conftest import client_for
from tests.factories import at, make_bay, make_meter, make_person, make_place, make_slab
from tests.inventory.check_helpers import TODAY, record, typed


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(at(2026, 5, 20, 11), tick=False):
        yield


def text_of(response: Any) -> str:
    return unescape(response.content.decode())


def entry_url(slab: Slab) -> str:
    return reverse("inventory:check_new", args=[slab.code])


def send(client: Client, slab: Slab, *values: str, meter: Any = None, **kwargs: Any) -> Any:
    """Post the entry page; `meter` a Meter, or the text that stands for one."""
    meter = make_meter() if meter is None else meter
    chosen = meter.pk if isinstance(meter, Meter) else meter
    return client.post(entry_url(slab), typed(chosen, *values, **kwargs))


def test_five_readings_are_stored_where_they_were_taken(
    worker: Person, worker_client: Client
) -> None:
    slab = make_slab()
    response = send(worker_client, slab, "9,1", "8.6", "9.2", "9.9 %", "9.3")
    check = slab.checks.get()
    assert response.url == reverse("inventory:check_page", args=[check.pk])
    assert [r.raw_pct for r in check.readings.all()] == [9.1, 8.6, 9.2, 9.9, 9.3]
    zones = ["between", "shell", "between", "core", "between"]
    assert [r.zone for r in check.readings.all()] == zones
    assert [r.along for r in check.readings.all()] == [0.17, 0.5, 0.5, 0.5, 0.83]
    assert check.wood_temp_c == pytest.approx(20.0)
    assert check.by == worker


def test_a_metric_person_types_celsius_and_reads_millimetres(db: None) -> None:
    slab = make_slab()
    client = client_for(make_person("Worker", length_system="metric"))
    page = text_of(client.get(entry_url(slab)))
    assert "Pins at 11 mm" in page.replace("\N{NO-BREAK SPACE}", " ")
    assert "Wood temperature, °C" in page
    send(client, slab, "9.1", wood_temp="4,5")
    assert slab.checks.get().wood_temp_c == 4.5


def test_the_page_asks_for_core_and_shell_only_in_a_thick_slab(worker_client: Client) -> None:
    thick, thin = make_slab(), make_slab(thickness_mm=28.0)
    assert "in the core" in text_of(worker_client.get(entry_url(thick)))
    assert "in the core" not in text_of(worker_client.get(entry_url(thin)))


def test_the_meter_used_last_is_chosen_already(worker: Person, worker_client: Client) -> None:
    make_meter()
    meter = make_meter()
    record(make_slab(), worker, meter=meter)
    page = text_of(worker_client.get(entry_url(make_slab())))
    assert f'<option value="{meter.pk}" selected>' in page


def test_a_slip_of_the_pen_is_asked_about_and_nothing_typed_is_lost(
    worker: Person, worker_client: Client
) -> None:
    slab = make_slab()
    record(slab, worker, on=TODAY - timedelta(days=20), readings=[ReadingEntry(9.4, along=0.5)])
    response = send(worker_client, slab, "9.1", "92", note="by the door")
    page = text_of(response)
    assert response.status_code == 422
    assert "92? The last was 9.4 — did you mean 9.2?" in page
    assert 'name="instead" value="r1-value=9.2"' in page
    assert 'name="keep" value="r1-value=92"' in page
    assert 'value="9.1"' in page
    assert "by the door" in page
    assert slab.checks.count() == 1


def test_one_tap_takes_the_number_meant(worker: Person, worker_client: Client) -> None:
    slab = make_slab()
    record(slab, worker, on=TODAY - timedelta(days=20))
    send(worker_client, slab, "7.1", "72", instead="r1-value=7.2")
    readings = slab.checks.current()[0].readings.all()
    assert [reading.raw_pct for reading in readings] == [7.1, 7.2]


def test_one_tap_keeps_the_number_as_typed(worker: Person, worker_client: Client) -> None:
    slab = make_slab()
    record(slab, worker, on=TODAY - timedelta(days=20))
    send(worker_client, slab, "7.1", "92", keep="r1-value=92")
    readings = slab.checks.current()[0].readings.all()
    assert [reading.raw_pct for reading in readings] == [7.1, 92.0]


def test_what_was_kept_is_not_asked_again_beside_another_question(
    worker: Person, worker_client: Client
) -> None:
    slab = make_slab()
    record(slab, worker, on=TODAY - timedelta(days=20))
    page = text_of(send(worker_client, slab, "7.1", "92", "720", keep="r1-value=92"))
    assert '<input type="hidden" name="keep" value="r1-value=92">' in page
    assert "92? The last" not in page


def test_an_answer_cannot_reach_another_field(worker_client: Client) -> None:
    slab = make_slab()
    send(worker_client, slab, "9.1", instead="note=written by an address")
    assert slab.checks.get().note == ""


@pytest.mark.parametrize(
    ("values", "changes", "sentence"),
    [
        (["nine"], {}, "“nine” is not a number: type it like 9.2."),
        (["-4"], {}, "cannot be below nothing"),
        (["400"], {}, "No meter shows that much"),
        ([], {}, "Type at least one reading."),
        (["9.1"], {"meter": ""}, "Say which meter you used."),
        (["9.1"], {"wood_temp": "cold"}, "“cold” is not a temperature"),
        (["9.1"], {"wood_temp": "200"}, "Is that right?"),
        (["9.1"], {"on": "2026-05-21"}, "ahead of today"),
        (["9.1"], {"r0-other_depth": "6 in"}, "no reading is deeper"),
        (["9.1"], {"r0-along": "3"}, "can be 1 at most"),
    ],
)
def test_what_is_wrong_is_said_beside_the_field_and_kept(
    worker_client: Client, values: list[str], changes: dict[str, Any], sentence: str
) -> None:
    slab = make_slab()
    response = send(worker_client, slab, *values, **changes)
    page = text_of(response)
    assert response.status_code == 422
    assert sentence in page
    for value in [*values, *filter(None, changes.values())]:
        assert f'"{value}"' in page
    assert slab.checks.count() == 0


def test_a_form_sent_twice_stores_one_check(worker_client: Client) -> None:
    slab, meter = make_slab(), make_meter()
    first = send(worker_client, slab, "9.1", meter=meter)
    assert send(worker_client, slab, "9.1", meter=meter).url == first.url
    assert slab.checks.count() == 1


def test_a_depth_typed_in_inches_is_used(worker_client: Client) -> None:
    slab = make_slab()
    worker_client.post(entry_url(slab), {**typed(make_meter().pk, "9.1"), "r0-other_depth": "1 in"})
    reading = slab.checks.get().readings.get()
    assert (reading.depth_mm, reading.zone) == (25.4, "core")


def test_the_check_page_shows_the_verdict_the_corrections_and_the_way_on(
    worker: Person, worker_client: Client
) -> None:
    bay = make_bay()
    first, second = (make_slab(place=bay.place, bay=bay) for _ in range(2))
    check = record(first, worker)
    page = text_of(worker_client.get(reverse("inventory:check_page", args=[check.pk])))
    assert "Checked today: a check counts for 30 days." in page
    assert "Core is 0.6 above the shell: it may be 2 at most." in page
    assert "Next slab in this bay" in page
    assert entry_url(second) in page
    assert reverse("inventory:check_correct", args=[check.pk]) in page
    assert all(f"mark-{shape}" in page for shape in ("square", "diamond", "disc"))


def test_correcting_starts_from_what_was_written_and_supersedes_it(
    worker: Person, worker_client: Client
) -> None:
    slab = make_slab()
    wrong = record(slab, worker)
    url = reverse("inventory:check_correct", args=[wrong.pk])
    assert 'value="7.1"' in text_of(worker_client.get(url))
    data = typed(wrong.meter_id, "8.1", "8.0", "8.1", "8.2", "8.1", entry_key="key-2")
    response: Any = worker_client.post(url, data)
    right = slab.checks.current().get()
    assert response.url == reverse("inventory:check_page", args=[right.pk])
    assert right.supersedes == wrong
    old = text_of(worker_client.get(reverse("inventory:check_page", args=[wrong.pk])))
    assert "read the corrected one" in old
    new = text_of(worker_client.get(response.url))
    assert "read what was written first" in new


def test_who_comes_second_to_correct_is_told_and_loses_nothing_typed(
    worker: Person, worker_client: Client
) -> None:
    slab = make_slab()
    wrong = record(slab, worker)
    right = record(slab, worker, supersedes=wrong)
    url = reverse("inventory:check_correct", args=[wrong.pk])
    late = worker_client.get(url, follow=True)
    assert late.redirect_chain[-1][0] == reverse("inventory:check_page", args=[right.pk])
    assert "Somebody has corrected this check already" in text_of(late)

    sent = typed(wrong.meter_id, "8.1") | {"entry_key": "a tab left open"}
    response: Any = worker_client.post(url, sent)
    assert response.status_code == 422
    assert "has corrected this check meanwhile" in text_of(response)
    assert 'value="8.1"' in response.content.decode()
    assert slab.checks.count() == 2
    # Sent again, to where the page now says, it corrects theirs.
    onward = reverse("inventory:check_correct", args=[right.pk])
    assert f'action="{onward}"' in response.content.decode()
    assert worker_client.post(onward, sent).status_code == 302
    assert slab.checks.current().get().supersedes == right
    # The very same entry once more, by a press too many: shown what is on the record.
    again: Any = worker_client.post(onward, sent)
    mine = slab.checks.current().get()
    assert again.url == reverse("inventory:check_page", args=[mine.pk])
    assert slab.checks.count() == 3


def test_the_round_lists_what_is_due_in_walking_order(
    worker: Person, worker_client: Client
) -> None:
    shop, yard = make_place(position=2), make_place("yard", position=1)
    bay = make_bay(yard, position=1)
    last, first, middle = (
        make_slab(place=shop),
        make_slab(place=yard, bay=bay),
        make_slab(place=yard),
    )
    done = make_slab(place=yard)
    record(done, worker)
    page = text_of(worker_client.get(reverse("inventory:check_round")))
    places = [page.index(slab.display_code) for slab in (first, middle, last)]
    assert places == sorted(places)
    assert done.display_code not in page
    assert page.count("Never checked.") == 3


def test_the_round_keeps_to_one_place_or_bay(worker_client: Client) -> None:
    bay = make_bay()
    here, beside, elsewhere = (
        make_slab(place=bay.place, bay=bay),
        make_slab(place=bay.place),
        make_slab(place=make_place()),
    )
    url = reverse("inventory:check_round")
    in_place = text_of(worker_client.get(url, {"place": bay.place_id}))
    assert here.display_code in in_place
    assert beside.display_code in in_place
    assert elsewhere.display_code not in in_place
    in_bay = text_of(worker_client.get(url, {"place": bay.place_id, "bay": bay.pk}))
    assert here.display_code in in_bay
    assert beside.display_code not in in_bay
    assert worker_client.get(url, {"place": "shed", "page": "x"}).status_code == 200


def test_a_code_typed_in_the_box_goes_to_that_slab(worker_client: Client) -> None:
    slab = make_slab()
    url = reverse("inventory:check_round")
    response: Any = worker_client.get(url, {"code": slab.display_code.lower()})
    assert response.url == entry_url(slab)
    wrong = slab.code[:4] + ("2" if slab.code[4] != "2" else "3")
    response = worker_client.get(url, {"code": wrong})
    assert response.status_code == 422
    assert "One character is off: look at the tag again." in text_of(response)


def count_queries(client: Client, url: str) -> int:
    client.get(url)
    with CaptureQueriesContext(connection) as captured:
        assert client.get(url).status_code == 200
    return len(captured)


def fill(place: Place, slabs: int) -> None:
    for _ in range(slabs):
        make_slab(place=place, bay=make_bay(place))


def test_the_round_asks_the_database_as_often_for_ten_slabs_as_for_many(
    worker_client: Client,
) -> None:
    place = make_place()
    url = reverse("inventory:check_round") + f"?place={place.pk}"
    fill(place, 10)
    at_ten = count_queries(worker_client, url)
    fill(place, 50)
    assert count_queries(worker_client, url) == at_ten


def test_a_check_page_asks_as_often_with_one_reading_as_with_many(
    worker: Person, worker_client: Client
) -> None:
    one = record(make_slab(), worker, readings=[ReadingEntry(8.0, along=0.5)])
    many = record(
        make_slab(), worker, readings=[ReadingEntry(8.0, along=n / 20) for n in range(20)]
    )
    counts = {
        count_queries(worker_client, reverse("inventory:check_page", args=[check.pk]))
        for check in (one, many)
    }
    assert len(counts) == 1


def test_a_buyer_reads_a_check_but_enters_none(worker: Person, buyer_client: Client) -> None:
    slab = make_slab()
    check = record(slab, worker)
    page = buyer_client.get(reverse("inventory:check_page", args=[check.pk]))
    assert page.status_code == 200
    assert "Correct this check" not in text_of(page)
    assert buyer_client.get(reverse("inventory:check_round")).status_code == 403
    assert send(buyer_client, slab, "9.1").status_code == 403
    correct = reverse("inventory:check_correct", args=[check.pk])
    assert buyer_client.post(correct, typed(check.meter_id, "9.1")).status_code == 403
    assert MoistureCheck.objects.count() == 1


def test_the_client_view_shows_no_check(worker: Person, owner_client: Client) -> None:
    check = record(make_slab(), worker)
    session = owner_client.session
    session["client_view"] = True
    session.save()
    assert owner_client.get(reverse("inventory:check_page", args=[check.pk])).status_code == 403
    assert owner_client.get(entry_url(check.slab)).status_code == 403


def test_signed_out_people_are_sent_to_sign_in(worker: Person, client: Client) -> None:
    check = record(make_slab(), worker)
    for url in (
        reverse("inventory:check_round"),
        entry_url(check.slab),
        reverse("inventory:check_page", args=[check.pk]),
        reverse("inventory:check_correct", args=[check.pk]),
    ):
        response: Any = client.get(url)
        assert response.url.startswith(reverse("sign_in"))
    assert client.post(entry_url(check.slab), typed(check.meter_id, "9.1")).status_code == 302
    assert MoistureCheck.objects.count() == 1


def test_missing_slabs_checks_and_wrong_methods(worker_client: Client) -> None:
    assert worker_client.get("/slabs/22222/check/").status_code == 404
    assert worker_client.get("/checks/999999/").status_code == 404
    assert worker_client.get("/checks/999999/correct/").status_code == 404
    assert worker_client.post(reverse("inventory:check_round")).status_code == 405
    assert worker_client.delete(entry_url(make_slab())).status_code == 405


def test_a_retired_meter_is_not_offered(worker_client: Client) -> None:
    retired = make_meter(is_retired=True)
    slab = make_slab()
    assert send(worker_client, slab, "9.1", meter=retired).status_code == 422
