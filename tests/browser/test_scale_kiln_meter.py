"""A weighing on a phone, a kiln charge from loading to its heat, a meter's table with a bad row."""

from datetime import date, timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import FilePayload, expect

from inventory.models import Charge, Meter, MeterTable, Person, Place, Slab, Standing
from inventory.wood import shrinkage
from tests.browser.conftest import DESKTOP, PHONE, TABLET, Visit
from tests.browser.yard import small_yard
from tests.inventory.check_helpers import record

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def _yard(transactional_db: None) -> None:
    small_yard(logs=3, faces=False)


@pytest.mark.usefixtures("_yard")
def test_a_worker_weighs_on_a_phone_what_was_read_that_day(visit: Visit) -> None:
    """From the definition: 7.5 % more than its oven-dry mass is 7.5 % moisture content."""
    worker, today = Person.objects.get(username="osk"), timezone.localdate()
    slab = Slab.objects.filter(standing=Standing.FREE, species__sg_green__isnull=False)[0]
    record(slab, worker, on=today, now=timezone.now())
    dry_kg = shrinkage.mass_kg(slab.volume_mm3, slab.species.sg_green or 0.0, 0.0)
    visitor = visit(PHONE)
    page = visitor.page
    visitor.sign_in(worker)
    visitor.open(f"/slabs/{slab.code}/weigh/")
    visitor.expect_accessible()
    visitor.expect_no_sideways_scroll()
    page.get_by_label("What it weighs now").fill(f"{1.075 * dry_kg:.3f} kg")
    page.get_by_text("Its oven-dry mass is known").tap()
    page.get_by_label("Its oven-dry mass", exact=True).fill(f"{dry_kg:.3f} kg")
    page.get_by_role("button", name="Save the weighing").tap()
    both = page.locator(".side-by-side")
    expect(both).to_contain_text("7.5 % by the scale and 7.2 % by the meter")
    visitor.expect_accessible()
    visitor.expect_no_sideways_scroll()
    assert slab.weighings.get().on == today


def core_log(day: date) -> str:
    """Forty-five minutes from ten, a reading a minute: one probe at 60, one at 57.5 °C."""
    lines = [f"{day} 10:{minute:02},60.0,57.5" for minute in range(45)]
    return "\n".join(["Time,Core 1,Core 2", *lines])


@pytest.mark.usefixtures("_yard")
def test_an_owner_loads_the_kiln_and_reads_whether_it_was_hot_through(visit: Visit) -> None:
    """56 °C for 30 minutes through the core: ISPM 15, treatment HT."""
    yesterday = timezone.localdate() - timedelta(days=1)
    kiln = Place.objects.get(kind="kiln")
    dry = Slab.objects.filter(standing=Standing.FREE, charge_stays=None, mc_pct__lt=18.0)
    place = dry.exclude(place=kiln)[0].place
    assert place is not None
    slabs = list(dry.filter(place=place)[:2])
    visitor = visit(TABLET)
    page = visitor.page
    visitor.sign_in(Person.objects.get(username="maren"))
    visitor.open(f"/places/charges/new/?where=place-{kiln.pk}&look_in=place-{place.pk}")
    visitor.expect_accessible()
    page.get_by_label("First day").fill(yesterday.isoformat())
    page.get_by_label("Name", exact=True).fill("A small load")
    for slab in slabs:
        page.get_by_label(slab.display_code).check()
    page.get_by_role("button", name="Begin the charge").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("A small load")
    for slab in slabs:
        expect(page.get_by_role("link", name=slab.display_code, exact=True)).to_be_visible()
    page.get_by_role("link", name="Take in a core log").tap()
    page.get_by_label("Or paste the log").fill(core_log(yesterday))
    page.get_by_label("°C").check()
    page.get_by_role("button", name="Take the log").tap()
    statement = page.locator(".heat")
    expect(statement).to_contain_text("was held at both probes")
    expect(statement).to_contain_text("30 minutes were full at 10:30")
    page.locator("#core").get_by_text("The numbers").tap()
    expect(page.get_by_role("row", name="Core 2")).to_contain_text("45")
    visitor.expect_accessible()
    visitor.expect_no_sideways_scroll()
    assert {stay.slab for stay in Charge.objects.get(name="A small load").stays.all()} == {*slabs}


@pytest.mark.usefixtures("_yard")
def test_a_meters_table_with_one_bad_row_is_kept_once_that_is_mended(visit: Visit) -> None:
    meter = Meter.objects.get(name__startswith="Grey pin")
    good, bad = "Walnut, black;7;6.5\nWalnut, black;12;11.2\n", "Walnut, black;16;51.0\n"
    file: FilePayload = {
        "mimeType": "text/csv",
        "name": "pins.csv",
        "buffer": (good + bad).encode(),
    }
    visitor = visit(DESKTOP)
    page = visitor.page
    visitor.sign_in(Person.objects.get(username="maren"))
    visitor.open(f"/meters/{meter.pk}/table/")
    page.locator("input[type=file]").set_input_files(file)
    page.get_by_role("button", name="Look at it").click()
    expect(page.get_by_role("heading", name="1 of 3 rows to mend")).to_be_visible()
    expect(page.locator(".row-wrong")).to_contain_text("16;51.0")
    visitor.expect_accessible()
    tables = MeterTable.objects.filter(meter=meter)
    assert not tables.exists()
    box = page.locator("textarea")
    box.fill(box.input_value().replace("51.0", "15.1"))
    page.get_by_role("button", name="Look at it").click()
    page.get_by_role("button", name="Go by this table").click()
    expect(page.get_by_text("goes by this table from now on")).to_be_visible()
    visitor.expect_accessible()
    assert tables.get().rows.count() == 3
