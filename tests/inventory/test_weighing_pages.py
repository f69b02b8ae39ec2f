"""Weighing a whole slab on its page: what is typed, asked, refused, shown."""

from collections.abc import Iterator
from html import unescape
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.models import MoistureCheck, Person, Slab, Weighing
from inventory.weighing import WeighingEntry, record_weighing
from tests.conftest import client_for
from tests.factories import at, make_person, make_slab
from tests.inventory.check_helpers import NOW, TODAY, record

EMPTY = {
    "mass": "", "basis": "earlier", "earlier_mass": "", "earlier_mc": "", "oven_dry": "",
    "wet_1": "", "dry_1": "", "wet_2": "", "dry_2": "", "note": "",
}  # fmt: skip
EARLIER = {"mass": "130 lb", "earlier_mass": "140 lb", "earlier_mc": "15"}


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(at(2026, 5, 20, 11), tick=False):
        yield


def text_of(response: Any) -> str:
    return unescape(response.content.decode()).replace("\N{NO-BREAK SPACE}", " ")


def weigh_url(slab: Slab) -> str:
    return reverse("inventory:weigh_new", args=[slab.code])


def send(client: Client, slab: Slab, **typed: Any) -> Any:
    data = {**EMPTY, "on": TODAY.isoformat(), "entry_key": "w-1", **typed}
    return client.post(weigh_url(slab), data)


def weigh(slab: Slab, by: Person, **kwargs: Any) -> MoistureCheck:
    entry = WeighingEntry(59.0, "earlier", earlier_kg=63.0, earlier_mc_pct=15.0)
    return record_weighing(slab, entry, by=by, on=TODAY, now=NOW, **kwargs)


def test_a_weighing_from_an_earlier_mass_shows_every_step(worker_client: Client) -> None:
    slab = make_slab()
    response = send(worker_client, slab, **EARLIER)
    check = slab.checks.get()
    assert response.url == reverse("inventory:check_page", args=[check.pk])
    assert check.mean_pct == pytest.approx(100 * (130 / (140 / 1.15) - 1))
    page = text_of(worker_client.get(response.url))
    for said in ("The weighing of 20 May", "130 lb", "140 lb when it had 15.0 %", "121.7 lb"):
        assert said in page
    assert "does not tell the core from the shell" in page
    assert "Correct this weighing" in page
    assert "Readings and their corrections" not in page


@pytest.mark.parametrize(
    ("typed", "mc_pct"),
    [
        ({"basis": "oven_dry", "mass": "59 kg", "oven_dry": "54 kg"}, 100 * (59 / 54 - 1)),
        (
            {
                "basis": "sections",
                "mass": "59 kg",
                "wet_1": "109",
                "dry_1": "100 g",
                "wet_2": "3 oz",
                "dry_2": "2.7 oz",
            },
            (9 + 100 * (3 / 2.7 - 1)) / 2,
        ),
    ],
)
def test_the_other_bases(worker_client: Client, typed: dict[str, str], mc_pct: float) -> None:
    slab = make_slab()
    send(worker_client, slab, **typed)
    assert slab.checks.get().mean_pct == pytest.approx(mc_pct, abs=1e-3)


def test_the_next_weighing_starts_from_the_last(worker: Person, worker_client: Client) -> None:
    slab = make_slab()
    weigh(slab, worker)
    page = text_of(worker_client.get(weigh_url(slab)))
    assert "Filled in from the weighing of 20 May" in page
    assert 'value="130.1 lb"' in page
    data = {"mass": "58 kg", "earlier_mass": "130.1 lb", "earlier_mc": "7.7"}
    send(worker_client, slab, **data)
    latest = Weighing.objects.current()[0]
    assert latest.earlier_kg == 59.0
    assert latest.earlier_mc_pct == pytest.approx(100 * (59 / (63 / 1.15) - 1))


def test_the_units_are_the_viewers_own(db: None) -> None:
    slab = make_slab()
    client = client_for(make_person("Worker", length_system="metric"))
    page = text_of(client.get(weigh_url(slab)))
    assert "A number alone is in kg" in page
    assert "it should weigh about 61 kg" in page
    assert "move it with a hoist" in page
    send(client, slab, mass="59", earlier_mass="63", earlier_mc="15,0 %")
    assert slab.weighings.get().mass_kg == 59.0


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({**EARLIER, "mass": ""}, "Type what it weighs."),
        ({**EARLIER, "mass": "heavy"}, "“heavy” is not a mass"),
        ({**EARLIER, "earlier_mass": ""}, "Say what it weighed then."),
        ({**EARLIER, "earlier_mc": ""}, "Say how wet it was then."),
        ({**EARLIER, "earlier_mc": "-3"}, "0 % or more"),
        ({**EARLIER, "basis": "oven_dry"}, "Say what it weighs oven-dry."),
        ({**EARLIER, "basis": "sections"}, "Give at least one section"),
        ({**EARLIER, "basis": "sections", "wet_1": "100"}, "takes both masses"),
        ({**EARLIER, "basis": "sections", "wet_1": "9", "dry_1": "10"}, "below the oven-dry mass"),
        ({**EARLIER, "basis": "board"}, "to choose"),
        ({**EARLIER, "mass": "110 lb"}, "no water at all"),
        ({**EARLIER, "mass": "1300 lb"}, "A slab of this size weighs"),
        ({**EARLIER, "on": "2026-05-21"}, "ahead of today"),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_is_kept(
    worker_client: Client, typed: dict[str, str], sentence: str
) -> None:
    slab = make_slab()
    response = send(worker_client, slab, **typed)
    page = text_of(response)
    assert response.status_code == 422
    assert sentence in page
    for name in ("mass", "earlier_mass", "earlier_mc"):
        assert not typed[name] or f'value="{typed[name]}"' in page
    assert not Weighing.objects.exists()


