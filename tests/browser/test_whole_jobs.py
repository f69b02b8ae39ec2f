"""Each person's whole job, by clicking, from signing in to the last page.

The worker's job on a phone stands in test_worker_checks.py.
"""

import re
import shutil
from pathlib import Path

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from catalogue.models import Commission
from inventory import worth
from inventory.models import Person, Slab, Standing
from tests.browser.conftest import DESKTOP, TABLET, Visit
from tests.browser.yard import small_yard
from tests.factories import make_commission
from tests.inventory.test_workbook import cents, recalculated, summary_rows

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def wanted(slab: Slab) -> Commission:
    """A top that this slab is surely large enough for."""
    return make_commission(
        title="Bench for the hall",
        top_length_mm=slab.length_mm * 0.5,
        top_width_mm=slab.least_width_mm * 0.7,
        finished_thickness_mm=slab.thickness_mm * 0.6,
    )


def test_the_owner_narrows_compares_holds_and_allots(visit: Visit) -> None:
    small_yard(logs=4)
    free = Slab.objects.filter(standing=Standing.FREE).order_by("-least_width_mm")
    slab = free.select_related("species")[0]
    commission = wanted(slab)
    commission.species.set([slab.species])
    visitor = visit(TABLET)
    page = visitor.page
    visitor.sign_in(Person.objects.get(username="maren"))
    page.get_by_role("link", name="Slabs", exact=True).click()

    page.get_by_text("Narrow down").click()
    page.get_by_label(slab.species.common_name).check()
    found = Slab.objects.in_stock().filter(species=slab.species).count()
    expect(page.locator("#results-title")).to_have_text(f"{found} slabs")

    for box in page.get_by_label(re.compile("Compare")).all()[:2]:
        box.check()
    page.get_by_role("button", name=re.compile("Compare")).first.click()
    expect(page).to_have_url(re.compile("/compare/"))
    expect(page.locator("h1")).to_be_visible()

    page.get_by_role("link", name="Commissions", exact=True).click()
    page.get_by_role("link", name=commission.title).click()
    page.get_by_role("button", name=re.compile("^Hold")).first.click()
    expect(page.get_by_role("status").first).to_contain_text(re.compile("kept|held", re.I))
    held = Slab.objects.get(standing=Standing.HELD, holds__commission_link__commission=commission)

    page.get_by_role("button", name=re.compile("^Allot")).first.click()
    held.refresh_from_db()
    assert held.standing == Standing.ALLOTTED
    page.goto(visitor.base + held.get_absolute_url())
    expect(page.get_by_text("Allotted").first).to_be_visible()


@pytest.mark.skipif(not shutil.which("soffice"), reason="LibreOffice is not installed here")
def test_the_buyer_exports_and_the_office_agrees(visit: Visit, tmp_path: Path) -> None:
    small_yard(logs=4, faces=False)
    visitor = visit(DESKTOP)
    page = visitor.page
    visitor.sign_in(Person.objects.get(username="tobiah"))
    page.get_by_role("link", name="Worth", exact=True).click()
    total = worth.summary("species", worth.Scope(timezone.localdate())).total
    for amount in (total.cost, total.asking, total.worth):
        expect(page.locator("main")).to_contain_text(f"${amount:,.2f}")

    with page.expect_download() as waiting:
        page.get_by_role("link", name=re.compile("workbook")).click()
    saved = tmp_path / "worth.xlsx"
    waiting.value.save_as(saved)
    rows = summary_rows(recalculated(saved, tmp_path))
    totals = {cents(cell) for cell in rows["Species / All, by species"]}
    assert {total.cost, total.asking, total.worth} <= totals
