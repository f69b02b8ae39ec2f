"""The laying bench under fingers: turned by two, by its dot, seen nearer, scrolled past; and the
same page where no script runs.
"""

from dataclasses import dataclass
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from catalogue.models import Commission, HowMade, LaidTop
from inventory.models import LengthSystem, Person, Slab
from tests.browser.conftest import DESKTOP, PHONE, TABLET, Visit, Visitor
from tests.browser.test_owner_looking import opened
from tests.catalogue.wood import level, make_checked
from tests.factories import make_commission, make_person, make_species

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
Spot = tuple[float, float]


@pytest.fixture
def ilse(transactional_db: None) -> Person:
    return make_person("Owner", username="ilse", length_system=LengthSystem.METRIC)


@pytest.fixture
def bench(ilse: Person) -> tuple[Commission, Slab]:
    """A top 1200 × 500 on a board 2000 × 700."""
    slab = make_checked(7.0, widths=level(700), length_mm=2000)
    return make_commission(top_length_mm=1200, top_width_mm=500), slab


def at_bench(
    visit: Visit, who: Person, commission: Commission, *slabs: Slab, **how: Any
) -> Visitor:
    named = "&".join(f"slab={slab.code}" for slab in slabs)
    return opened(visit, who, f"/commissions/{commission.pk}/lay/?{named}", **how)


@dataclass
class Fingers:
    """Two fingers on a screen, as the browser's own touch events."""

    page: Page

    def __post_init__(self) -> None:
        self.line = self.page.context.new_cdp_session(self.page)

    def send(self, kind: str, *spots: Spot) -> None:
        points = [{"x": x, "y": y, "id": at} for at, (x, y) in enumerate(spots)]
        self.line.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    def move(self, *steps: tuple[Spot, ...]) -> None:
        """Put down at the first step, moved through the others, lifted."""
        self.send("touchStart", *steps[0])
        for step in steps[1:]:
            self.send("touchMove", *step)
            self.page.wait_for_timeout(20)
        self.send("touchEnd")


def middle(page: Page, what: str) -> Spot:
    box = page.locator(what).first.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def value(page: Page, name: str) -> float:
    return float(page.locator(f"#places [name={name}]").input_value())


def seen_wide(page: Page) -> float:
    box = page.locator(".laying-board").get_attribute("viewBox") or ""
    return float(box.split()[2])


def test_two_fingers_turn_the_top(
    visit: Visit, ilse: Person, bench: tuple[Commission, Slab]
) -> None:
    page = at_bench(visit, ilse, *bench, size=TABLET).page
    x, y = middle(page, "[data-edge]")
    before = seen_wide(page)
    # Both fingers 60 px from the middle, drawn round it by 20 degrees against the clock.
    round_by = [((x - 60, y), (x + 60, y))]
    for cos, sin in ((0.996, 0.087), (0.985, 0.174), (0.966, 0.259), (0.940, 0.342)):
        left, right = (x - 60 * cos, y + 60 * sin), (x + 60 * cos, y - 60 * sin)
        round_by.append((left, right))
    Fingers(page).move(*round_by)
    # What showed that a turn was meant is not turned by.
    assert 12 <= value(page, "m0-turn") <= 20
    assert seen_wide(page) == before
    expect(page.locator("#figures .verdict")).to_contain_text("reaches over the wood")


def test_spreading_two_fingers_shows_it_nearer_and_moves_nothing(
    visit: Visit, ilse: Person, bench: tuple[Commission, Slab]
) -> None:
    page = at_bench(visit, ilse, *bench, size=PHONE).page
    x, y = middle(page, "[data-edge]")
    wide, lay = seen_wide(page), value(page, "m0-x")
    steps = [((x - by, y), (x + by, y)) for by in (30, 38, 50, 70, 90)]
    Fingers(page).move(*steps)
    assert wide / seen_wide(page) == pytest.approx(90 / 38, rel=0.15)
    assert (value(page, "m0-x"), value(page, "m0-turn")) == (lay, 0.0)
    # A finger moves the top by what it moves on the screen, however near.
    per_px = seen_wide(page) / width_px(page)
    Fingers(page).move(((x, y),), ((x + 10, y),), ((x + 20, y),))
    assert value(page, "m0-x") - lay == pytest.approx(20 * per_px, rel=0.1)
    page.get_by_role("button", name="All of it").tap()
    assert seen_wide(page) == wide


