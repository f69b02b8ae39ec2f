"""A meter's page, its tests and its table as people enter and read them."""

from collections.abc import Iterator
from html import unescape
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory import meter_tables, meter_tests
from inventory.meter_pages import correction_words
from inventory.meter_tables import TableRow
from inventory.models import Meter, MeterTable, MeterTest, Person
from tests.factories import at, make_meter, make_slab
from tests.inventory.check_helpers import NOW, TODAY, record

GOOD = "species,reading,corrected\nJuglans nigra,6,7\nJuglans nigra,12,13.5\n,6,6.2\n,12,12.4\n"
BAD = GOOD + "balsawood,9,10\n"


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(at(2026, 5, 20, 11), tick=False):
        yield


def text_of(response: Any) -> str:
    return unescape(response.content.decode()).replace("\N{NO-BREAK SPACE}", " ")


def url(name: str, meter: Meter) -> str:
    return reverse(f"inventory:{name}", args=[meter.pk])


def plain_meter(**kwargs: Any) -> Meter:
    return make_meter(**{"corrects_temperature": False, "corrects_species": False, **kwargs})


def test_a_table_is_looked_at_before_it_is_kept(owner_client: Client) -> None:
    meter = plain_meter()
    looked = owner_client.post(url("meter_table", meter), {"text": GOOD, "note": "leaflet"})
    page = text_of(looked)
    assert looked.status_code == 200
    assert "It reads as 4 rows" in page
    assert "<polyline" in page
    assert not MeterTable.objects.exists()
    kept: Any = owner_client.post(
        url("meter_table", meter), {"text": GOOD, "note": "leaflet", "keep": "1"}
    )
    assert kept.url == url("meter", meter)
    assert MeterTable.objects.get().rows.count() == 4
    page = text_of(owner_client.get(kept.url))
    assert "leaflet" in page
    assert "The species of the shop's own table are corrected by it" in page


def test_a_file_with_a_bad_row_loses_nothing(owner_client: Client) -> None:
    meter = plain_meter()
    file = SimpleUploadedFile("table.csv", BAD.encode("utf-8-sig"), "text/csv")
    sent = owner_client.post(url("meter_table", meter), {"file": file, "text": "", "keep": "1"})
    page = text_of(sent)
    assert sent.status_code == 422
    assert "No species here is called “balsawood”." in page
    assert "1 of 5 rows to mend" in page
    assert "1 row is not right yet" in page
    assert "balsawood,9,10" in page
    assert not MeterTable.objects.exists()


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        ({"text": ""}, "There is nothing to read"),
        ({"text": "a,b\n1,2"}, "No column is headed"),
        ({"file": SimpleUploadedFile("t.xlsx", b"PK\x03\x04")}, "That is not a text file"),
    ],
)
def test_what_is_no_table_is_said(
    owner_client: Client, data: dict[str, Any], sentence: str
) -> None:
    page = owner_client.post(url("meter_table", plain_meter()), data)
    assert page.status_code == 422
    assert sentence in text_of(page)


def test_a_meter_set_to_the_species_takes_no_table(owner_client: Client) -> None:
    meter = plain_meter(corrects_species=True)
    page = owner_client.post(url("meter_table", meter), {"text": GOOD, "keep": "1"})
    assert page.status_code == 422
    assert "a table would do it twice" in text_of(page)
    assert not MeterTable.objects.exists()


def test_a_table_is_laid_aside(owner: Person, owner_client: Client) -> None:
    meter = plain_meter()
    meter_tables.take_table(meter, [TableRow(None, 6, 7), TableRow(None, 9, 10)], by=owner)
    page = owner_client.post(url("meter_table_drop", meter), follow=True)
    assert "goes by the published table again" in text_of(page)
    assert meter_tables.current_table(meter) is None
    owner_client.post(url("meter_table_drop", meter))
    assert MeterTable.objects.count() == 2


def test_the_check_page_says_which_table_corrected_it(owner: Person, owner_client: Client) -> None:
    slab, meter = make_slab(), plain_meter()
    rows = [TableRow(slab.species_id, 6, 7), TableRow(slab.species_id, 20, 22)]
    meter_tables.take_table(meter, rows, by=owner)
    check = record(slab, owner, meter=meter)
    for address in (reverse("inventory:check_page", args=[check.pk]), slab.get_absolute_url()):
        page = text_of(owner_client.get(address))
        assert "for the species, by the shop's own table." in page
        assert "taken on 20 May 2026" in page
        assert url("meter", meter) in page


