"""The owner lays tops by hand: a round on a tablet with a finger, a pair with resin by keyboard."""

import re

import pytest
from playwright.sync_api import Page, expect

from catalogue.models import Commission, HowMade, LaidTop
from inventory.models import Person, Slab, Standing
from tests.browser.conftest import DESKTOP, PHONE, TABLET, Visit, Visitor
from tests.browser.yard import small_yard
from tests.catalogue.wood import level, make_checked
from tests.factories import make_commission, make_species

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def owner_at(visit: Visit, size: tuple[int, int]) -> Visitor:
    visitor = visit(size)
    visitor.sign_in(Person.objects.get(username="maren"))
    return visitor


def a_round() -> tuple[Commission, Slab]:
    """A round top that lies on one of the yard's free slabs with some wood to spare."""
    slab = Slab.objects.filter(standing=Standing.FREE, shape_basis="traced").latest("circle_mm")
    across = round(slab.circle_mm * 0.8)
    commission = make_commission(
        title="Reading table",
        top_shape="round",
        top_length_mm=across,
        top_width_mm=across,
        finished_thickness_mm=20,
        start_on=None,
    )
    return commission, slab


def verdict(page: Page) -> str:
    return page.locator("#figures .verdict").inner_text()


def test_a_round_is_laid_with_a_finger_on_a_tablet_and_kept(visit: Visit) -> None:
    small_yard(logs=3)
    commission, _ = a_round()
    visitor = owner_at(visit, TABLET)
    page = visitor.page
    visitor.open(commission.get_absolute_url())
    page.get_by_role("link", name=re.compile("Lay it by hand")).first.click()
    expect(page.get_by_role("heading", name="Lay it by hand")).to_be_visible()
    expect(page.locator("#figures .verdict")).to_contain_text("It fits here")
    visitor.expect_no_sideways_scroll()
    visitor.expect_accessible()
    # Dragged far aside it reaches over the wood, and the page says so.
    top = page.locator("[data-mover='0'] [data-edge]").bounding_box()
    assert top is not None
    middle = top["x"] + top["width"] / 2, top["y"] + top["height"] / 2
    page.mouse.move(*middle)
    page.mouse.down()
    page.mouse.move(middle[0], middle[1] + top["height"] * 0.8, steps=6)
    page.mouse.up()
    expect(page.locator("#figures .verdict")).to_contain_text("reaches over the wood")
    # Snapped back, nudged by a button, it still fits, and is kept.
    page.get_by_role("link", name="Snap to the best fit").click()
    expect(page.locator("#figures .verdict")).to_contain_text("It fits here")
    before = page.locator("[name='m0-x']").first.input_value()
    page.get_by_role("button", name="The top on the slab: right").click()
    assert page.locator("[name='m0-x']").first.input_value() != before
    expect(page.locator("#figures:not(.is-waiting) .verdict")).to_contain_text("It fits here")
    page.get_by_label("Note").fill("Heart to the window")
    page.get_by_role("button", name="Keep this layout").click()
    expect(page.get_by_text("Heart to the window")).to_be_visible()
    kept = LaidTop.objects.get()
    assert kept.figures["fits"]
    # What was nudged is what was kept.
    hand = kept.figures["hands"][0]["x_mm"]
    assert hand == pytest.approx(float(before) * 25.4 + 25.4 / 4, abs=0.3)


def test_a_pair_with_resin_is_reached_and_its_gap_adjusted_by_keyboard(visit: Visit) -> None:
    small_yard(logs=1, faces=False)
    species = make_species()
    for _ in range(2):
        make_checked(7.0, widths=level(420), length_mm=2100, species=species)
    commission = make_commission(
        title="River table", how_made=HowMade.RESIN_PAIR, top_width_mm=1000, use="resin"
    )
    commission.species.add(species)
    visitor = owner_at(visit, DESKTOP)
    page = visitor.page
    visitor.open(commission.get_absolute_url())
    expect(page.get_by_text(re.compile("of resin")).first).to_be_visible()
    page.get_by_role("link", name=re.compile("Lay it by hand")).first.click()
    visitor.expect_accessible()
    first = verdict(page)
    assert "The resin is" in first
    slab = page.locator("[data-mover='1']")
    slab.focus()
    slab.press("Shift+ArrowUp")
    expect(page.locator("#figures:not(.is-waiting) .verdict")).not_to_have_text(first)
    # Drawn in by 2½ in it no longer reaches the top's edge.
    expect(page.locator("#figures .verdict")).to_contain_text(
        re.compile("falls short|hard to pour full|more than")
    )
    slab.press(",")
    turned = page.locator("[name='m1-turn']").first.input_value()
    assert float(turned) != 0.0


def test_the_bench_fits_a_phone_and_works_without_dragging(visit: Visit) -> None:
    small_yard(logs=3)
    commission, slab = a_round()
    visitor = owner_at(visit, PHONE)
    visitor.open(f"/commissions/{commission.pk}/lay/?slab={slab.code}")
    visitor.expect_no_sideways_scroll()
    visitor.expect_accessible()
    page = visitor.page
    field = page.locator("[name='m0-y']").first
    field.fill("400")
    field.press("Tab")
    expect(page.locator("#figures .verdict")).to_contain_text("reaches over the wood")