def width_px(page: Page) -> float:
    return float(page.locator(".laying-board").evaluate("el => el.getBoundingClientRect().width"))


def test_a_phones_page_scrolls_past_the_bench_beside_the_slab(
    visit: Visit, ilse: Person, bench: tuple[Commission, Slab]
) -> None:
    page = at_bench(visit, ilse, *bench, size=PHONE).page
    box = page.locator(".laying-board").bounding_box()
    assert box is not None
    x, low = box["x"] + box["width"] / 2, box["y"] + box["height"] - 12
    lay = value(page, "m0-y")
    swipe = [((x, low - by),) for by in range(0, 200, 20)]
    Fingers(page).move(*swipe)
    page.wait_for_function("scrollY > 60")
    # A finger on the top moves the top, and not the page.
    page.wait_for_timeout(600)  # the swipe runs out
    page.evaluate("scrollTo(0, 0)")
    x, y = middle(page, "[data-edge]")
    Fingers(page).move(*[((x, y - by),) for by in range(0, 60, 10)])
    assert page.evaluate("scrollY") == 0
    assert value(page, "m0-y") > lay + 20


def test_its_dot_turns_the_top_and_is_large_enough_for_a_thumb(
    visit: Visit, ilse: Person, bench: tuple[Commission, Slab]
) -> None:
    for size in (PHONE, DESKTOP):
        page = at_bench(visit, ilse, *bench, size=size).page
        reach = page.locator(".turn-reach").bounding_box()
        assert reach is not None
        assert min(reach["width"], reach["height"]) >= 44
        x, y = middle(page, ".turn-handle")
        centre_x, _ = middle(page, "[data-edge]")
        page.mouse.move(x, y)
        page.mouse.down()
        # Up by a quarter of the arm: arctan(1/4) is 14.04 degrees.
        page.mouse.move(x, y - (x - centre_x) / 4, steps=8)
        page.mouse.up()
        assert value(page, "m0-turn") == pytest.approx(14.04, abs=1.0)


def test_a_slab_of_a_pair_is_turned_by_its_own_dot_about_its_middle(
    visit: Visit, ilse: Person
) -> None:
    species = make_species()
    pair = [make_checked(7.0, widths=level(450), length_mm=2000, species=species) for _ in "ab"]
    commission = make_commission(how_made=HowMade.RESIN_PAIR, top_width_mm=1000, use="resin")
    page = at_bench(visit, ilse, commission, *pair, size=DESKTOP).page
    slab = page.locator("[data-mover='0'] .lay-wood")
    before, turn = middle(page, "[data-mover='0'] .lay-wood"), value(page, "m0-turn")
    x, y = middle(page, "[data-mover='0'] .turn-handle")
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y - 30, steps=6)
    page.mouse.up()
    assert abs(value(page, "m0-turn") - turn) > 2
    assert value(page, "m1-turn") == pytest.approx(0.0, abs=180.1)
    assert middle(page, "[data-mover='0'] .lay-wood") == pytest.approx(before, abs=3)
    expect(slab).to_be_visible()


def test_snapping_back_loses_no_note(
    visit: Visit, ilse: Person, bench: tuple[Commission, Slab]
) -> None:
    page = at_bench(visit, ilse, *bench, size=TABLET).page
    best = value(page, "m0-x")
    page.get_by_label("Note").fill("Heart to the window")
    page.get_by_role("button", name="The top on the slab: right").click()
    assert value(page, "m0-x") != best
    page.get_by_role("link", name="Snap to the best fit").click()
    assert value(page, "m0-x") == best
    expect(page.get_by_label("Note")).to_have_value("Heart to the window")


