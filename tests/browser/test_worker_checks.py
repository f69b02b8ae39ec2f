"""The worker's whole job in a browser: a check with five readings and a mistake, on a phone."""

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from inventory.checks import ReadingEntry, record_check
from inventory.models import Person, Slab
from tests.browser.conftest import DESKTOP, PHONE, TABLET, Visit, Visitor
from tests.conftest import client_for
from tests.factories import make_bay, make_meter, make_person, make_slab

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def wren(transactional_db: None) -> Person:
    return make_person("Worker", username="wren")


def signed_in(visitor: Visitor, person: Person) -> None:
    """By the session's cookie: signing in has its own tests."""
    session = client_for(person).cookies["sessionid"].value
    visitor.page.context.add_cookies([{"name": "sessionid", "value": session, "url": visitor.base}])


def slabs_in_bay(by: Person) -> list[Slab]:
    """Two slabs of 54 mm due in one bay; the first read 9.4 % a hundred days ago."""
    bay = make_bay()
    slabs = [make_slab(place=bay.place, bay=bay) for _ in range(2)]
    slabs.sort(key=lambda slab: slab.code)
    record_check(
        slabs[0],
        by=by,
        on=timezone.localdate() - timedelta(days=100),
        meter=make_meter(),
        wood_temp_c=20.0,
        readings=[ReadingEntry(9.4, along=0.5)],
    )
    return slabs


def press(page: Page, keys: str) -> None:
    """Press the big keys: figures, `.` for the point, `>` for Next."""
    names = {".": "Decimal point", ">": "Next reading"}
    for key in keys:
        page.locator(".keypad").get_by_role("button", name=names.get(key, key), exact=True).tap()


def test_a_worker_logs_five_readings_and_a_mistake_on_a_phone(wren: Person, visit: Visit) -> None:
    first, second = slabs_in_bay(wren)
    visitor = visit(PHONE)
    page = visitor.page
    signed_in(visitor, wren)
    visitor.open("/moisture/")
    page.get_by_role("link", name=first.display_code).tap()
    page.get_by_label("Reading 1").tap()
    press(page, "9.1>8.8>92>9.9>9.3")
    expect(page.get_by_label("Reading 3")).to_have_value("92")
    # With the keys still open: the tap that closes them lands on the button all the same.
    page.get_by_role("button", name="Save the check").last.tap()
    expect(page.get_by_text("92? The last was 9.4 — did you mean 9.2?")).to_be_visible()
    visitor.expect_accessible()
    visitor.expect_no_sideways_scroll()
    page.get_by_role("button", name="9.2", exact=True).tap()
    expect(page.get_by_text("Core is 1.1 above the shell: it may be 2 at most.")).to_be_visible()
    visitor.expect_accessible()
    readings = first.checks.current()[0].readings.all()
    assert [reading.raw_pct for reading in readings] == [9.1, 8.8, 9.2, 9.9, 9.3]
    page.get_by_role("link", name="Next slab in this bay").tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text(second.display_code)


def test_what_was_typed_waits_for_the_signal(wren: Person, visit: Visit) -> None:
    first, _ = slabs_in_bay(wren)
    visitor = visit(PHONE)
    page = visitor.page
    signed_in(visitor, wren)
    visitor.open(f"/slabs/{first.code}/check/")
    page.get_by_label("Reading 1").tap()
    press(page, "9.1>")
    page.context.set_offline(True)
    page.get_by_role("button", name="Save the check").last.tap()
    expect(page.get_by_text("No signal here.")).to_be_visible()
    page.context.set_offline(False)
    visitor.open(f"/slabs/{first.code}/check/")
    expect(page.get_by_label("Reading 1")).to_have_value("9.1")
    page.get_by_role("button", name="Save the check").last.tap()
    expect(page.get_by_role("heading", name="The check of")).to_be_visible()
    visitor.open(f"/slabs/{first.code}/check/")
    expect(page.get_by_label("Reading 1")).to_have_value("")
    assert first.checks.count() == 2


def test_a_tap_on_the_drawing_says_where_the_reading_was_taken(wren: Person, visit: Visit) -> None:
    first, _ = slabs_in_bay(wren)
    visitor = visit(PHONE)
    page = visitor.page
    signed_in(visitor, wren)
    visitor.open(f"/slabs/{first.code}/check/")
    page.get_by_label("Reading 1").tap()
    press(page, "9.1")
    drawing = page.locator("[data-strip] svg")
    box = drawing.bounding_box()
    assert box is not None
    drawing.tap(position={"x": box["width"] / 4, "y": box["height"] / 2})
    page.get_by_role("button", name="Save the check").last.tap()
    expect(page.get_by_role("heading", name="The check of")).to_be_visible()
    along = first.checks.current()[0].readings.get().along
    assert along == pytest.approx(0.24, abs=0.02)


def test_a_check_is_entered_without_javascript(wren: Person, visit: Visit) -> None:
    first, _ = slabs_in_bay(wren)
    visitor = visit(PHONE, java_script_enabled=False)
    page = visitor.page
    signed_in(visitor, wren)
    visitor.open(f"/slabs/{first.code}/check/")
    page.get_by_label("Reading 1").fill("92")
    page.locator(".check-form .button-main").click()
    page.get_by_role("button", name="keep 92").click()
    expect(page.get_by_role("heading", name="The check of")).to_be_visible()
    assert first.checks.current()[0].readings.get().raw_pct == 92.0


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, TABLET, DESKTOP])
def test_the_pages_of_checks_are_accessible_and_fit(
    wren: Person, visit: Visit, size: tuple[int, int], scheme: str
) -> None:
    first, _ = slabs_in_bay(wren)
    check = first.checks.get()
    visitor = visit(size, scheme)
    signed_in(visitor, wren)
    for path in (
        "/moisture/",
        f"/slabs/{first.code}/check/",
        f"/checks/{check.pk}/",
        f"/checks/{check.pk}/correct/",
    ):
        visitor.open(path)
        visitor.expect_accessible()
        visitor.expect_no_sideways_scroll()
