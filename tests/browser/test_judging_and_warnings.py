"""Judged for another use without leaving the page, and a warning set aside, in a browser."""

import re
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from inventory.checks import ReadingEntry
from inventory.models import Alert, AlertKind, DryingStage
from tests.browser.conftest import PHONE, TABLET, Visit
from tests.browser.test_owner_looking import opened
from tests.catalogue.wood import make_checked
from tests.factories import make_commission, make_meter, make_person, make_place, make_slab
from tests.inventory.check_helpers import record

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_slab_is_judged_for_another_use_and_for_a_piece(visit: Visit) -> None:
    owner, today = make_person("Owner"), timezone.localdate()
    slab = make_checked(7.0, today)
    make_commission(title="Porch bench", home_temp_c=21.0, home_rh_pct=70.0)
    visitor = opened(visit, owner, slab.get_absolute_url(), TABLET)
    page = visitor.page
    verdict = page.locator(".judged-words")
    expect(verdict).to_contain_text("Ready for interior furniture.")
    page.locator("html").evaluate("html => { html.dataset.same = 'page' }")
    page.get_by_role("link", name=re.compile("Outdoor use")).tap()
    expect(verdict).to_contain_text("Drier than outdoor use wants.")
    expect(page).to_have_url(re.compile(r"\?for=outdoor$"))
    assert page.evaluate("document.activeElement.id") == "judged-outdoor"
    page.get_by_label("For a commission").select_option(index=1)
    page.get_by_role("button", name="Judge").tap()
    expect(verdict).to_contain_text("Drier than “Porch bench” wants.")
    expect(page).to_have_url(re.compile(r"\?for=\d+$"))
    assert page.locator("html").get_attribute("data-same") == "page"
    page.reload()
    expect(verdict).to_contain_text("Drier than “Porch bench” wants.")
    visitor.expect_accessible()


def test_a_worker_sets_a_warning_aside_on_the_phone(visit: Visit) -> None:
    worker, today = make_person("Worker"), timezone.localdate()
    place, meter = make_place("shed"), make_meter()
    slab = make_slab(place=place)
    DryingStage.objects.create(
        slab=slab, kind="air", place=place, started_on=today - timedelta(days=300)
    )
    for days, readings in ((60, (12.9, 13.1, 13.0)), (0, (12.9, 12.8, 13.0))):
        record(
            slab,
            worker,
            on=today - timedelta(days=days),
            now=timezone.now(),
            meter=meter,
            readings=_readings(*readings),
        )
    visitor = opened(visit, worker, "/", PHONE)
    page = visitor.page
    page.get_by_role("link", name="Set a warning aside").tap()
    expect(page.get_by_text("It has stood at about 12.9 %")).to_be_visible()
    page.locator("summary").filter(has_text="Set aside").tap()
    page.get_by_role("button", name="Set it aside").tap()
    expect(page.get_by_text("Say in a few words why it may be left.")).to_be_visible()
    page.get_by_label("Why it may be left").fill("It waits for the kiln")
    page.get_by_role("button", name="Set it aside").tap()
    expect(page.get_by_text("Nothing to warn of.")).to_be_visible()
    expect(page.get_by_text("“It waits for the kiln”")).to_be_visible()
    visitor.expect_no_sideways_scroll()
    visitor.expect_accessible()
    assert Alert.objects.get(kind=AlertKind.STALLED).set_aside_by == worker


def _readings(*pcts: float) -> list[ReadingEntry]:
    return [ReadingEntry(pct, along=0.2 + 0.3 * at) for at, pct in enumerate(pcts)]