def test_what_cannot_be_read_is_said_beside_its_field_and_no_figure_shown(
    visit: Visit, ilse: Person, bench: tuple[Commission, Slab]
) -> None:
    visitor = at_bench(visit, ilse, *bench, size=TABLET)
    page = visitor.page
    field = page.locator("#places [name=m0-y]")
    field.fill("to the left")
    field.press("Tab")
    expect(page.locator("#field-m0-y .errorlist")).to_contain_text("is not a number")
    expect(page.locator("#figures")).not_to_contain_text("Wood used")
    visitor.expect_accessible()
    field.fill("0")
    field.press("Tab")
    expect(page.locator("#figures .verdict")).to_contain_text("It fits here")
    expect(page.locator("#field-m0-y .errorlist")).to_have_count(0)


def test_without_a_script_a_top_is_laid_kept_and_its_base_put_down(
    visit: Visit, ilse: Person, bench: tuple[Commission, Slab]
) -> None:
    visitor = at_bench(visit, ilse, *bench, size=TABLET, java_script_enabled=False)
    page = visitor.page
    expect(page.get_by_role("button", name="Nearer")).to_be_hidden()
    expect(page.locator(".turn-handle")).to_be_hidden()
    page.locator("#places [name=m0-y]").fill("150")
    page.get_by_role("button", name="Show it there").click()
    expect(page.locator("#figures .verdict")).to_contain_text("reaches over the wood by 50")
    page.locator("#places [name=m0-y]").fill("40")
    page.get_by_role("button", name="Show it there").click()
    expect(page.locator("#figures .verdict")).to_contain_text("60")
    row = page.locator(".plate-row").first
    for name, typed in (("x", "0"), ("y", "0"), ("length", "200"), ("width", "100")):
        row.locator(f"[name=p0-{name}]").fill(typed)
    page.get_by_role("button", name="Keep the plates").click()
    expect(page.locator("#figures")).to_contain_text("Plate 1 lands in solid wood.")
    assert value(page, "m0-y") == 40.0
    page.get_by_label("Note").fill("By typing alone")
    page.get_by_role("button", name="Keep this layout").click()
    expect(page.get_by_text("By typing alone")).to_be_visible()
    assert LaidTop.objects.get().figures["hands"][0]["y_mm"] == 40.0
    page.get_by_role("button", name="Take it back").click()
    expect(page.get_by_text("The layout is taken back.")).to_be_visible()
    page.get_by_role("button", name="Put it back").click()
    expect(page.get_by_text("By typing alone")).to_be_visible()


def test_a_layout_of_a_changed_top_is_laid_anew_from_its_card(
    visit: Visit, ilse: Person, bench: tuple[Commission, Slab]
) -> None:
    commission, _ = bench
    visitor = at_bench(visit, ilse, *bench, size=PHONE, scheme="dark", bypass_csp=True)
    page = visitor.page
    page.get_by_role("button", name="The top on the slab: right").tap()
    expect(page.locator("#figures:not(.is-waiting) .verdict")).to_contain_text("It fits here")
    page.get_by_role("button", name="Keep this layout").tap()
    expect(page.locator("#laid .verdict")).to_contain_text("It fits here")
    visitor.expect_accessible()
    laid = LaidTop.objects.get().figures["hands"][0]["x_mm"]
    Commission.objects.filter(pk=commission.pk).update(top_width_mm=640)
    page.reload()
    expect(page.locator("#laid")).to_contain_text("The top has been changed since it was laid.")
    visitor.expect_accessible()
    visitor.expect_no_sideways_scroll()
    page.get_by_role("link", name="Lay it anew from where it was").tap()
    expect(page.get_by_role("status").first).to_contain_text("It lies here where it lay then")
    assert value(page, "m0-x") == pytest.approx(laid, abs=0.06)
    visitor.expect_accessible()
    page.get_by_role("button", name="Keep this layout").tap()
    expect(page.locator("#laid")).not_to_contain_text("has been changed")
    assert LaidTop.objects.current().get().top["width_mm"] == 640
