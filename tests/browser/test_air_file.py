"""Somebody reads in a messy logger's file and mends its columns; its progress is seen."""

import threading
from datetime import datetime, timedelta
from typing import Any

import pytest
from playwright.sync_api import expect

from inventory import air_imports
from inventory.models import AirRecord, Person, Place
from tests.browser.conftest import DESKTOP, PHONE, Visit, Visitor
from tests.conftest import client_for
from tests.factories import make_person, make_place

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
ROWS, BATCH = 400, 100


@pytest.fixture
def wren(transactional_db: None) -> Person:
    return make_person("Worker", username="wren")


@pytest.fixture
def gate(monkeypatch: pytest.MonkeyPatch, settings: Any) -> threading.Semaphore:
    """A thread reads in, and each batch waits to be let through."""
    settings.AIR_IMPORTS_INLINE = False
    gate, write = threading.Semaphore(0), air_imports._write_batch

    def waiting(*args: Any) -> None:
        assert gate.acquire(timeout=30)
        write(*args)

    monkeypatch.setattr(air_imports, "BATCH_ROWS", BATCH)
    monkeypatch.setattr(air_imports, "_write_batch", waiting)
    return gate


def signed_in(visitor: Visitor, person: Person) -> None:
    session = client_for(person).cookies["sessionid"].value
    visitor.page.context.add_cookies([{"name": "sessionid", "value": session, "url": visitor.base}])


def messy() -> bytes:
    """Semicolons, decimal commas, °F nobody says, the battery before the air, one bad line."""
    first = datetime(2025, 3, 31)
    lines = ["Logger;00123", "", "Datum Zeit, GMT+02:00;Batterie;Ch1;Ch2"]
    for n in range(ROWS):
        moment = first + timedelta(hours=n)
        lines.append(f"{moment:%d.%m.%Y %H:%M};3,01;68,{n % 10};4{n % 10},5")
    lines[100] = lines[100].replace(";68,", ";1168,")
    return "\r\n".join(lines).encode("cp1252")


def choose(visitor: Visitor, place: Place) -> None:
    page = visitor.page
    visitor.open(f"/places/{place.pk}/")
    page.get_by_role("link", name="Read in a logger’s file").click()
    file: Any = {"name": "shed.csv", "mimeType": "text/csv", "buffer": messy()}
    page.get_by_label("The logger's file").set_input_files(file)
    visitor.expect_accessible()
    page.get_by_role("button", name="Look at it").click()


def mend(visitor: Visitor) -> None:
    page = visitor.page
    expect(page.get_by_role("heading", name="Is it read rightly?")).to_be_visible()
    visitor.expect_accessible()
    visitor.expect_no_sideways_scroll()
    page.get_by_label("Batterie").select_option(label="Leave out")
    page.get_by_text("1 column left out").click()
    page.get_by_label("Ch1").select_option(label="Temperature, °F")
    page.get_by_label("Ch2").select_option(label="Relative humidity, %")
    page.get_by_role("button", name="Show it read this way").click()
    expect(page.get_by_role("cell", name="68 °F").first).to_be_visible()
    expect(page.get_by_role("cell", name="30 Mar 2025, 22:00")).to_be_visible()


@pytest.mark.parametrize("size", [PHONE, DESKTOP], ids=["phone", "desktop"])
def test_a_messy_file_is_mended_and_read_in_with_its_progress(
    size: tuple[int, int], wren: Person, visit: Visit, gate: threading.Semaphore
) -> None:
    place, visitor = make_place(name="Long shed"), visit(size)
    page = visitor.page
    signed_in(visitor, wren)
    choose(visitor, place)
    mend(visitor)
    page.get_by_role("button", name="Read it in").click()
    expect(page.get_by_text("1 of 400 lines")).to_be_visible()
    gate.release()
    expect(page.get_by_text("101 of 400 lines")).to_be_visible()
    visitor.expect_accessible()
    visitor.open(f"/places/{place.pk}/")
    page.get_by_role("link", name="shed.csv").click()
    expect(page.get_by_text("101 of 400 lines")).to_be_visible()
    gate.release(3)
    expect(page.get_by_role("heading", name="The file is read in")).to_be_visible()
    visitor.expect_accessible()
    visitor.expect_no_sideways_scroll()
    expect(page.get_by_text("between −40 and 120 °C")).to_be_visible()
    expect(page.get_by_role("cell", name="101", exact=True)).to_be_visible()
    assert AirRecord.objects.count() == ROWS - 1
    page.get_by_role("link", name="See the air of Long shed").click()
    expect(page.get_by_role("heading", name="A typical year")).to_be_visible()
    visitor.expect_accessible()
    visitor.expect_no_sideways_scroll()


def test_an_owner_sets_up_a_sensor_and_takes_its_token_back(
    transactional_db: None, visit: Visit
) -> None:
    place, visitor = make_place(name="Long shed"), visit(PHONE)
    page = visitor.page
    signed_in(visitor, make_person("Owner"))
    visitor.open(f"/places/{place.pk}/")
    page.get_by_role("link", name="Set up a sensor").click()
    page.get_by_label("What the sensor is called").fill("North rack")
    page.get_by_role("button", name="Make its token").click()
    expect(page.get_by_role("heading", name="The token of North rack")).to_be_visible()
    visitor.expect_accessible()
    visitor.expect_no_sideways_scroll()
    page.get_by_role("button", name="Take its token back").click()
    expect(page.get_by_text("can send no more")).to_be_visible()
    visitor.expect_accessible()