def test_a_worker_tests_a_meter(worker_client: Client) -> None:
    meter = plain_meter()
    form = {
        "block_pct": "12",
        "read_pct": "12,8 %",
        "on": "2026-05-20",
        "next_due_on": "2026-08-18",
    }
    sent: Any = worker_client.post(url("meter_test", meter), {**form, "note": "cold shed"})
    assert sent.url == url("meter", meter)
    page = text_of(worker_client.get(sent.url))
    assert "Reads 0.8 above the block." in page
    assert "clean the pins" in page
    assert "18 August" in page
    assert 'value="12"' in text_of(worker_client.get(url("meter_test", meter)))


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"block_pct": ""}, "Say what is written on the block."),
        ({"read_pct": "high"}, "“high” is not a number"),
        ({"on": "2026-05-21"}, "ahead of today"),
        ({"next_due_on": "2026-05-20"}, "comes after this one"),
    ],
)
def test_a_test_that_cannot_be_is_said(
    worker_client: Client, changes: dict[str, str], sentence: str
) -> None:
    form = {"block_pct": "12", "read_pct": "12.4", "on": "2026-05-20", "next_due_on": "2026-08-18"}
    page = worker_client.post(url("meter_test", plain_meter()), {**form, **changes})
    assert page.status_code == 422
    assert sentence in text_of(page)
    assert not MeterTest.objects.exists()


def test_an_overdue_test_is_said(owner: Person, owner_client: Client) -> None:
    meter = plain_meter()
    meter_tests.record_test(
        meter, by=owner, on=TODAY.replace(month=1), block_pct=12, read_pct=12, now=NOW
    )
    assert "Its test was due on 20 April" in text_of(owner_client.get(url("meter", meter)))
    assert "due again since 20 April" in text_of(owner_client.get(reverse("inventory:meters")))


def test_what_it_was_calibrated_on_is_kept(owner_client: Client) -> None:
    form = {"name": "Spruce pins", "method": "pin", "calibrated_on": "Norway spruce"}
    owner_client.post(reverse("inventory:meter_new"), {**form, "calibrated_at_c": "68"})
    meter = Meter.objects.get()
    assert meter.calibrated_at_c == pytest.approx(20.0)
    page = text_of(owner_client.get(url("meter", meter)))
    assert "Norway spruce at 68 °F" in page
    assert "it takes a table of its own" in page
    wrong = owner_client.post(url("meter_edit", meter), {**form, "calibrated_at_c": "300"})
    assert "look again" in text_of(wrong)


@pytest.mark.parametrize("method", ["pin", "pinless", "weighing"])
@pytest.mark.parametrize("warm", [False, True])
@pytest.mark.parametrize("named", [False, True])
@pytest.mark.parametrize("has_table", [False, True])
def test_each_correction_is_claimed_by_one(
    method: str, warm: bool, named: bool, has_table: bool
) -> None:
    meter = Meter(method=method, corrects_temperature=warm, corrects_species=named)
    words = correction_words(meter, has_table=has_table)
    assert len(words) == (2 if method == "pin" else 1)
    assert ("We correct for the wood's temperature" in " ".join(words)) == (
        method == "pin" and not warm
    )


def test_doors(
    worker_client: Client, buyer_client: Client, owner_client: Client, client: Client
) -> None:
    meter = plain_meter()
    assert buyer_client.get(url("meter", meter)).status_code == 200
    assert buyer_client.get(url("meter_test", meter)).status_code == 403
    assert worker_client.get(url("meter_test", meter)).status_code == 200
    assert worker_client.get(url("meter_table", meter)).status_code == 403
    assert worker_client.post(url("meter_table_drop", meter)).status_code == 403
    assert owner_client.get(url("meter_table_drop", meter)).status_code == 405
    for name in ("meter", "meter_edit", "meter_test", "meter_table"):
        assert client.get(url(name, meter)).status_code == 302
        missing = reverse(f"inventory:{name}", args=[999999])
        assert owner_client.get(missing).status_code == 404


def test_a_meters_page_asks_as_often_for_one_row_as_for_many(
    owner: Person, owner_client: Client
) -> None:
    def queries(rows: int) -> int:
        meter = plain_meter()
        pairs = [TableRow(None, 6 + n / 10, 7 + n / 10) for n in range(rows)]
        meter_tables.take_table(meter, pairs, by=owner)
        for _ in range(rows):
            meter_tests.record_test(meter, by=owner, on=TODAY, block_pct=12, read_pct=12, now=NOW)
        owner_client.get(url("meter", meter))
        with CaptureQueriesContext(connection) as captured:
            owner_client.get(url("meter", meter))
        return len(captured)

    assert queries(2) == queries(12)