def test_a_doubted_mass_is_kept_when_it_is_said_to_be_right(
    worker: Person, worker_client: Client
) -> None:
    slab = make_slab()
    record(slab, worker)
    typed = {**EARLIER, "mass": "165 lb"}
    assert "the last check said 7.2 %" in text_of(send(worker_client, slab, **typed))
    assert send(worker_client, slab, **typed, keep="mass=165 lb").status_code == 302
    assert slab.weighings.count() == 1


def test_a_form_sent_twice_stores_one_weighing(worker_client: Client) -> None:
    slab = make_slab()
    first = send(worker_client, slab, **EARLIER)
    assert send(worker_client, slab, **EARLIER).url == first.url
    assert Weighing.objects.count() == 1


def test_correcting_starts_from_what_was_written(worker: Person, worker_client: Client) -> None:
    slab = make_slab()
    wrong = weigh(slab, worker)
    old_door = worker_client.get(reverse("inventory:check_correct", args=[wrong.pk]))
    url = reverse("inventory:weigh_correct", args=[wrong.weighing_id])
    assert (old_door.status_code, old_door["Location"]) == (302, url)
    assert 'value="130.1 lb"' in text_of(worker_client.get(url))
    data = {**EMPTY, "on": TODAY.isoformat(), "mass": "60 kg", "entry_key": "w-2"}
    worker_client.post(url, {**data, "earlier_mass": "138.9 lb", "earlier_mc": "15"})
    right = slab.checks.current().get()
    assert right.supersedes == wrong
    assert right.mean_pct == pytest.approx(100 * (60 / (63 / 1.15) - 1))
    second = worker_client.get(url, follow=True)
    assert "Somebody has corrected this weighing already" in text_of(second)


def test_a_weighing_corrected_in_another_tab_keeps_what_is_typed(
    worker: Person, worker_client: Client
) -> None:
    slab = make_slab()
    url = reverse("inventory:weigh_correct", args=[weigh(slab, worker).weighing_id])
    form = {**EMPTY, "on": TODAY.isoformat(), "earlier_mass": "138.9 lb", "earlier_mc": "15"}
    theirs = {**form, "mass": "60 kg", "entry_key": "w-2"}
    assert worker_client.post(url, theirs).status_code == 302
    assert worker_client.post(url, theirs).status_code == 302, "pressed twice is not late"
    late = worker_client.post(url, {**form, "mass": "61 kg", "entry_key": "w-3"})
    assert late.status_code == 422
    assert "Somebody has corrected this meanwhile." in text_of(late)
    assert 'value="61 kg"' in text_of(late)
    stands = slab.checks.current().get()
    again = reverse("inventory:weigh_correct", args=[stands.weighing_id])
    assert f'action="{again}"' in text_of(late)
    worker_client.post(again, {**form, "mass": "61 kg", "entry_key": "w-3"})
    assert slab.checks.current().get().mean_pct == pytest.approx(100 * (61 / (63 / 1.15) - 1))


def test_one_day_weighed_and_metered_is_shown_side_by_side(
    worker: Person, worker_client: Client
) -> None:
    slab = make_slab()
    weighed, metered = weigh(slab, worker), record(slab, worker)
    pages = [reverse("inventory:check_page", args=[c.pk]) for c in (weighed, metered)]
    for url in [*pages, slab.get_absolute_url()]:
        page = text_of(worker_client.get(url))
        assert "Weighed and metered on 20 May:" in page
        assert "by the scale" in page


def test_doors(worker: Person, buyer_client: Client, owner_client: Client, client: Client) -> None:
    slab = make_slab()
    check = weigh(slab, worker)
    correct = reverse("inventory:weigh_correct", args=[check.weighing_id])
    for url in (weigh_url(slab), correct):
        assert buyer_client.get(url).status_code == 403
        assert buyer_client.post(url, EARLIER).status_code == 403
        assert client.get(url).status_code == 302
        assert owner_client.put(url).status_code == 405
    assert owner_client.get(reverse("inventory:weigh_correct", args=[999999])).status_code == 404
    assert owner_client.get("/slabs/22222/weigh/").status_code == 404
    assert Weighing.objects.count() == 1


def test_the_entry_page_and_the_slab_lead_to_the_scale(worker_client: Client) -> None:
    slab = make_slab()
    entry = text_of(worker_client.get(reverse("inventory:check_new", args=[slab.code])))
    assert weigh_url(slab) in entry
    assert weigh_url(slab) in text_of(worker_client.get(slab.get_absolute_url()))


def test_a_slabs_page_asks_as_often_however_often_it_was_weighed_and_read(
    worker: Person, worker_client: Client
) -> None:
    def queries(slab: Slab) -> int:
        worker_client.get(slab.get_absolute_url())
        with CaptureQueriesContext(connection) as captured:
            worker_client.get(slab.get_absolute_url())
        return len(captured)

    few, many = make_slab(), make_slab()
    for slab, times in ((few, 1), (many, 6)):
        for _ in range(times):
            weigh(slab, worker)
            record(slab, worker)
    assert queries(few) == queries(many)
