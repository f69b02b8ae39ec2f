"""A check with core and shell turns the verdict; an owner asks when, and what if it moved."""

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from inventory.checks import ReadingEntry, record_check
from inventory.models import Person, Place
from tests.browser.conftest import DESKTOP, PHONE, Visit
from tests.browser.test_worker_checks import press, signed_in
from tests.browser.yard import small_yard
from tests.factories import make_bay, make_meter, make_person, make_slab

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_core_and_shell_read_on_a_phone_turn_the_verdict(
    visit: Visit, transactional_db: None
) -> None:
    wren = make_person("Worker", username="wren")
    bay = make_bay()
    slab = make_slab(place=bay.place, bay=bay)
    uneven = [
        ReadingEntry(7.0, along=0.2, zone="shell"),
        ReadingEntry(7.2, along=0.5, zone="shell"),
        ReadingEntry(10.6, along=0.5, zone="core"),
        ReadingEntry(7.1, along=0.8, zone="shell"),
    ]
    record_check(
        slab,
        by=wren,
        on=timezone.localdate() - timedelta(days=20),
        meter=make_meter(),
        wood_temp_c=20.0,
        readings=uneven,
    )
    visitor = visit(PHONE)
    page = visitor.page
    signed_in(visitor, wren)
    visitor.open(slab.get_absolute_url())
    expect(page.get_by_text("Core is 3.5 above the shell: it may be 2 at most.")).to_be_visible()
    page.get_by_role("link", name="Check moisture").tap()
    page.get_by_label("Reading 1").tap()
    press(page, "7.3>7.2>7.4>7.6>7.3")
    page.get_by_role("button", name="Save the check").last.tap()
    expect(page.get_by_text("above the shell: it may be 2 at most.")).to_contain_text("Met.")
    expect(page.get_by_text("Core is 3.5 above the shell")).to_have_count(0)
    slab.refresh_from_db()
    assert slab.mc_pct == pytest.approx(7.36, abs=0.2)


def test_an_owner_asks_when_what_is_ready_and_what_if_it_moved(visit: Visit) -> None:
    small_yard(logs=4, faces=False)
    visitor = visit(DESKTOP)
    page = visitor.page
    visitor.sign_in(Person.objects.get(username="maren"))
    page.get_by_role("link", name="When what is ready").first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("When what is ready")
    page.locator(".ready-table tbody a").first.click()
    page.get_by_role("link", name="What if it moved").first.click()
    expect(page.get_by_role("heading", name="If it were moved today")).to_be_visible()
    expect(page.locator(".places-when tbody tr")).to_have_count(Place.objects.count())
    expect(page.locator(".places-when tbody")).to_contain_text("it lies here")
    visitor.expect_accessible()
